"""How many sold units come back by when, and how long a warranty can be given."""

import streamlit as st

from dashboard import source
from dashboard.parts import returns
from dashboard.parts.costs import costs

#: What turns returns into a warranty.
ASKED = ("return_cost", "accepted_warranty_cost", "warranty_days")

st.title("Warranty")
record, by = source.lots(), returns.split()
lacking = source.warranty((), source.settings()).asked_for
found = source.lot_costs(record.families).sources if record.families else []
settings = costs(ASKED, sources=found, missing=lacking, currency=record.currency)
answer = source.warranty(by, settings)
returns.verdict(answer)
returns.evidence(answer)
