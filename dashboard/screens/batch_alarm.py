"""When a watch kept from the first day would have raised the alarm over a supplier batch."""

import streamlit as st

from dashboard import source
from dashboard.parts import batch_alarm

st.title("Early alarm")
usual = source.batch_alarm({}, source.settings())
case, settings = batch_alarm.asked(sorted((one.batch for one in usual.batches), key=str.casefold), usual.shown)
answer = source.batch_alarm(case, settings)
batch_alarm.verdict(answer)
batch_alarm.evidence(answer)
batch_alarm.method()
