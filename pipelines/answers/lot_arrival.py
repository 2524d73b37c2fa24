"""The lot as it came: how many units of each family are at hand where fewer came than were bought, and what to do with it."""

from __future__ import annotations

from dataclasses import replace

from pipelines.answers.lot_case import LotCase
from pipelines.decisions.lot_test import ArrivalAdvice
from pipelines.vocabulary import StatedCondition
from pipelines.wording.lots import arrival_sentence


def at_hand(case: LotCase) -> LotCase:
    """Return the case with the units at hand as its mix: those that came, or all of the lot where nothing is said of that.

    Units tested came. The missing ones are taken from the untested units of each family alike: largest remainders, the family
    named first where they tie. A family of which no unit is left is not in the mix.
    """
    if case.received is None or case.received == case.units:
        return case
    untested = {family: count - case.tested.get(family, 0) for family, count in case.mix.items()}
    room, came = sum(untested.values()), case.received - case.tested_count
    mix, rests = {}, {}
    for family, count in untested.items():
        whole, rests[family] = divmod(came * count, room)
        mix[family] = case.tested.get(family, 0) + whole
    for family in sorted(rests, key=rests.get, reverse=True)[: case.received - sum(mix.values())]:
        mix[family] += 1
    return replace(case, mix={family: count for family, count in mix.items() if count})


def arrival_said(one: ArrivalAdvice, case: LotCase, currency: str | None) -> str:
    """Say what to do with the lot that came."""
    return arrival_sentence(
        one.action, one.why, one.missing_count, one.missing_claim, currency,
        is_said_to_work=case.condition == StatedCondition.WORKING and case.stated_good_share is None,
        is_all_missing=case.received == 0,
    )  # fmt: skip
