"""What a load did, or a check found: one record per file and sheet."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.logs.finding import Skipped
from pipelines.logs.rows import Finding

#: How many different problems of a file are named in a report; the warehouse has every line.
MOST_PROBLEMS = 30


@dataclass(frozen=True)
class Problem:
    """The first line with a problem, and how many lines of the file have the very same."""

    first: Finding
    count: int


@dataclass(frozen=True)
class SheetReport:
    """One file and sheet. loaded + set_aside + repeated + blank + not_data = lines_read; replaced are among the loaded.

    columns: heading → column. missing_wanted: strongly wanted columns that it does not have. problems: those that cost
    whole rows first, then the most frequent; problem_kinds counts those not named too. is_new: false when the very same
    file was loaded before, with the same mapping; then nothing was read again.
    """

    file: str
    sheet: str
    table: str
    encoding: str = ""
    delimiter: str = ""
    decimal_mark: str = ""
    date_order: str = ""
    lines_read: int = 0
    loaded: int = 0
    set_aside: int = 0
    repeated: int = 0
    replaced: int = 0
    blank: int = 0
    not_data: int = 0
    cells_blanked: int = 0
    columns: tuple[tuple[str, str], ...] = ()
    not_understood: tuple[str, ...] = ()
    missing_wanted: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    problem_kinds: int = 0
    is_new: bool = True

    @property
    def shown(self) -> str:
        return f"{self.file} [{self.sheet}]" if self.sheet else self.file


@dataclass(frozen=True)
class Refused:
    """A file that cannot be used at all, in a check."""

    file: str
    what: str
    remedy: str


@dataclass(frozen=True)
class LoadReport:
    """The whole load or check. hours_not_used: hour readings of the warehouse that fell, or beat the calendar.

    spelt_alike: names that differ only in capitals or spaces: kind, how many, two of them.
    """

    sheets: tuple[SheetReport, ...]
    skipped: tuple[Skipped, ...] = ()
    refused: tuple[Refused, ...] = ()
    is_check: bool = False
    hours_not_used: int = 0
    spelt_alike: tuple[tuple[str, int, str, str], ...] = ()

    @property
    def is_new(self) -> bool:
        """Tell whether any file was new to the warehouse."""
        return any(sheet.is_new for sheet in self.sheets)

    def total(self, name: str) -> int:
        """Return the sum of one count (`lines_read`, `loaded`, …) over the files that were read."""
        return sum(getattr(sheet, name) for sheet in self.sheets if sheet.is_new)
