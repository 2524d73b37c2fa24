"""Does cleaning work, and does it hold?"""

import streamlit as st

from dashboard import source
from dashboard.parts import evidence, text
from dashboard.parts.filters import filters, in_words
from dashboard.parts.more import more
from dashboard.parts.verdict import verdict
from pipelines.vocabulary import Question

st.title("Cleaning success")
chosen = filters(Question.CLEANING_SUCCESS)
answer = source.answer(Question.CLEANING_SUCCESS, by=chosen.by, clock=chosen.clock, where=chosen.where, horizon=chosen.horizon)
verdict(answer)
text.quiet(in_words(chosen))
evidence.shares(answer)
evidence.groups_table(answer)
more(Question.CLEANING_SUCCESS, chosen, answer)
evidence.left_out(answer)
evidence.method(answer)
evidence.cautions()
