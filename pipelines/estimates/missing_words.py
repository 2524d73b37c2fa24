"""Words that are not known of a stick though the log hardly ever leaves them blank: what they may be, with their shares."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.triage import LEAST_ATTEMPTS

#: More words than this are not told apart: the commonest stand for all.
MOST_WORDS = 12


def missing_words(
    attempts: pd.DataFrame, case: Mapping[str, object], *, words: tuple[str, ...] = ("sensor_type", "mode", "mechanism")
) -> list[tuple[float, dict[str, object]]]:
    """Return (share, words) of what a stick may be, shares coming to 1; no words where none is missing.

    attempts: counts as `triage` takes them; case: what is known. A word that the case lacks is missing only if fewer than 40
    cleans on record have it blank: beyond that blank is a level of its own, of which the record tells. What is missing is taken
    as it was found on the cleans of the same family (of all, if it has none) that have the other words of the case; at most the
    12 commonest. Raises InputError without an `attempt_count`.
    """
    if "attempt_count" not in attempts:
        raise InputError("The cleans on record are not counted.", "Give `attempt_count`.")
    told = {name: case.get(name) for name in words if name in attempts}
    count = attempts["attempt_count"].to_numpy(dtype=float)
    missing = [
        name for name, value in told.items()
        if _is_blank(value) and count[attempts[name].isna().to_numpy()].sum() < LEAST_ATTEMPTS
        and attempts[name].notna().any()
    ]  # fmt: skip
    if not missing:
        return [(1.0, {})]
    rows = attempts[attempts[missing].notna().all(axis=1).to_numpy() & (count > 0)]
    given = {"family": case.get("family")} | {name: value for name, value in told.items() if name not in missing}
    for name, value in given.items():
        same = rows[rows[name] == value] if name in rows and not _is_blank(value) else rows
        rows = same if len(same) else rows
    if not len(rows):
        return [(1.0, {})]
    found = rows.groupby(missing, sort=True)["attempt_count"].sum().nlargest(MOST_WORDS, keep="first")
    keys = [one if isinstance(one, tuple) else (one,) for one in found.index]
    shares = (found.to_numpy(dtype=float) / found.sum()).tolist()
    return [(share, dict(zip(missing, key, strict=True))) for share, key in zip(shares, keys, strict=True)]


def _is_blank(value: object) -> bool:
    return value is None or (isinstance(value, float) and np.isnan(value)) or value is pd.NA
