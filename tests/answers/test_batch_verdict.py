"""Batch verdicts of small logs made by hand: every kind of bad input, sentences, the page of the JSON, text and tables."""

from __future__ import annotations

import json
import re
from dataclasses import fields

import pytest

from pipelines import warehouse
from pipelines.answers import ask
from pipelines.answers.batch_verdict_record import BatchRow, BatchVerdictAnswer, SupplierRow, SupplierView
from pipelines.answers.batch_verdict_text import batch_verdict_csv, batch_verdict_text, batches_table, left_out_table
from pipelines.charts.batch_verdict import batches_figure, drawn
from pipelines.errors import SettingError
from pipelines.estimates.study_plan import needed_if_known
from pipelines.vocabulary import BatchVerdict, Because, SupplierVerdict
from tests.answers.logs import EXACT, Log
from tests.answers.made_batches import Bench
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet

#: Ages at which modules of an ordinary batch fail, and of a bad one.
FEW, MANY = range(20, 340, 32), range(3, 123, 3)


def asked(log: Log, **words: object) -> BatchVerdictAnswer:
    settings = EXACT.overlaid(words.pop("settings", {}))
    with warehouse.reading(log.path) as connection:
        answer = ask("batch-verdict", connection, settings=settings, **words)
    said = [batch_verdict_text(answer), answer.sentence, *answer.warnings, *(row.sentence for row in answer.batches)]
    assert not re.search(r"\b(nan|None|inf|NaN|NaT|null)\b", "\n".join(said)), said
    json.dumps(answer.to_dict(), allow_nan=False)
    return answer


def row(answer: BatchVerdictAnswer, batch: str) -> BatchRow:
    return next(one for one in answer.batches if one.batch == batch)


def bench() -> Bench:
    """One bad batch among two ordinary ones of the same day and place."""
    return Bench().fit("B1", good=40, failed=FEW).fit("B2", good=40, failed=FEW).fit("B3", good=10, failed=MANY)


def test_a_bad_batch_is_named_with_its_ratio_and_does_not_make_the_others_look_good(tmp_path):
    answer = asked(bench().log(tmp_path))
    bad, good = row(answer, "B3"), row(answer, "B1")
    assert answer.batches[0] is bad
    assert (bad.verdict, bad.modules, bad.failures, bad.observed) == (BatchVerdict.WORSE, 50, 40, 40)
    assert bad.ratio.low > 3
    assert answer.sentence.startswith(f"Batch B3 fails {bad.ratio.estimate:.1f} times as often as others at the same age")
    assert (good.is_reference, bad.is_reference) == (True, False)
    assert good.verdict is not BatchVerdict.BETTER
    assert good.ratio.low < 1 < good.ratio.high
    assert answer.counts["worse"] == 1
    assert bad.b10.estimate < good.b10.estimate
    # three compared, one named: the next one would be named at a p-value of 10 % · 2 / 3, but its limits want 5 % two-sided
    assert answer.needed == needed_if_known(2.0, false_alarm=0.025) == 12


def test_too_young_is_not_good_and_says_what_it_takes(tmp_path):
    answer = asked(Bench().fit("B1", good=30, failed=FEW).fit("B2", good=9, failed=[40]).log(tmp_path))
    young = row(answer, "B2")
    assert young.verdict is BatchVerdict.CANNOT_TELL
    assert young.more_failures > 5
    assert young.more_months > 1
    assert "cannot be told yet" in young.sentence
    assert "at its pace" in young.sentence
    assert "not shown to differ" not in young.sentence


def test_failures_over_those_of_others_are_the_ratio_that_is_told(tmp_path):
    for one in asked(bench().log(tmp_path)).batches:
        assert one.observed / one.expected == pytest.approx(one.ratio.estimate)
        assert f"others of its age would have had {one.expected:,.1f}" in one.sentence


