"""What goes with failing sooner: several columns compared at once."""

import streamlit as st

from dashboard import source
from dashboard.parts import evidence, text
from dashboard.parts.filters import filters, in_words
from dashboard.parts.verdict import warnings
from pipelines.vocabulary import Question
from pipelines.wording import realism

st.title("What goes with failing sooner")
chosen = filters(Question.FACTORS, split_by=(), is_compared=True)
answer = source.answer(Question.FACTORS, by=chosen.by, clock=chosen.clock, where=chosen.where, is_brief=False)
text.lead("Several columns are compared at once, each at like values of the others. What goes together need not be the cause.")
warnings(answer)
text.quiet(in_words(chosen))
for group in answer.groups:
    evidence.factors(answer, group)
text.quiet(realism.note(Question.FACTORS))
evidence.left_out(answer)
evidence.method(answer)
