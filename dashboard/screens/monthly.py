"""A month of the floor for its owner."""

import streamlit as st

from dashboard import source
from dashboard.parts import month
from dashboard.parts.costs import costs
from pipelines.answers.monthly_money import MONTH_COSTS

st.title("Month")
case = month.asked()
found = source.month(case, source.settings())
settings = costs(MONTH_COSTS, sources=found.sources, missing=found.asked_for, currency=found.currency)
answer = source.month(case, settings)
month.verdict(answer)
month.evidence(answer)
month.method()
