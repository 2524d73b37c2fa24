"""Data that mislead are named before findings."""

from dataclasses import replace

import pytest

from pipelines.decisions.next_look import Look, Standing, next_look
from pipelines.wording.standing_out import next_words

SOUND = Standing(
    set_aside_share=0.01, is_lifetime_refused=False, has_early_units=False, is_in_days_for_want_of_hours=False,
    unknown_age_share=0.1, is_family_apart=False,
)  # fmt: skip
EVERYTHING = Standing(
    set_aside_share=0.2, is_lifetime_refused=True, has_early_units=True, is_in_days_for_want_of_hours=True,
    unknown_age_share=0.9, is_family_apart=True,
)  # fmt: skip


@pytest.mark.parametrize(
    ("change", "look"),
    [
        ({}, Look.DEPTH),
        ({"set_aside_share": 0.06}, Look.SET_ASIDE),
        ({"is_lifetime_refused": True}, Look.NO_REGISTER),
        ({"has_early_units": True}, Look.EARLY_REGISTER),
        ({"is_in_days_for_want_of_hours": True}, Look.PLAY_HOURS),
        ({"unknown_age_share": 0.6}, Look.UNKNOWN_AGE),
        ({"is_family_apart": True}, Look.WORST_FAMILY),
    ],
)
def test_each_thing_is_named_when_it_stands_alone(change, look):
    assert next_look(replace(SOUND, **change)) is look


def test_rows_set_aside_come_before_everything():
    assert next_look(EVERYTHING) is Look.SET_ASIDE


@pytest.mark.parametrize("look", list(Look))
def test_every_thing_has_its_sentence(look):
    assert next_words(look, family="Corvath").endswith(".")
