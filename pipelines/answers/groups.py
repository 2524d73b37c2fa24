"""The groups of an answer: the combinations of the grouping columns that occur, and to which of them each count belongs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd


def group_keys(frames: list[pd.DataFrame], by: tuple[str, ...]) -> list[dict[str, str | int | None]]:
    """Return the combinations of the grouping columns that occur, sorted, blanks last; one empty one without `by`."""
    if not by:
        return [{}]
    frame = pd.concat([one[list(by)].drop_duplicates() for one in frames])
    rows = {_row(row) for row in frame.itertuples(index=False)}
    ordered = sorted(rows, key=lambda row: [(one is None, 0 if one is None else one) for one in row])
    return [dict(zip(by, row, strict=True)) for row in ordered]


def _row(row: tuple) -> tuple:
    return tuple(None if pd.isna(one) else one if isinstance(one, str) else int(one) for one in row)


def group_numbers(frame: pd.DataFrame, keys: list[dict], by: tuple[str, ...]) -> np.ndarray:
    """Return for each row of `frame` the place of its group in `keys`."""
    if not by:
        return np.zeros(len(frame), dtype=np.int64)
    place = {tuple(key.values()): number for number, key in enumerate(keys)}
    code = frame.groupby(list(by), dropna=False, sort=False).ngroup()
    firsts = frame.loc[~code.duplicated(), list(by)]
    return np.array([place[_row(row)] for row in firsts.itertuples(index=False)], dtype=np.int64)[code.to_numpy()]


def by_group(
    frame: pd.DataFrame, columns: Sequence[str], keys: list[dict], by: tuple[str, ...], *, is_age_known: bool = True
) -> pd.DataFrame:
    """Return `columns` of the counts of known (or unknown) age, and `group_no`, the place of their group in `keys`."""
    is_mine = frame["is_age_known"].to_numpy(dtype=bool) == is_age_known
    mine = frame.loc[is_mine, [*columns, "spell_count"]].reset_index(drop=True)
    return mine.assign(group_no=group_numbers(frame.loc[is_mine, list(by)].reset_index(drop=True), keys, by))
