"""All that the log says of one supplier batch, as a pack to give out of the house."""

import streamlit as st

from dashboard.parts import batch_exhibit

st.title("Evidence pack")
row, has_notes = batch_exhibit.asked()
if row is not None:
    batch_exhibit.verdict(row, has_notes=has_notes)
    batch_exhibit.pack(row, has_notes=has_notes)
batch_exhibit.method()
