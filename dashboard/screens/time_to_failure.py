"""How long do stick modules last until they first drift?"""

import streamlit as st

from dashboard import source
from dashboard.parts import evidence, text
from dashboard.parts.filters import filters, in_words
from dashboard.parts.more import more
from dashboard.parts.verdict import verdict
from pipelines.vocabulary import Question

st.title("Time to failure")
chosen = filters(Question.TIME_TO_FAILURE)
answer = source.answer(Question.TIME_TO_FAILURE, by=chosen.by, clock=chosen.clock, where=chosen.where)
verdict(answer)
text.quiet(in_words(chosen))
evidence.curves(answer)
evidence.unknown_age(answer)
evidence.groups_table(answer)
more(Question.TIME_TO_FAILURE, chosen, answer)
evidence.left_out(answer)
evidence.method(answer)
