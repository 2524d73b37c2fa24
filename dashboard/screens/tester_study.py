"""How much of the spread of readings is the tester, and what that does to pass and fail."""

import streamlit as st

from dashboard import source
from dashboard.parts import tester_study

st.title("Is it the tester?")
answer = source.tester_study(tester_study.asked(source.tester_study({})))
tester_study.verdict(answer)
tester_study.evidence(answer)
