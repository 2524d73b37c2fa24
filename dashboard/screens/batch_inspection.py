"""What incoming inspection found in batches, against its plan, its tester and the field; and plans for a delivery to come."""

import streamlit as st

from dashboard import source
from dashboard.parts import batch_inspection

st.title("Incoming inspection")
answer = source.batch_inspection({})
batch_inspection.verdict(answer)
batch_inspection.evidence(answer)
case = batch_inspection.asked_plan()
if case:
    batch_inspection.plans(source.batch_inspection(case))
batch_inspection.method()
