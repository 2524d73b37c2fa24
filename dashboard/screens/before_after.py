"""Are there fewer faults since a programme began?"""

import streamlit as st

from dashboard import source
from dashboard.parts import before_after

st.title("Did it work?")
case = before_after.asked()
if case:
    answer = source.program(case)
    before_after.verdict(answer)
    before_after.evidence(answer)
before_after.method()
