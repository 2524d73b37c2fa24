"""The regressions of lifelines, where they are exact and quick: failing rows spelt out, a few thousand rows at most."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd

from pipelines.estimates.accelerated import LifeSpells
from pipelines.estimates.cox_robust import CoxSpells

#: lifelines takes half a second for so much with late entries; its time grows with the square of either.
ROWS_AT_MOST, COLUMNS_AT_MOST = 4000, 20


def cox_start(spells: CoxSpells) -> np.ndarray:
    """Return the coefficients that lifelines finds, zeros where the table is too large for it or it finds none."""
    copies = np.where(spells.is_failure, spells.count, 1).astype(np.int64)
    zero = np.zeros(spells.x.shape[1])
    if copies.sum() > ROWS_AT_MOST or len(zero) > COLUMNS_AT_MOST:
        return zero
    from lifelines import CoxPHFitter
    from lifelines.exceptions import ConvergenceError

    # A failing row of n spells would get one share of its tie; n rows get n.
    rows = np.repeat(np.arange(len(copies)), copies)
    frame = pd.DataFrame(spells.x[rows], columns=[f"x{number}" for number in range(len(zero))])
    frame = frame.assign(
        at=spells.at[rows],
        entry=spells.entry[rows],
        is_failure=spells.is_failure[rows],
        weight=np.where(spells.is_failure[rows], 1.0, spells.count[rows]),
        stratum=spells.stratum[rows],
    )
    entries = {"entry_col": "entry"} if spells.entry.any() else {}
    frame = frame if entries else frame.drop(columns="entry")
    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            fit = CoxPHFitter().fit(frame, "at", "is_failure", weights_col="weight", strata=["stratum"], **entries)
        except ConvergenceError:
            return zero
    return _or_else(fit.params_.to_numpy(), zero)


def life_start(spells: LifeSpells, zero: np.ndarray) -> np.ndarray:
    """Return (coefficients, log shape) that lifelines finds, `zero` where the table is too large or it finds none."""
    if len(spells.count) > ROWS_AT_MOST or spells.x.shape[1] > COLUMNS_AT_MOST + 1:
        return zero
    from lifelines import WeibullAFTFitter
    from lifelines.exceptions import ConvergenceError

    names = [f"x{number}" for number in range(spells.x.shape[1] - 1)]
    frame = pd.DataFrame(spells.x[:, 1:], columns=names).assign(
        lower=spells.lower, upper=spells.upper, entry=spells.entry, weight=spells.count
    )
    entries = {"entry_col": "entry"} if spells.entry.any() else {}
    frame = frame if entries else frame.drop(columns="entry")
    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            fit = WeibullAFTFitter().fit_interval_censoring(frame, "lower", "upper", weights_col="weight", **entries)
        except ConvergenceError:
            return zero
    scale, shape = fit.params_["lambda_"], fit.params_["rho_"]
    return _or_else(np.concatenate([[scale["Intercept"]], scale[names], [shape["Intercept"]]]).astype(float), zero)


def _or_else(found: np.ndarray, zero: np.ndarray) -> np.ndarray:
    return found if np.isfinite(found).all() and abs(found - zero).max() < 30 else zero
