"""How long does a passed clean hold until the drift is back?"""

import streamlit as st

from dashboard import source
from dashboard.parts import evidence, text
from dashboard.parts.filters import filters, in_words
from dashboard.parts.more import more
from dashboard.parts.verdict import verdict
from pipelines.vocabulary import Question

st.title("Recurrence after cleaning")
chosen = filters(Question.RECURRENCE, split_by=("depth",))
answer = source.answer(Question.RECURRENCE, by=chosen.by, clock=chosen.clock, where=chosen.where)
verdict(answer)
text.quiet(in_words(chosen))
evidence.curves(answer)
evidence.groups_table(answer)
more(Question.RECURRENCE, chosen, answer)
evidence.left_out(answer)
evidence.method(answer)
evidence.cautions()
