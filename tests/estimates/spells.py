"""Small tables of spells as text, and random spells of known kinds, for the tests of the estimates."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd


def table(text: str) -> pd.DataFrame:
    """Read a small table: the first line names the columns, blanks separate."""
    return pd.read_csv(io.StringIO(text.strip()), sep=r"\s+")


def random_spells(
    seed: int,
    *,
    spells: int,
    groups: int = 1,
    shape: float = 1.8,
    late_share: float = 0.3,
    is_whole: bool = False,
    censor_every: float | None = None,
) -> pd.DataFrame:
    """Return rows of `group`, `entry`, `at`, `is_failure`, `spell_count` 1, `lower`, `upper`, times in hours.

    The scale is 800 and more by group. Late units are watched from an age of up to 600 on, if they got that old, so about
    `spells` rows come back. `censor_every` puts the last look on a visit.
    """  # fmt: skip
    rng = np.random.default_rng(seed)
    group = rng.integers(0, groups, spells)
    failure = (800 + 200 * group) * rng.weibull(shape, spells)
    entry = np.where(rng.random(spells) < late_share, rng.uniform(0, 600, spells), 0.0)
    censor = entry + rng.uniform(1, 2000, spells)
    if censor_every:
        censor = np.ceil(censor / censor_every) * censor_every
    at, is_failure = np.minimum(failure, censor), failure <= censor
    if is_whole:
        at, entry = np.ceil(at), np.floor(entry)
    rows = pd.DataFrame({"group": group, "entry": entry, "at": at, "is_failure": is_failure, "spell_count": 1})
    rows = rows[failure > entry].reset_index(drop=True)
    return rows.assign(lower=rows["at"], upper=rows["at"].where(rows["is_failure"], np.inf))


def visited(spells: pd.DataFrame, *, every: float) -> pd.DataFrame:
    """Return the spells as visits every so often would have found them: failures between two visits."""
    before = np.maximum(np.ceil(spells["at"] / every - 1) * every, spells["entry"])
    is_failure = spells["is_failure"]
    after = np.ceil(spells["at"] / every) * every
    return spells.assign(lower=np.where(is_failure, before, spells["at"]), upper=np.where(is_failure, after, np.inf))
