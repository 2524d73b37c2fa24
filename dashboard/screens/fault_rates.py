"""Which seat, site, side or technician has more faults than luck explains, and which controller to retire."""

import streamlit as st

from dashboard import source
from dashboard.parts import places
from dashboard.parts.costs import costs
from dashboard.parts.evidence import cautions

#: What turns faults into a decision on a controller.
ASKED = ("unit_price", "fault_cost", "keep_weeks")

st.title("Which seat eats sticks")
told = source.fault_rates(source.settings())
places.verdict(told)
places.comparisons(told)
st.subheader("Same controller again and again: retire it?")
settings = costs(ASKED, sources=[], missing=told.asked_for, currency=told.currency)
answer = source.fault_rates(settings)
places.repeated(answer)
places.exports(answer)
cautions()
