"""The product limit of many groups in one lifelines fit: every risk set is written as spells, all laid end to end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

#: exp(−700) is the smallest share that a float can hold with all its digits.
DEEPEST = 600.0


def product_limits(at_risk: Sequence[np.ndarray], failed: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Return the share still free of failure after each exit, for each group.

    at_risk, failed: for each group, whole numbers at its distinct exit times in order, 0 <= failed <= at_risk, at_risk > 0.
    Once everyone at risk has failed the share is 0 for good.
    Source: Kaplan & Meier (1958), fitted by lifelines. The estimate knows nothing of the times but their order, so the
    groups follow one another on a common axis, and a group's share is that of the whole over the share at its start.
    """
    shares: list[np.ndarray] = [np.ones(0)] * len(at_risk)
    # A failure of everyone at risk would end the common curve; it is put in afterwards.
    partial = [np.where(d == n, 0, d) for n, d in zip(at_risk, failed, strict=True)]
    depths = [-float(np.log1p(-d / n).sum()) for n, d in zip(at_risk, partial, strict=True)]
    for groups in _chunks(depths):
        curve = _fitted(np.concatenate([at_risk[one] for one in groups]), np.concatenate([partial[one] for one in groups]))
        end = 0
        for group in groups:
            start, end = end, end + len(at_risk[group])
            is_over = np.cumsum(failed[group] == at_risk[group]) > 0
            shares[group] = np.where(is_over, 0.0, curve[start + 1 : end + 1] / curve[start])
    return shares


def _chunks(depths: list[float]) -> list[list[int]]:
    """Return groups in order, as many together as one curve can hold."""
    chunks: list[list[int]] = []
    room = 0.0
    for group, depth in enumerate(depths):
        if not chunks or depth > room:
            chunks.append([])
            room = DEEPEST
        chunks[-1].append(group)
        room -= depth
    return chunks


def _fitted(at_risk: np.ndarray, failed: np.ndarray) -> np.ndarray:
    """Return 1 and the product limit after each risk set, from lifelines (imported late: it takes over a second)."""
    from lifelines import KaplanMeierFitter

    risk_set = np.flatnonzero(failed > 0)
    if not len(risk_set):
        return np.ones(len(at_risk) + 1)
    exit_at = 2.0 * risk_set + 1
    failing, staying = failed[risk_set], at_risk[risk_set] - failed[risk_set]
    # From one risk set to the next goes a spell that is at risk when nothing can happen: lifelines refuses gaps.
    bridge_to = np.append(exit_at[1:] - 1, exit_at[-1] + 1)
    # lifelines switches numpy's warnings off for the whole process; here that ends with the fit.
    with np.errstate(divide="ignore", invalid="ignore"):
        fitter = KaplanMeierFitter().fit(
            np.column_stack([exit_at, exit_at, bridge_to]).ravel(),
            np.tile([True, False, False], len(risk_set)),
            entry=np.column_stack([exit_at - 1, exit_at - 1, exit_at]).ravel(),
            weights=np.column_stack([failing, staying, np.ones_like(failing)]).ravel(),
            timeline=exit_at,
        )
    share = fitter.survival_function_.to_numpy()[:, 0]
    return np.append(1.0, share)[np.searchsorted(risk_set, np.arange(-1, len(at_risk)), side="right")]
