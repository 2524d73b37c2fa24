"""What kind of worse a supplier batch is: early or worn out sooner, from which age, of which mechanism."""

import streamlit as st

from dashboard import source
from dashboard.parts import batch_pattern

st.title("What kind of worse")
case = batch_pattern.asked()
if case:
    answer = source.batch_pattern(case)
    batch_pattern.verdict(answer)
    batch_pattern.curves(answer)
    batch_pattern.mechanisms(answer)
    batch_pattern.exports(answer)
