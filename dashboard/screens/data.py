"""What was loaded, what was set aside and why, which columns are there, and what they mean."""

import streamlit as st

from dashboard import source
from dashboard.parts import intake, text
from dashboard.parts.finding import set_aside_sentence, size_sentence

st.title("Data")
text.lead(size_sentence(source.overview()))
st.subheader("What each load took in")
text.paragraph(set_aside_sentence())
intake.ledger(source.ledger())
st.subheader("Set aside, and why")
intake.set_aside(source.set_aside())
st.subheader("Columns")
intake.columns(source.loaded_columns())
st.subheader("Settings in force")
intake.settings(source.settings())
