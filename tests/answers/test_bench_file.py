"""A file of sticks comes back whole: the same rows in the same order, the advice beside each, or why there is none."""

from __future__ import annotations

import io

import pandas as pd
import pytest
from openpyxl import load_workbook

from pipelines import cli
from pipelines.answers.bench_file import ADVICE_COLUMNS, advise_file, file_bytes
from pipelines.answers.bench_record import bench_record
from pipelines.answers.clean_or_replace import advise
from pipelines.errors import InputError
from pipelines.facts.readings import cleans_so_far
from tests.answers.test_clean_or_replace import GIVEN
from tests.pipeline.made_fleet import loaded_fleet

TEXT = """Bench list of June;;;;;
Serial;Side;Model;Rest offset (before);Fault;Remark
X1;L;Corvath;7,5;jitter;=1+1
X2;R;Corvat;9,1;jitter;-5

X3;L;;;;
X4;L;Hobbrel;abc;jitter;
X5;L;Hobbrel;12;jitter;"two
lines"
X6;R;Hobbrel;3;axis dead;@cmd
"""


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fleet")
    with loaded_fleet(6000, 4, folder, easy=False) as (_, connection):
        yield connection, bench_record(connection, GIVEN), folder / "warehouse"


def advised(fleet, path):
    connection, record, _ = fleet
    return advise_file(connection, record, path, GIVEN)


@pytest.fixture
def listed(fleet, tmp_path):
    (tmp_path / "june.csv").write_text(TEXT, encoding="utf-8")
    return advised(fleet, tmp_path / "june.csv")


def own(table: pd.DataFrame) -> list[list]:
    """Return the file's own part of the table, its first line too."""
    return [list(table.columns), *table.to_numpy().tolist()]


def column(found, name: str) -> list:
    place = len(found.table.columns) - len(ADVICE_COLUMNS) + ADVICE_COLUMNS.index(name)
    return found.table.iloc[:, place].tolist()


def test_every_line_comes_back_in_its_place(listed):
    lines = own(listed.table)
    assert listed.heading == 1
    assert [row[0] for row in lines] == ["Bench list of June", "Serial", "X1", "X2", "", "X3", "X4", "X5", "X6"]
    assert lines[1] == ["Serial", "Side", "Model", "Rest offset (before)", "Fault", "Remark", *ADVICE_COLUMNS]
    assert [row[5] for row in lines[2:]] == ["=1+1", "-5", "", "", "", "two\nlines", "@cmd"]


def test_a_row_that_cannot_be_judged_says_why(listed):
    notes = column(listed, "advice_note")[1:]
    assert notes[1] == "The log has no family 'Corvat'. Did you mean Corvath?"
    assert notes[2] == ""
    assert notes[3].startswith("Nothing is said of this stick.")
    assert "'abc' is not a number" in notes[4]
    assert sum(listed.counts.values()) == 6
    assert listed.counts["no advice"] == 3


def test_the_advice_of_a_row_is_that_of_the_stick_alone(fleet, listed):
    from pipelines.answers.bench_case import bench_case

    case = bench_case({"family": "Corvath", "mode": "jitter", "af_rest_offset_pct": "7.5"}, ["Corvath"])
    answer = advise(fleet[1], [case], GIVEN)[0]
    assert column(listed, "advice")[1] == answer.course
    assert column(listed, "pass_chance")[1] == round(answer.pass_chance.estimate, 4)
    assert column(listed, "cost_new_part")[1] == round(answer.expected_cost["new_part"], 4)


def test_how_often_a_stick_was_cleaned_is_looked_up_unless_the_file_says_it(fleet, tmp_path):
    units = [unit for (unit,) in fleet[0].execute("SELECT DISTINCT unit_id FROM slot ORDER BY unit_id").fetchall()]
    known = cleans_so_far(fleet[0], units)
    unit, stick = known.loc[known["clean_count"] == 2, ["unit_id", "stick"]].iloc[0]
    path = tmp_path / "a.csv"
    path.write_text(f"unit_id,stick,attempt_number\n{unit},{stick},\n{unit},{stick},1\n", encoding="utf-8")
    found = advised(fleet, path)
    notes = column(found, "advice_note")
    assert "Nothing is said" not in "".join(notes)  # the register tells the family
    chances = column(found, "pass_chance")
    assert chances[0] != chances[1]


def test_a_stick_without_a_fault_and_a_dead_zone(fleet, tmp_path):
    path = tmp_path / "a.csv"
    head = "unit_id,stick,family,finding,reading_basis,af_rest_offset_pct"
    path.write_text(f"{head}\nU,L,Corvath,NFF,raw,3\nU,L,Corvath,,dead zone,99\nU,L,Corvath,,raw,99\n", encoding="utf-8")
    found = advised(fleet, path)
    notes = column(found, "advice_note")
    assert notes[0] == "No fault was found on it. There is nothing to clean."
    assert column(found, "advice")[1] in ("clean_first", "new_part", "scrap")  # the reading at rest is not used
    assert "No such stick was ever cleaned" in notes[2]