def test_modules_in_service_are_not_said_to_be_out_of_view(tmp_path):
    """30 of B1 still hold at an age at which no module of either batch has failed."""
    answer = asked(
        Bench().fit("B1", good=30, failed=FEW).fit("B2", good=30, failed=FEW).log(tmp_path), settings={"quiet_lag_days": 21}
    )
    one = row(answer, "B1")
    assert (one.watched, one.more_months) == (30, None)
    assert "no other has failed at the age of those still watched" in one.sentence


def test_limits_without_one_that_luck_may_explain_are_said_to_be_so(tmp_path):
    made = Bench().fit("B0", good=40, failed=[*FEW, *range(25, 340, 28)])
    for number in range(1, 12):
        made.fit(f"B{number}", good=50, failed=FEW)
    answer = asked(made.log(tmp_path), settings={"batch_ratio": 5.0, "false_discovery": 0.001})
    one = row(answer, "B0")
    assert (one.verdict, one.ratio.low > 1) == (BatchVerdict.NOT_SHOWN, True)
    assert one.sentence.endswith("With so many batches looked at, that may be luck.")


def test_a_batch_that_is_not_compared_shows_all_its_failures_and_no_expected_ones(tmp_path):
    answer = asked(Bench().fit("B1", good=30, failed=FEW, site="south").fit("B2", good=9).fit("B3", good=9).log(tmp_path))
    line = next(line.split() for line in batch_verdict_text(answer).splitlines() if line.startswith("B1 "))
    assert line[:7] == ["B1", "–", "10", "40", "–", "–", "–"]


def test_a_batch_without_failures_has_an_upper_limit_alone(tmp_path):
    answer = asked(Bench().fit("B1", good=30, failed=FEW).fit("B2", good=12).log(tmp_path))
    none = row(answer, "B2")
    assert (none.observed, none.ratio.estimate, none.ratio.low) == (0, 0.0, 0.0)
    assert none.ratio.high > 0.3
    assert "0 failures where others of its age would have had 2.5" in none.sentence
    assert none.b10_from == "shared_shape"


def test_a_batch_of_which_all_failed_is_still_judged(tmp_path):
    answer = asked(Bench().fit("B1", good=30, failed=FEW).fit("B2", failed=range(2, 14)).log(tmp_path))
    assert row(answer, "B2").verdict is BatchVerdict.WORSE


def test_one_batch_only_is_refused(tmp_path):
    answer = asked(Bench().fit("B1", good=10, failed=FEW).log(tmp_path))
    assert (answer.because, row(answer, "B1").because) == (Because.ONE_BATCH, Because.ONE_BATCH)
    assert "only one batch" in answer.sentence
    assert row(answer, "B1").b10.estimate > 0


def test_no_batch_at_all_is_refused(tmp_path):
    answer = asked(Bench().log(tmp_path))
    assert (answer.because, answer.batches) == (Because.NO_SPELLS, [])


def test_a_batch_that_is_all_at_a_site_of_its_own_cannot_be_told_from_the_site(tmp_path):
    made = Bench().fit("B1", good=20, failed=FEW).fit("B2", good=20, failed=FEW).fit("B3", good=5, failed=MANY, site="south")
    answer = asked(made.log(tmp_path))
    assert (row(answer, "B3").because, row(answer, "B3").verdict) == (Because.BATCH_IS_SITE, None)
    assert "batch and site cannot be told apart" in row(answer, "B3").sentence
    assert answer.counts["not_compared"] == 1


def test_another_family_at_the_same_site_is_no_comparison(tmp_path):
    made = Bench().fit("B1", good=20, failed=FEW).fit("B2", good=20, failed=FEW).fit("B3", failed=MANY, family="Velm")
    assert row(asked(made.log(tmp_path)), "B3").because is Because.NO_COMPARISON


