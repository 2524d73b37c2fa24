"""Whether to clean ahead of faults, and how often."""

import streamlit as st

from dashboard import source
from dashboard.parts import cleaning_plan, planned
from dashboard.parts.costs import costs
from dashboard.parts.evidence import cautions
from pipelines.answers.cleaning_money import INTERVAL_COSTS

st.title("Planned cleaning")
by, depth = planned.asked()
found = source.planned_cleaning(by, depth, source.settings())
settings = costs(INTERVAL_COSTS, sources=found.sources, missing=found.asked_for, currency=found.currency)
answer = source.planned_cleaning(by, depth, settings)
planned.verdict(answer)
planned.evidence(answer)
cleaning_plan.plan(answer, settings)
cautions()