def test_permuted_rows_give_permuted_advice(fleet, tmp_path):
    rows = [
        f"{unit},L,{family},{offset}"
        for unit, family, offset in zip("ABCDEFGH", ["Corvath", "Hobbrel"] * 4, range(2, 10), strict=True)
    ]
    path = tmp_path / "a.csv"
    tables = []
    for order in (rows, rows[::-1]):
        path.write_text("\n".join(["unit_id,stick,family,af_rest_offset_pct", *order]), encoding="utf-8")
        tables.append(advised(fleet, path).table.to_numpy().tolist())
    assert tables[0] == tables[1][::-1]


def test_csv_workbook_and_parquet_give_the_same_advice(fleet, tmp_path):
    frame = pd.DataFrame({"unit_id": ["A", "B"], "stick": ["L", "R"], "family": ["Corvath", "Hobbrel"],
                          "af_rest_offset_pct": [7.5, 3.0], "colour": ["red", None]})  # fmt: skip
    frame.to_csv(tmp_path / "a.csv", index=False)
    frame.to_excel(tmp_path / "a.xlsx", index=False)
    frame.to_parquet(tmp_path / "a.parquet", index=False)
    found = [advised(fleet, tmp_path / f"a.{ending}") for ending in ("csv", "xlsx", "parquet")]
    assert column(found[0], "pass_chance") == column(found[1], "pass_chance") == column(found[2], "pass_chance")
    assert found[0].table["colour"].tolist() == ["red", ""]


def test_formulas_are_made_harmless_and_numbers_stay_numbers(listed):
    text = file_bytes(listed, ".csv").decode("utf-8-sig")
    assert "'=1+1" in text
    assert "'@cmd" in text
    cells = [row for row in load_workbook(io.BytesIO(file_bytes(listed, ".xlsx")))["sticks"].iter_rows(values_only=True)]
    assert [row[0] for row in cells][1:4] == ["Serial", "X1", "X2"]
    assert (cells[2][5], cells[7][3]) == ("'=1+1", 12)
    assert isinstance(cells[2][6 + ADVICE_COLUMNS.index("pass_chance")], float)


def test_headings_not_understood_are_listed_and_the_names_of_a_case_are_headings(fleet, tmp_path):
    path = tmp_path / "a.csv"
    rows = {"log": "family,failure_mode,failure_mechanism,sensor_type,attempt_number",
            "case": "family,mode,mechanism,sensor type,Attempt number"}  # fmt: skip
    found = {}
    for name, head in rows.items():
        path.write_text(f"{head},af_rest_ofset_pct\nCorvath,jitter,,,2,9\n", encoding="utf-8")
        found[name] = advised(fleet, path)
        assert found[name].not_understood == ["af_rest_ofset_pct"]
    assert column(found["log"], "pass_chance") == column(found["case"], "pass_chance")
    path.write_text("family,mode,failure_mode\nCorvath,sneezing,jitter\n", encoding="utf-8")
    both = advised(fleet, path)  # the log's own heading comes first
    assert both.not_understood == ["mode"]
    assert column(both, "advice")[0]


def test_a_file_that_says_nothing_of_sticks_is_an_error(fleet, tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("note,technician\nx,y\n", encoding="utf-8")
    with pytest.raises(InputError):
        advised(fleet, path)


def run(capsys, *words) -> tuple[int, str, str]:
    code = cli.main(["answer", "clean-or-replace", *map(str, words)])
    return code, *capsys.readouterr()


SET = [f"{name}={value}" for name, value in GIVEN.as_plain().items() if name in (
    "labour_per_hour", "clean_minutes", "replace_minutes", "part_cost", "consumables_per_clean", "return_cost", "warranty_days"
)]  # fmt: skip


def test_the_command_writes_the_file_and_never_over_the_one_it_read(fleet, tmp_path, capsys):
    path = tmp_path / "june.csv"
    path.write_text(TEXT, encoding="utf-8")
    given = ("--warehouse", fleet[2], "--units", path, "--set", *SET)
    code, out, _ = run(capsys, *given)
    assert (code, out.splitlines()[1].split(",")[:2]) == (0, ["Serial", "Side"])
    code, out, _ = run(capsys, *given, "--out", tmp_path / "out.xlsx")
    assert code == 0
    assert out.startswith("Of 6 rows, ")
    assert out.rstrip().endswith("Follow local codes, the supplier's sheets and licensed practice.")
    assert (tmp_path / "out.xlsx").exists()
    for bad in (path, tmp_path / "out.pdf", tmp_path / "no folder" / "out.csv"):
        code, _, error = run(capsys, *given, "--out", bad)
        assert (code, bool(error)) == (5, True)
    assert path.read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize("words", [("--out", "x.csv"), ("--units", "no such file.csv"), ("--units", "x", "--case", "family=A")])
def test_words_of_the_command_that_do_not_go_together_are_refused(fleet, capsys, words):
    code, _, error = run(capsys, "--warehouse", fleet[2], *words)
    assert code in (3, 5)
    assert error.startswith("stickfleet: ")