def test_a_batch_named_only_when_it_comes_in_has_no_denominator_until_its_stock_is_counted(tmp_path):
    deliveries = "B1 Aldermoor 2024-12-01 60 -\nB9 Tarnside 2025-01-14 40 -"
    log = Bench().fit("B1", good=40, failed=FEW).find("B9", 18).log(tmp_path, deliveries)
    answer = asked(log)
    # (one batch with a denominator is no comparison either, but that is not what is wrong with B9)
    only = row(
        asked(Bench().fit("B1", good=20).fit("B2", good=20, failed=FEW).find("B9", 18).log(tmp_path / "two", deliveries)), "B9"
    )
    assert (only.because, only.found_only, only.verdict) == (Because.NO_DENOMINATOR, 18, None)
    assert any("Write the batch down when a module is fitted" in one for one in answer.warnings)
    counted = row(asked(log, case={"stock": "B9:20"}), "B9")
    # 20 went out and 18 came in; by the end 10 of 50 others had failed
    assert counted.at_least.estimate == pytest.approx(18 / (20 * 10 / 50), rel=0.1)
    assert counted.at_least.low > 2
    assert counted.at_least.high is None
    with pytest.raises(SettingError, match="cannot be in stock"):
        asked(log, case={"stock": "B9:35"})
    with pytest.raises(SettingError, match="no batch"):
        asked(log, case={"stock": "B8:35"})
    with pytest.raises(SettingError, match="B1 is compared by its 50 modules"):
        asked(log, case={"stock": "B1:5"})
    with pytest.raises(SettingError) as wrong:
        asked(log, case={"stock": "B9"})
    assert wrong.value.remedy.startswith("Write Batch:20,Other:5")


def test_a_filter_that_the_log_does_not_have_is_named(tmp_path):
    answer = asked(bench().log(tmp_path), where={"site": ["Nowhere"]})
    assert answer.warnings[0].startswith("The log has no site 'Nowhere'.")
    assert answer.because is Because.NO_SPELLS


def test_a_mixed_bin_is_compared_but_nothing_is_held_against_it(tmp_path):
    deliveries = "B1 Aldermoor 2024-12-01 60 no\nB2 Aldermoor 2024-12-01 60 no\nB3 Tarnside 2024-12-01 60 yes"
    answer = asked(bench().log(tmp_path, deliveries))
    mixed = row(answer, "B3")
    assert (mixed.verdict, mixed.is_mixed, mixed.is_reference) == (BatchVerdict.WORSE, True, False)
    assert "true ratio lies further from 1" in mixed.sentence
    assert any("Bins were mixed" in one for one in answer.warnings)


def test_unknown_and_double_codes_and_dates_that_cannot_be_are_said(tmp_path):
    deliveries = "B1 Aldermoor 2025-06-01 60 no\nB2 Aldermoor 2024-12-01 60 no"
    answer = asked(Bench().fit("B1", good=20, failed=FEW).fit("b-1", good=20, failed=FEW).log(tmp_path, deliveries))
    said = "\n".join(answer.warnings)
    assert "count as different batches: B1 and b-1" in said
    assert "1 batch fitted without a delivery on record: b-1" in said
    assert "30 modules fitted before the batch was received" in said
    assert row(answer, "b-1").same_code_as == "B1"
    assert (row(answer, "B2").because, row(answer, "B2").received) == (Because.NO_SPELLS, 60)


def test_a_chosen_reference_stands_alone_and_others_are_held_against_it(tmp_path):
    answer = asked(bench().log(tmp_path), case={"reference": "b3"})
    assert (answer.reference, row(answer, "B3").verdict, row(answer, "B3").is_reference) == ("B3", None, True)
    assert answer.suppliers.because is Because.NOT_GIVEN
    assert row(answer, "B1").verdict is BatchVerdict.BETTER
    assert "what the others are held against" in row(answer, "B3").sentence
    with pytest.raises(SettingError, match="no batch"):
        asked(bench().log(tmp_path / "again"), case={"reference": "B4"})


def test_filters_narrow_and_grouping_is_refused(tmp_path):
    log = bench().log(tmp_path)
    narrowed = asked(log, where={"batch": ["B1", "B2"]})
    assert narrowed.counts["worse"] == 0
    with pytest.raises(SettingError, match="no column 'family' for --by"):
        asked(log, by=["family"])


