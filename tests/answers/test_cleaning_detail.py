"""The heavier estimates of cleaning success in the answer: counted by hand, and said why where there are none."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from pipelines.answers.cleaning_detail import SEVERITIES
from pipelines.estimates.pooled_share import pooled_share
from pipelines.estimates.proportion import wilson
from pipelines.estimates.standardised import standardised
from tests.answers.logs import Log
from tests.estimates.spells import table

HEAD = "job_id unit_id family stick received_on visit_reason finding action outcome failure_mechanism af_rest_offset_pct"


def jobs(*rows: str) -> str:
    """Return a jobs table: each row is `unit family stick action outcome mechanism reading`, found bad day after day."""
    lines = [HEAD]
    for place, row in enumerate(rows):
        unit, family, stick, action, outcome, mechanism, reading = row.split()
        day = f"2025-{1 + place // 28:02d}-{1 + place % 28:02d}"
        lines.append(f"J{place:03d} {unit} {family} {stick} {day} fault_report fault_confirmed {action} {outcome} "
                     f"{mechanism} {reading}")  # fmt: skip
    return "\n".join(lines)


def cleaned(family: str, passed: int, attempts: int, *, action: str = "clean_air", reading: str = "-") -> list[str]:
    """Return attempts of a family, each on a controller of its own."""
    return [
        f"{family}{action}{reading}{one} {family} S {action} {'pass' if one < passed else 'fail'} - {reading}"
        for one in range(attempts)
    ]


@pytest.fixture(scope="module")
def three(tmp_path_factory):
    """Three families: two with many attempts, one with two; Best passed more often, by the flush above all."""
    rows = [
        *cleaned("Best", 18, 24, action="clean_flush"), *cleaned("Best", 6, 12),
        *cleaned("Poor", 5, 20, action="clean_flush"), *cleaned("Poor", 2, 16), *cleaned("Rare", 2, 2),
    ]  # fmt: skip
    return Log(tmp_path_factory.mktemp("three"), jobs=jobs(*rows))


def test_families_borrow_from_each_other_and_are_ranked(three):
    best, poor, rare = three.ask("cleaning-success", by=["family"]).groups
    cells = table("family k n\n0 24 36\n1 7 36\n2 2 2").assign(method=0)
    for group, cell in zip((best, poor, rare), pooled_share(cells).cells, strict=True):
        assert group.pooled.because is None
        assert group.pooled.same_day == cell.share
    # two of two are drawn towards the others, whose limits stay about where they were
    assert rare.same_day.share == 1 > rare.pooled.same_day.estimate
    assert rare.pooled.same_day.low > rare.same_day.low - 0.1
    # (two of two may well be better than two of three)
    assert (best.pooled.place.low, best.pooled.place.high, rare.pooled.place.low) == (1, 2, 1)
    assert (poor.pooled.place.rank, poor.pooled.place.low, poor.pooled.place.high) == (3, 2, 3)
    assert poor.pooled.place.best_chance < 0.01


def test_a_depth_is_a_method_and_the_other_columns_are_the_family(three):
    groups = three.ask("cleaning-success", by=["depth", "family"]).groups
    cells = table("method family k n\n0 0 6 12\n0 1 2 16\n0 2 2 2\n1 0 18 24\n1 1 5 20")
    assert [(one.by["depth"], one.by["family"]) for one in groups] == [
        ("air", "Best"), ("air", "Poor"), ("air", "Rare"), ("flush", "Best"), ("flush", "Poor"),
    ]  # fmt: skip
    expected = [one.share for one in pooled_share(cells).cells]
    assert [one.pooled.same_day for one in groups] == expected
    reordered = three.ask("cleaning-success", by=["family", "depth"]).groups
    again = {(one.by["depth"], one.by["family"]): one.pooled.same_day.estimate for one in reordered}
    assert [again[one.by["depth"], one.by["family"]] for one in groups] == pytest.approx([one.estimate for one in expected])


@pytest.mark.parametrize("by", [[], ["depth"]])
def test_one_family_has_nobody_to_borrow_from(three, by):
    assert {one.pooled for one in three.ask("cleaning-success", by=by).groups} == {None}


def test_a_brief_answer_has_no_heavier_part(three):
    for group in three.ask("cleaning-success", by=["family"], is_brief=True).groups:
        assert (group.pooled, group.standardised, group.by_controller) == (None, None, None)
        assert "tried" not in group.sentence


def test_where_nobody_was_followed_the_others_tell_what_lasts_and_else_the_reason_stands(tmp_path):
    # Nolm is followed for two months; Late was cleaned on the last day
    rows = [*cleaned("Nolm", 8, 12), *cleaned("Late", 3, 3)]
    end = "\nJ999 Nolm8 Nolm S 2025-06-30 check no_fault_found test_only pass - -"
    log = Log(tmp_path, jobs=jobs(*rows) + end)
    late, nolm = log.ask("cleaning-success", by=["family"]).groups
    assert nolm.durable.share is not None
    assert late.pooled.durable.estimate is not None
    _, refused = log.ask("cleaning-success", by=["family"], clock="hours").groups
    assert refused.durable.because is not None
    assert (refused.pooled.durable.estimate, refused.pooled.durable.because) == (None, refused.durable.because)


@pytest.fixture(scope="module")
def severe(tmp_path_factory):
    """By hand: nine read 1 to 9 and one never; of the mild third all were cleaned, of the worst one of three."""
    rows = [
        *(f"M{one} Nolm S clean_air pass - {one}" for one in (1, 2, 3)),
        *(f"M{one} Nolm S clean_air {'pass' if one == 4 else 'fail'} - {one}" for one in (4, 5)),
        "M6 Nolm S test_only fail - 6", "M7 Nolm S clean_air fail - 7",
        *(f"M{one} Nolm S test_only fail - {one}" for one in (8, 9)),
    ]  # fmt: skip
    return Log(tmp_path_factory.mktemp("severe"), jobs=jobs(*rows))


def test_success_had_all_been_cleaned_is_weighed_by_the_severity_of_all(severe):
    (group,) = severe.ask("cleaning-success").groups
    part = group.standardised
    assert (part.failures, part.tried, part.tried_share, part.because) == (9, 6, pytest.approx(6 / 9), None)
    assert group.same_day.share == pytest.approx(4 / 6)
    assert part.standardised.estimate == pytest.approx((1 + 1 / 2 + 0) / 3)
    assert part.lowest.estimate == pytest.approx((1 + 1 / 3 + 0) / 3)
    assert part.borrowed_share == 0
    assert group.sentence.endswith("Of sticks that were tried: 67\u00a0% of all found bad.")


def test_bands_of_severity_take_most_of_the_bias_away():
    """The milder are tried more often, also within a tenth. 40 fleets of 900 failures, held against what they were made from.

    The plain share flatters. Of that at most a third may stay, and the truth lies between the lowest share and the plain one.
    """
    off = []
    for seed in range(4100, 4140):
        rng = np.random.default_rng(seed)
        severity = rng.normal(0, 1, 900)
        chance = 1 / (1 + np.exp(1.5 * severity - 0.4))
        is_tried = rng.random(900) < 1 / (1 + np.exp(2.0 * severity - 1.2))
        read = severity + rng.normal(0, 0.2, 900)
        band = np.array(SEVERITIES)[np.argsort(np.argsort(read)) // 90]
        failures = pd.DataFrame({"band": band, "is_tried": is_tried, "is_passed": is_tried & (rng.random(900) < chance)})
        (one,) = standardised(failures.assign(failure_count=1), by=[], band="band", ranked=SEVERITIES)
        off.append([part - chance.mean() for part in (one.plain.share, one.standardised.estimate, one.lowest.estimate)])
    plain, left, lowest = np.mean(off, axis=0)
    # a plain share that did not flatter would lie within 3.3 standard errors
    assert plain > 3.3 * np.std([one[0] for one in off], ddof=1) / len(off) ** 0.5
    assert abs(left) < plain / 3
    assert lowest < 0 < plain


def test_a_column_known_of_cleans_only_has_no_standardised_share(severe):
    for words in ({"by": ["depth"]}, {"by": ["mechanism"]}, {"where": {"attempt_number": ["1"]}}):
        for group in severe.ask("cleaning-success", **words).groups:
            assert group.standardised is None
            assert "tried" not in group.sentence


def test_severities_that_a_group_never_cleaned_are_a_reason(tmp_path):
    rows = [*(f"M{one} Nolm S clean_air pass - {one}" for one in (1, 2, 3)),
            *(f"M{one} Nolm S test_only fail - {one}" for one in range(4, 10)), "O1 Other S test_only fail - 5"]  # fmt: skip
    groups = Log(tmp_path, jobs=jobs(*rows)).ask("cleaning-success", by=["family"]).groups
    assert [one.by["family"] for one in groups] == ["Nolm"]
    part = groups[0].standardised
    assert (part.failures, part.tried, part.because) == (9, 3, "untried_bands")
    assert (part.standardised.estimate, part.lowest.estimate) == (None, None)


def test_sticks_of_one_controller_that_go_alike_widen_the_limits(tmp_path):
    rows = [f"P{one} Nolm {stick} clean_air {'pass' if one % 2 else 'fail'} - -" for one in range(10) for stick in "LR"]
    (group,) = Log(tmp_path, jobs=jobs(*rows)).ask("cleaning-success").groups
    part = group.by_controller
    # both sticks always go together: ten controllers tell as much as ten attempts, corrected by 10/9
    assert (part.controllers, part.because, part.share.estimate) == (10, None, 0.5)
    assert part.design_effect == pytest.approx(2 * 10 / 9)
    plain = wilson(10, 20, level=0.95)
    assert part.share.low < plain.low
    assert part.share.high > plain.high
    assert (part.b10, part.median) == (None, None)


def test_one_controller_has_no_limits_of_its_own(tmp_path):
    (group,) = Log(tmp_path, jobs=jobs(*(f"P1 Nolm {stick} clean_air pass - -" for stick in "LR"))).ask("cleaning-success").groups
    assert (group.by_controller.because, group.by_controller.controllers) == ("too_few_clusters", 1)
    assert (group.by_controller.share.estimate, group.by_controller.share.low) == (1, None)


def test_nothing_cleaned_gives_reasons_and_no_numbers(tmp_path):
    log = Log(tmp_path, jobs=jobs("A1 Nolm S test_only fail - 5"))
    (group,) = log.ask("cleaning-success").groups
    assert (group.pooled, group.by_controller.because, group.standardised.because) == (None, "no_attempts", "no_attempts")
    assert (group.standardised.failures, group.standardised.tried) == (1, 0)
    assert log.ask("cleaning-success", by=["family"]).groups == []
    json.dumps(log.ask("cleaning-success").to_dict(), allow_nan=False)
    (nobody,) = log.ask("cleaning-success", where={"family": ["Nobody"]}).groups
    assert (nobody.standardised.failures, nobody.standardised.tried_share) == (0, None)
