"""Supplier batches against others of the same age: which are worse, how sure, and is it one batch or the supplier."""

import streamlit as st

from dashboard import source
from dashboard.parts import batches

st.title("Batches compared")
where, case = batches.asked()
answer = source.batch_verdict(where, case)
batches.verdict(answer)
batches.forest(answer)
batches.suppliers(answer)
batches.exports(answer)