def test_one_bad_batch_of_two_suppliers_is_told_from_a_bad_supplier(tmp_path):
    made = Bench()
    for batch in ("B1", "B2", "B3", "B4", "B5", "B6"):
        made.fit(batch, good=20, failed=FEW)
    made.fit("B7", good=5, failed=MANY)
    names = {"B1": "Aldermoor", "B2": "Aldermoor", "B3": "Aldermoor"}
    rows = "\n".join(f"B{one} {names.get(f'B{one}', 'Tarnside')} 2024-12-01 60 no" for one in range(1, 8))
    view = asked(made.log(tmp_path, rows)).suppliers
    verdicts = {one.supplier: one.verdict for one in view.rows}
    assert verdicts["Tarnside"] in (SupplierVerdict.BATCHES, SupplierVerdict.WORSE)
    assert view.rows[0].worse == ["B7"]
    assert "B7" in view.sentence or "Tarnside" in view.sentence
    same = asked(bench().log(tmp_path / "one")).suppliers
    assert (same.because, same.rows) == (Because.ONE_SUPPLIER, [])


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    with loaded_fleet(20_000, 7, tmp_path_factory.mktemp("fleet"), easy=False) as (_, connection):
        return ask("batch-verdict", connection)


def test_the_bad_batch_of_the_example_is_found_and_no_other_is_called_worse(made):
    # UC-09 fails three times as often (example_data/truth.json)
    assert [one.batch for one in made.batches if one.verdict is BatchVerdict.WORSE] == ["UC-09"]
    assert row(made, "UC-09").ratio.low < 3 < row(made, "UC-09").ratio.high
    assert row(made, "UC-09").rank_high <= 5
    assert made.suppliers.rows[0].worse == ["UC-09"]
    assert made.suppliers.rows[0].verdict is SupplierVerdict.BATCHES


def test_the_page_holds_the_keys_of_the_record(made):
    title = "`batch-verdict`"
    listed, plain = keys(title), made.to_dict()
    assert set(plain) <= listed
    for part in (BatchRow, SupplierRow, SupplierView):
        assert {one.name for one in fields(part)} <= listed | inside(title, "suppliers")
    assert set(plain["left_out"]) <= inside(title, "left_out")
    assert set(plain["counts"]) == inside(title, "counts")
    assert {one["because"] for one in plain["batches"]} - {None} <= keys("`because`")


def test_text_tables_and_picture_hold_the_batches(made):
    text, csv = batch_verdict_text(made), batch_verdict_csv(made)
    assert made.sentence.split("(")[0].strip() in " ".join(text.split())
    assert csv.count("\n") == 1 + len(made.batches)
    assert batches_table(made)["batch"].tolist() == [one.batch for one in made.batches]
    assert left_out_table(made)["count"].sum() > 0
    shown = drawn(made)
    figure = batches_figure(made)
    assert sum(len(one.x) for one in figure.data if one.mode == "markers") == len(shown)
    assert [one.name for one in figure.data if one.mode == "lines" and one.showlegend] == ["to be noticed: 2 times"]
    assert figure.layout.yaxis.ticktext[0] == max(shown, key=lambda one: one.ratio.estimate or 0).batch


def test_a_supplier_beside_which_no_other_stands_is_named(tmp_path):
    made = bench().fit("B4", good=20, failed=FEW, family="Tarrow")
    names = ("Aldermoor", "Aldermoor", "Tarnside", "Fenholt")
    rows = "\n".join(f"B{one} {name} 2024-12-01 60 no" for one, name in enumerate(names, 1))
    view = asked(made.log(tmp_path, rows)).suppliers
    assert {one.supplier for one in view.rows} == {"Aldermoor", "Tarnside"}
    assert view.sentence.endswith("Not compared: Fenholt, beside whose modules none of another supplier stand.")


def test_a_brief_answer_leaves_suppliers_out(tmp_path):
    assert asked(bench().log(tmp_path), is_brief=True).suppliers.because is Because.NOT_GIVEN
