"""What does a clean give back, by its depth, and how many hold?"""

import streamlit as st

from dashboard import source
from dashboard.parts import evidence, text
from dashboard.parts.filters import filters, in_words
from dashboard.parts.verdict import warnings
from pipelines.vocabulary import Question
from pipelines.wording import realism, restoration
from pipelines.wording.label import label

st.title("What a clean gives back")
chosen = filters(Question.RESTORATION, split_by=())
answer = source.answer(
    Question.RESTORATION, by=chosen.by, clock=chosen.clock, where=chosen.where, horizon=chosen.horizon, is_brief=False
)
is_split = len({group.sentence for group in answer.groups}) > 1
if is_split:
    text.lead(restoration.groups_sentence([[one.restoration_share for one in group.effects] for group in answer.groups]))
else:
    text.lead_and_rest(answer.sentence)
warnings(answer)
text.quiet(in_words(chosen))
evidence.restoration(answer)
if is_split:
    with st.expander(f"Each group in words ({len(answer.groups)})"):
        text.listed((label(group.by), group.sentence) for group in answer.groups)
text.quiet(realism.note(Question.RESTORATION))
evidence.left_out(answer)
evidence.method(answer)
evidence.cautions()
