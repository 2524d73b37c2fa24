"""How many modules and spare controllers to keep."""

import streamlit as st

from dashboard import source
from dashboard.parts import outlook
from dashboard.parts.costs import costs
from pipelines.answers.lot_money import Source

#: What the shelf depends on.
ASKED = ("lead_time_days", "fill_chance", "turnaround_days")

st.title("What to keep on the shelf")
plain = source.shelf(source.settings())
away = Source("turnaround_days", "record", plain.turnaround_days, plain.turnaround_jobs, [])
known = [away] if plain.turnaround_origin == "record" else []
settings = costs(ASKED, sources=known, missing=plain.asked_for, currency=None, heading="Your other numbers")
answer = source.shelf(settings)
outlook.verdict(answer)
outlook.shelf_evidence(answer)
