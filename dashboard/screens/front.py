"""What stands out in this fleet, each finding with the screen that shows it."""

import streamlit as st

from dashboard import source
from dashboard.parts import evidence, text
from dashboard.parts.finding import batches, cleaning, intake, lifetimes, next_step, recurrence, size_sentence

st.title("What stands out")
text.lead(size_sentence(source.overview()))
cleaning()
lifetimes()
recurrence()
batches()
intake()
next_step()
st.subheader("Before you work on a controller")
st.markdown(evidence.help_text("cautions"))
