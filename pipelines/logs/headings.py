"""Which table a sheet holds and which heading is which column: by exact words, from the contract or the mapping file."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from pipelines.contract import KEYS, columns_of
from pipelines.errors import InputError
from pipelines.logs.mapping import FileMapping
from pipelines.logs.spelling import fold, heading_forms, is_blank

#: Words for a reading without "as found" or "as left"; of two such columns the first is as found, the second as left.
_BARE_READINGS = {
    "rest offset": "rest_offset", "offset": "rest_offset", "jitter": "jitter", "noise": "jitter",
    "return spread": "return_spread", "spread": "return_spread", "reach": "reach",
}  # fmt: skip
_NO_FIGURE = frozenset(("note", "technician"))
#: A sheet's headings stand among its first rows.
MOST_ROWS_ABOVE = 30


@dataclass(frozen=True)
class Recognised:
    """A sheet whose table is known. columns: place in the row → contract column; row: place of the heading row."""

    table: str
    row: int
    headings: tuple[str, ...]
    columns: dict[int, str]

    @property
    def understood(self) -> dict[str, str]:
        """Return heading → column."""
        return {self.headings[place].strip() or f"(column {place + 1})": name for place, name in self.columns.items()}

    @property
    def not_understood(self) -> tuple[str, ...]:
        return tuple(text.strip()[:80] for place, text in enumerate(self.headings) if place not in self.columns and text.strip())


@dataclass(frozen=True)
class Guess:
    """The nearest that a sheet comes to a table, to say what is missing."""

    table: str
    headings: tuple[str, ...]
    columns: dict[int, str]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Ambiguous:
    """Two headings that could be the same column."""

    table: str
    column: str
    headings: tuple[str, ...]


def recognise(rows: Sequence[Sequence[str]], mapping: FileMapping) -> Recognised | Ambiguous | Guess | None:
    """Find the heading row among the first rows: the one that names all required columns of a table, and most columns.

    Returns the nearest guess when no row does, None when no row has a known word.
    """
    found: list[tuple[tuple[int, int], Recognised | Ambiguous]] = []
    guesses: list[tuple[float, int, Guess]] = []
    first = rows[:MOST_ROWS_ABOVE]
    widest = max(map(len, first), default=0)
    for place, row in enumerate(first):
        if any(rank[0] == widest for rank, _ in found):
            break  # no row further down can name more columns
        if sum(1 for cell in row if cell.strip()) < 2:
            continue
        above = rows[place - 1] if place else ()
        for table in [mapping.table] if mapping.table else KEYS:
            columns = _matched(row, above, table, mapping)
            missing = _missing(table, columns, mapping)
            if not missing and columns:
                found.append(((len(columns), -place), _settled(table, place, row, columns)))
            elif columns:
                required = len(missing) + len(columns)
                guesses.append((len(columns) - 2 * len(missing) / required, -place, _guess(table, row, columns, missing)))
    if found:
        return max(found, key=lambda one: one[0])[1]
    return max(guesses, key=lambda one: one[:2])[2] if guesses else None


def _matched(row: Sequence[str], above: Sequence[str], table: str, mapping: FileMapping) -> dict[int, list[str]]:
    """Return place → [column, how well it is known ('named', 'exact' or 'called')] for the words of a row."""
    words, names = _known(table), {column.name for column in columns_of(table)}
    groups = _groups(above)
    found: dict[int, list[str]] = {}
    bare_seen: dict[str, int] = {}
    for place, cell in enumerate(row):
        if is_blank(cell) and not cell.strip():
            continue
        forms = heading_forms(cell)
        told = next((mapping.columns[form] for form in forms if form in mapping.columns), None)
        if told is not None:
            if told in names:
                found[place] = [told, "named"]
            continue
        name = next((words[form] for form in _with_group(forms, groups, place) if form in words), None)
        bare = next((_BARE_READINGS[form] for form in forms if form in _BARE_READINGS), None)
        if name is None and bare and table == "jobs" and _is_twice(row, bare):
            side = ("af", "al")[min(bare_seen.get(bare, 0), 1)]
            bare_seen[bare] = bare_seen.get(bare, 0) + 1
            name = f"{side}_{bare}_pct"
        if name:
            found[place] = [name, "exact" if fold(cell) == fold(name) else "called"]
    return found


def _with_group(forms: Iterable[str], groups: dict[int, str], place: int) -> list[str]:
    """Put the merged heading above ("as found") before and behind the word itself; the pair says more than the word."""
    group = groups.get(place)
    plain = list(forms)
    return [f"{one} {group}" for one in plain] + [f"{group} {one}" for one in plain] + plain if group else plain


def _groups(above: Sequence[str]) -> dict[int, str]:
    """Return place → the group heading that spans it: a merged cell leaves blanks to its right."""
    if sum(1 for cell in above if cell.strip()) < 1:
        return {}
    groups, current = {}, ""
    for place, cell in enumerate(above):
        current = fold(cell) if cell.strip() else current
        if current:
            groups[place] = current
    return groups


def _is_twice(row: Sequence[str], bare: str) -> bool:
    return sum(1 for cell in row if any(_BARE_READINGS.get(form) == bare for form in heading_forms(cell))) == 2


@cache
def _known(table: str) -> dict[str, str]:
    known: dict[str, str] = {}
    for column in columns_of(table):
        for word in (column.name, *column.also_called):
            known.setdefault(fold(word), column.name)
    return known


def _missing(table: str, columns: dict[int, list[str]], mapping: FileMapping) -> tuple[str, ...]:
    have = {name for name, _ in columns.values()} | set(mapping.fixed)
    return tuple(column.name for column in columns_of(table) if column.is_required and column.name not in have)


def _settled(table: str, place: int, row: Sequence[str], columns: dict[int, list[str]]) -> Recognised | Ambiguous:
    """Let a mapped heading beat the column's own name, and that beat another word for it; two equals are ambiguous.

    Of two columns of remarks or initials the first is taken: no figure depends on them.
    """
    kept: dict[int, str] = {}
    for name in dict.fromkeys(name for name, _ in columns.values()):
        for how in ("named", "exact", "called"):
            places = [spot for spot, known in columns.items() if known == [name, how]]
            if len(places) > 1 and name not in _NO_FIGURE:
                return Ambiguous(table, name, tuple(row[spot].strip() for spot in places))
            if places:
                kept[places[0]] = name
                break
    return Recognised(table, place, tuple(row), dict(sorted(kept.items())))


def _guess(table: str, row: Sequence[str], columns: dict[int, list[str]], missing: tuple[str, ...]) -> Guess:
    return Guess(table, tuple(row), {place: name for place, (name, _) in columns.items()}, missing)


def refused(shown: str, found: Ambiguous | Guess | None, first_line: int = 1) -> InputError:
    """Say why a sheet's table is not known, with the lines to write into a mapping file."""
    if found is None:
        return InputError(
            f"{shown} holds no table that is known: none of its first rows has headings that are understood.",
            f"Name its headings in a mapping file under [columns], or leave it out there: {_skip(shown)}.",
        )
    if isinstance(found, Ambiguous):
        pair = " and ".join(f"'{heading}'" for heading in found.headings)
        return InputError(
            f"{shown} has two headings for {found.column}: {pair}.",
            f'Say in the mapping file which to leave out: [columns] "{found.headings[-1]}" = "ignore"'
            + (" (or rename one of them, as they are the same)." if len({fold(h) for h in found.headings}) == 1 else "."),
        )
    spare = [text.strip() for place, text in enumerate(found.headings) if place not in found.columns and text.strip()]
    others = f"Not understood were: {', '.join(spare[:20])}." if spare else "All its other headings were understood."
    return InputError(
        f"{shown} looks like the table {found.table}, but has no column for {', '.join(found.missing)}.",
        f'{_how_to_name(found, spare)} If it is another table, say [table] name = "…", one of {", ".join(KEYS)}; if none, '
        f"leave it out: {_skip(shown)}. {others}",
    )


def _skip(shown: str) -> str:
    file = shown.partition(" [")[0]  # without the sheet
    return f'[files."{file}".file] skip = true'


def _how_to_name(found: Guess, spare: list[str]) -> str:
    sides = {word for text in spare for word in fold(text).split() if word in ("left", "right")}
    if "stick" in found.missing and len(sides) == 2:
        return "One row must be one stick: give left and right a row each, with a column that says which."
    free, lines = list(spare), []
    for name in found.missing:
        nearest = _nearest(name, free, found.table)
        free = [text for text in free if text != nearest]
        lines.append(f'"{nearest}" = "{name}"')
    return (
        f"Name its headings in the mapping file under [columns]: {'; '.join(lines)}; or, where every row would say the same, "
        f'say it once: [fixed] {found.missing[0]} = "…".'
    )


def _nearest(name: str, spare: list[str], table: str) -> str:
    column = next(column for column in columns_of(table) if column.name == name)
    by_fold = {fold(text): text for text in spare}
    for word in (name, *column.also_called):
        if near := difflib.get_close_matches(fold(word), by_fold, n=1, cutoff=0.6):
            return by_fold[near[0]]
    return "your heading"
