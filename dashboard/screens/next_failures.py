"""Which sticks will fail next, and what the coming 13 weeks bring."""

import streamlit as st

from dashboard import source
from dashboard.parts import outlook

st.title("What will fail next")
answer = source.next_failures()
outlook.verdict(answer)
outlook.next_evidence(answer)
