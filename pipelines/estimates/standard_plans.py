"""Single sampling plans of ISO 2859-1 for normal inspection, as far as their rows are held here; arrows are never followed.

Source: MIL-STD-105E (1989), tables I and II-A, the same as tables 1 and 2-A of ISO 2859-1.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

from pipelines.estimates.acceptance import Plan

#: Code letters in their order, and the sample size of each.
SAMPLES = {
    "A": 2, "B": 3, "C": 5, "D": 8, "E": 13, "F": 20, "G": 32, "H": 50, "J": 80, "K": 125, "L": 200, "M": 315, "N": 500,
    "P": 800, "Q": 1250, "R": 2000,
}  # fmt: skip
#: The largest lot of each row of table 1 but the last, and each row's letters at the general levels.
_LARGEST = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000)
LEVELS = {"I": "AABCCDEFGHJKLMN", "II": "ABCDEFGHJKLMNPQ", "III": "BCDEFGHJKLMNPQR"}
#: Agreed quality limit in percent → the letter at which its column begins, with acceptance number 0.
FIRST_LETTER = {0.65: "F", 1.0: "E", 1.5: "D", 2.5: "C", 4.0: "B", 6.5: "A"}
#: Acceptance numbers from there on, letter by letter: after 0 two arrows. Beyond them all cells are arrows.
_DOWN_A_COLUMN = (0, None, None, 1, 2, 3, 5, 7, 10, 14, 21)


@dataclass(frozen=True)
class StandardPlan:
    """The plan for a lot. plan: None where its cell is an arrow, to another sample size."""

    letter: str
    plan: Plan | None


def code_letter(lot_count: int, level: str) -> str:
    """Return the code letter of a lot of two units or more at level I, II or III."""
    return LEVELS[level][bisect_left(_LARGEST, lot_count)]


def standard_plan(lot_count: int, *, aql_pct: float, level: str = "II") -> StandardPlan:
    """Return the plan for a lot of two units or more.

    aql_pct: a key of FIRST_LETTER. A sample that is no smaller than the lot is the whole lot, as the standard has it.
    """
    letters, letter = list(SAMPLES), code_letter(lot_count, level)
    place = letters.index(letter) - letters.index(FIRST_LETTER[aql_pct])
    accept = _DOWN_A_COLUMN[place] if 0 <= place < len(_DOWN_A_COLUMN) else None
    sample = min(SAMPLES[letter], lot_count)
    if accept is None or accept >= sample:
        return StandardPlan(letter, None)
    return StandardPlan(letter, Plan(sample, accept, lot_count))
