"""Incoming inspection as an answer: decisions against plans, contradictions, charts, tester, field, and the page."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from pipelines import warehouse
from pipelines.answers.batch_inspection import InspectionFacts, inspection_facts, inspection_of
from pipelines.answers.batch_inspection_record import BatchInspection
from pipelines.answers.batch_inspection_text import inspection_csv, inspection_text, shown_rows
from pipelines.answers.question import Asked, asked
from pipelines.errors import SettingError
from pipelines.estimates.inspected_field import field_trend
from pipelines.vocabulary import Because
from pipelines.wording.batch_inspection import chart_sentence
from tests.answers.logs import EXACT, Log, register, reports
from tests.answers.repeat_studies import HEAD, LIMITS, made
from tests.answers.test_contract import inside, keys
from tests.pipeline.made_fleet import loaded_fleet
from tests.published.cases import load_case

INSPECTED = "batch_id inspected_on n nonconforming aql ac decision characteristic"
DELIVERED = "batch_id supplier part_type received_on qty unit_cost"


def facts(folder, rows: list[str], *, delivered: list[str] | None = None, study: list[str] | None = None) -> InspectionFacts:
    tables = {"batch_inspections": "\n".join([INSPECTED, *rows])} if rows else {}
    if delivered is None:
        names = dict.fromkeys(row.split()[0] for row in rows)
        delivered = [f"{name} Ochre stick 2025-01-01 500 2" for name in names]
    if delivered:
        tables["part_batches"] = "\n".join([DELIVERED, *delivered])
    if study:
        tables |= {"repeat_readings": "\n".join([HEAD, *study]), "limits": LIMITS}
    log = Log(folder, units=register("U1"), jobs=reports("U1 2025-03-03 clean_open pass"), **tables)
    with warehouse.reading(log.path) as connection:
        return inspection_facts(connection, words())


def words(**case: str) -> Asked:
    return asked("batch-inspection", by=(), where={}, clock=None, level=None, settings=EXACT, case=case)


def ask(found: InspectionFacts, **case: str) -> BatchInspection:
    answer = inspection_of(found, words(**case))
    said = "\n".join([inspection_text(answer), answer.sentence, *answer.warnings])
    assert not re.search(r"\b(nan|None|inf|NaN|null)\b", said), said
    return answer


@pytest.fixture(scope="module")
def five(tmp_path_factory):
    rows = [
        "B-1 2025-01-02 32 1 1.5 1 accept offset", "B-2 2025-01-03 32 3 1.5 1 accept offset",
        "B-3 2025-01-04 32 0 1.5 1 reject offset", "B-4 2025-01-05 32 2 1.5 1 accept_on_concession offset",
        "B-5 2025-01-06 32 2 1.5 1 hold offset",
    ]  # fmt: skip
    return facts(tmp_path_factory.mktemp("five"), rows)


def test_decisions_are_held_against_their_plan_and_disagreements_named(five):
    answer = ask(five)
    assert [one.agreement for one in answer.rows] == ["as_planned", "against_plan", "against_plan", "concession", "open"]
    assert (
        "Of 5 inspections 3 were decided as the plan says (1 beyond it on concession, 1 on hold); 2 against it" in answer.sentence
    )
    assert "B-2 accepted with 3 of 32 nonconforming where the plan accepts up to 1" in answer.sentence
    assert "B-3 rejected with 0 of 32" in answer.sentence
    assert list(shown_rows(answer)["batch"]) == ["B-5", "B-4", "B-3", "B-2", "B-1"]


def test_a_share_has_wilsons_limits_and_the_plan_its_power(five):
    row = ask(five).rows[1]
    low, high = 0.0324, 0.2422  # Wilson's limits of 3 of 32, by hand: (p + z²/2n ± z√(p(1 − p)/n + z²/4n²)) / (1 + z²/n)
    assert (row.share.low, row.share.high) == pytest.approx((low, high), abs=5e-4)
    assert row.power.passes_at_aql == pytest.approx(0.93, abs=0.01)
    assert row.power.passes_at_twice < row.power.passes_at_aql
    assert row.power.producer_share < 0.015 < row.power.consumer_share


def test_one_batch_is_told_with_the_plan_of_its_lot(five):
    answer = ask(five, batch="b 4")
    assert [one.batch for one in answer.rows] == ["B-4"]
    assert (answer.used_plan.lot, answer.used_plan.inspections) == (500, 1)
    assert ask(five).used_plan.lot is None
    with pytest.raises(SettingError, match="no batch"):
        ask(five, batch="B-9")


def test_what_contradicts_itself_is_listed_and_not_judged(tmp_path):
    rows = [
        "B-1 2025-01-02 8 9 1.5 0 accept offset", "B-2 2025-01-03 80 1 1.5 2 accept offset",
        "B-3 2025-01-04 8 1 - - accept offset", "B-4 2025-01-05 3 0 - 3 accept offset",
        "B-5 2025-01-06 8 0 - 0 accept offset",
    ]  # fmt: skip
    delivered = ["B-1 Ochre stick 2025-01-01 50 2", "B-2 Ochre stick 2025-01-01 50 2", "B-3 Ochre stick 2025-01-01 50 2",
                 "B-4 Ochre stick 2025-01-01 50 2"]  # fmt: skip
    answer = ask(facts(tmp_path, rows, delivered=delivered))
    assert [one.because for one in answer.rows] == ["contradiction", "contradiction", "not_recorded", "contradiction", None]
    notes = dict(zip(shown_rows(answer)["batch"], shown_rows(answer)["note"], strict=True))
    assert notes == {
        "B-1": "more nonconforming than tested", "B-2": "more tested than the 50 received", "B-3": "no acceptance number",
        "B-4": "accepts whatever is found", "B-5": "",
    }  # fmt: skip
    first, *_, last = answer.rows
    assert (first.share.because, first.agreement, first.power) == (Because.CONTRADICTION, None, None)
    assert (last.supplier, last.received, last.agreement) == (None, None, "as_planned")
    assert any("B-1, B-2, B-4" in one for one in answer.warnings)
    assert any("1 batch inspected but not among the deliveries: B-5" in one for one in answer.warnings)


def test_no_inspection_is_said_and_plans_are_still_given(tmp_path):
    answer = ask(facts(tmp_path, []), lot="400", aql="1")
    assert answer.because is Because.NOT_RECORDED
    assert "no inspections of batches" in answer.sentence
    assert "test 50, accept with up to 1" in answer.sentence
    assert "not_recorded" in inspection_csv(answer)


def test_the_chart_of_the_handbook_through_a_log(tmp_path):
    case = load_case("pchart_nist")
    rows = [
        f"B-{place} 2025-{1 + place // 28:02d}-{1 + place % 28:02d} {case.data['n']} {bad} - - accept offset"
        for place, bad in enumerate(case.data["defectives"], 1)
    ]
    (chart,) = ask(facts(tmp_path, rows)).charts
    assert chart.middle == pytest.approx(case.expected["pbar"], rel=case.rel_tol)
    assert [point.low for point in chart.points] == pytest.approx([case.expected["LCL"]] * 30, rel=case.rel_tol)
    assert [point.high for point in chart.points] == pytest.approx([case.expected["UCL"]] * 30, rel=case.rel_tol)
    assert chart.outside == [f"B-{place}" for place in case.expected["outside"]]
    assert "outside the control limits: B-15, B-23" in chart_sentence(chart)


def test_few_batches_have_no_chart_and_a_creep_is_named(tmp_path, five):
    (chart,) = ask(five).charts
    assert (chart.because, chart.points) == (Because.TOO_FEW_BATCHES, [])
    rows = [f"B-{10 + place} 2025-01-{1 + place:02d} 100 {2 if place < 12 else 7} - - accept offset" for place in range(24)]
    (chart,) = ask(facts(tmp_path, rows)).charts
    assert chart.outside == []
    assert 12 <= int(chart.creeps_from.removeprefix("B-")) - 10 < 20
    assert "creep up" in chart_sentence(chart)


def test_a_coarse_tester_is_named_as_what_a_share_may_be(tmp_path):
    rows = [f"B-{place} 2025-01-{1 + place:02d} 32 2 1.5 1 reject offset" for place in range(3)]
    study = made(np.random.default_rng(2), sticks=12, persons=6, trials=3, error=4.0)
    answer = ask(facts(tmp_path, rows, study=study))
    (part,) = answer.testers
    assert (part.measure, part.verdict, part.found_share) == ("rest_offset", "too_coarse", pytest.approx(2 / 32))
    assert 0.5 < part.misread_share.low < part.misread_share.estimate < part.misread_share.high < 1
    assert any("share of offset may be the tester" in one and "misread" in one for one in answer.warnings)


def test_without_a_study_that_is_said_of_a_measure_and_nothing_of_another_characteristic(tmp_path, five):
    assert any("not known: no usable study" in one for one in ask(five).warnings)
    other = ask(facts(tmp_path, ["B-1 2025-01-02 32 1 1.5 1 accept colour"]))
    assert (other.testers[0].measure, other.warnings) == (None, [])


def test_inspection_is_held_against_the_field(tmp_path):
    bad = [0, 1, 2, 3, 0, 1, 4, 2, 0, 3]
    rows = [f"B-{place} 2025-01-{1 + place:02d} 40 {one} - - accept offset" for place, one in enumerate(bad)]
    field = {f"B-{place}": (4 + 6 * one, 8.0) for place, one in enumerate(bad)}
    found = replace(facts(tmp_path, rows), field=field)
    (part,) = ask(found).fields
    want = field_trend(np.array(bad), np.full(10, 40), np.array([4 + 6 * one for one in bad]), np.full(10, 8.0), level=0.95)
    assert (part.ratio, part.left_out, len(part.batches)) == (want.ratio, 0, 10)
    assert "did tell the field" in ask(found).sentence
    (few,) = ask(replace(found, field={name: field[name] for name in list(field)[:5]})).fields
    assert (few.because, few.left_out) == (Because.TOO_FEW_BATCHES, 5)
    assert "eight are needed" in ask(replace(found, field={})).sentence


def test_the_answer_holds_the_keys_of_the_page_and_is_json(tmp_path):
    rows = [f"B-{place} 2025-01-{1 + place:02d} 40 {place % 3} 1.5 1 accept offset" for place in range(10)]
    found = replace(facts(tmp_path, rows), field={f"B-{place}": (4, 8.0) for place in range(10)})
    plain = json.loads(json.dumps(ask(found, lot="400", aql="1.5").to_dict(), allow_nan=False))
    title = "`batch-inspection`"
    of_rows, of_plans = ({*plain[name][0]} for name in ("rows", "plans"))
    top = {
        "question", "log_start", "log_end", "level", "settings", "sentence", "warnings", "because", "case", "rows", "used_plan",
        "plans", "charts", "testers", "fields",
    }  # fmt: skip
    assert set(plain) == top
    assert keys(title) == top | of_rows | of_plans
    assert set(plain["case"]) == inside(title, "case")
    assert set(plain["rows"][0]["power"]) == inside(title, "power") & set(plain["rows"][0]["power"])
    assert set(plain["charts"][0]) | set(plain["charts"][0]["points"][0]) == inside(title, "charts")
    assert set(plain["testers"][0]) | {"tester-study"} == inside(title, "testers") | {"tester-study"}
    assert set(plain["fields"][0]) | set(plain["fields"][0]["batches"][0]) == inside(title, "fields")
    assert set(plain["plans"][0]["curve"][0]) <= inside(title, "curve")


def test_in_the_example_all_batches_are_nonconforming_alike_and_inspection_is_not_shown_to_tell_the_field(tmp_path):
    """Known truth: every batch is drawn with 1.2 % nonconforming, so what is found goes with nothing."""
    with loaded_fleet(6000, 5, tmp_path, easy=False) as (_, connection):
        answer = inspection_of(inspection_facts(connection, words()), words())
    (part,) = answer.fields
    assert part.because is None
    assert part.ratio.low < 1 < part.ratio.high
    assert part.real_share < 0.5
    assert all(one.expected > 0 and one.tested in (8, 32) for one in part.batches)
    assert sum(one.failures for one in part.batches) == pytest.approx(sum(one.expected for one in part.batches), rel=0.15)
    assert len(part.batches) + part.left_out == len({one.batch for one in answer.rows})
