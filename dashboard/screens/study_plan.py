"""How many modules and how long it takes to see that a batch is worse; tests that show how long modules last."""

import streamlit as st

from dashboard import source
from dashboard.parts import study_plan
from pipelines.errors import SettingError

st.title("Plan a study")
by, where, case = study_plan.asked()
try:
    answer = source.study_plan(by, where, case)
except SettingError as error:
    raise study_plan.in_words(error) from error
study_plan.verdict(answer)
study_plan.study(answer)
study_plan.life_test(answer)
study_plan.method(answer)
