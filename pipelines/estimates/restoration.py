"""What a clean gives back: the share of a stick's age that each depth of cleaning takes off, and how long cleans hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import pandas as pd

from pipelines.errors import InputError
from pipelines.estimates.counts import group, require_columns
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.holding import holding_shares
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.restoration_check import fit_p
from pipelines.estimates.restoration_gaps import Gaps, chained, checked
from pipelines.estimates.restoration_likelihood import Likelihood
from pipelines.estimates.restoration_maximum import EDGE, WIDEST_LOG_SHAPE, Model, Top, ratio_limit, top_of
from pipelines.vocabulary import Because, Memory

#: The gate: (shape − 1)·√cleans at least this, where the standard error of the share is about 1.1 over it.
LEAST_PULL = 7.0
#: Of fewer cleans the limits hold too little (84 % of 10 to 14 cleans, 91 % of 20 to 30, 95 % of more): by simulation.
LEAST_CLEANS = 30
#: A memory is told from the other where its log-likelihood is higher by more than this.
TELLING_DIFFERENCE = 2.0
#: With fewer controllers nothing tells how much they differ, and limits of the shape hold too little (91 % of 3): by simulation.
LEAST_CONTROLLERS = 5
#: Shares are told where at least this share of the failures has a known cause.
LEAST_NAMED_SHARE = 0.5
#: A fit is held to be wrong where its p is below: one right fit in a hundred.
LEAST_P = 0.01


@dataclass(frozen=True)
class CleanEffect:
    """One depth. cleans: watched gaps that it opened; restoration_share: of the age, given back by a clean (0–1);
    holding_share: of these cleans, still good at the horizon; None where no horizon was asked for."""

    depth: str
    cleans: int
    restoration_share: Estimate
    holding_share: Estimate | None


@dataclass(frozen=True)
class RestorationFit:
    """One group's fit. because: why there is none, else None.

    by: the group's values; modules, gaps, failures: used (gaps watched for some time); failures_counted: those the fit
    explains; failures_unnamed: of no known cause, not counted; gaps_left_out: of modules whose start or an earlier gap is
    unknown. memory: the one used; is_memory_told: the other fits clearly worse, and the gate of `restoration` passes for
    some depth; else "cannot tell which". shape: of counted failures against age (1: age does not matter), ratio limits;
    scale: age at cumulative hazard 1, in the clock's unit; variance_between: of the factor of a controller (mean 1); all
    None or refused without a fit. fit_p: the p-value that the law holds after cleans; None where the gate is shut.
    """

    by: tuple
    modules: int
    gaps: int
    failures: int
    failures_counted: int
    failures_unnamed: int
    gaps_left_out: int
    because: Because | None
    memory: Memory | None
    is_memory_told: bool
    shape: Estimate
    scale: float | None
    variance_between: float | None
    log_likelihood: float | None
    fit_p: float | None
    effects: tuple[CleanEffect, ...]


@dataclass(frozen=True)
class _Law:
    """The likelier of the two memories, climbed; ahead: by how much `last` is the likelier one."""

    model: Model
    top: Top
    memory: Memory
    ahead: float


def restoration(
    gaps: pd.DataFrame,
    *,
    by: Sequence[str],
    horizon: float | None = None,
    level: float = 0.95,
    min_failures: int = 10,
    held: Mapping[str, float] | None = None,
) -> list[RestorationFit]:
    """Estimate for each group and depth of clean the share of age that a clean gives back, and how long cleans hold.

    gaps: one row per gap (not counted), `by`; `module` (a module life); `gap_number` in it from 1; `cluster` (its
    controller); `depth`, of the clean that opened the gap, blank for the first, which begins with the module; `entry`,
    `lower`, `upper`, in the clock's unit since the gap opened: watched from `entry`; lower == upper: failed then; upper
    infinite: still well at `lower`, where a planned clean may follow; else failed in (lower, upper], found and cleaned
    at `upper`. A gap of no length says nothing, but its clean acts. A clean before watching began is not known of.
    Optionally `is_counted`, of failures: False of a cause that cleans do not act on, blank of an unknown one; restoration is
    then of counted failures alone, the others end the watch of their gap, and holding is of all. That counted failures
    are named by chance does no harm; a wrong name does: a share then comes out too low. Where under half are known, no
    share is told (`no_causes`): of all failures together it would be too low.
    held: depth → the share (0–1) that is known to be given back: 0 for a repair that leaves the age as it is.
    Returns one fit per group, in sorted order. Without one, `because` and every estimate say `no_spells`,
    `no_failures`, `too_few_failures`, `no_attempts` (no clean) or `fit_failed`; where these are of the counted failures
    alone, only the shares do. A restoration share is `restoration_untold` unless the lower limit of the shape is over 1
    and (shape − 1)·√cleans >= 7 of at least 30 cleans, and `model_unfit` where `fit_p` is below 0.01; its likelihood-ratio
    limits may be 0 or 1, the ends of what it can be. Under five controllers the shape has no limits,
    and no share is told (`too_few_clusters`). Holding does not need these gates: see `holding_shares`.
    Wrong findings and mixed families make the shape smaller than it is.   Raises InputError.
    Sources: Kijima (1989), Doyen & Gaudoin (2004), Cook & Lawless (2007) (from memory); the gate: simulation.
    """
    normal_quantile(level)
    if horizon is not None and not 0 < horizon < np.inf:
        raise InputError(f"A horizon of {horizon} is no length of time.", "Give a number over 0.")
    known = _held(held or {})
    require_columns(gaps, by)
    sound = checked(gaps)
    groups = group([sound], by=by)
    order = np.argsort(groups.codes[0], kind="stable")
    bounds = np.searchsorted(groups.codes[0][order], np.arange(groups.count + 1))
    fits = []
    for number, values in enumerate(groups.tuples()):
        chain = chained(sound.iloc[order[bounds[number] : bounds[number + 1]]])
        fits.append(_fit(values, chain, known, horizon=horizon, level=level, min_failures=min_failures))
    return fits


def log_likelihood(
    gaps: pd.DataFrame,
    *,
    shape: float,
    scale: float,
    restoration_share: Mapping[str, float],
    memory: Memory | Mapping[str, Memory] = Memory.WHOLE,
    variance_between: float = 0.0,
) -> float:
    """Return the log-likelihood of gaps (as in `restoration`, all of one group) at given parameters.

    shape, scale > 0; restoration_share: depth → share, for every depth; memory: one for all or by depth; densities are in
    the clock's unit. Raises InputError on a depth without a share, or an impossible parameter.
    """
    chain = chained(checked(gaps), kinds=tuple(restoration_share))
    if set(chain.kinds) != set(restoration_share):
        raise InputError("A depth has no restoration share.", "Give a share for every depth of clean.")
    if not (shape > 0 and scale > 0 and variance_between >= 0 and all(share <= 1 for share in restoration_share.values())):
        raise InputError("A parameter is impossible.", "Shape and scale are over 0, the variance from 0, shares at most 1.")
    memories = [memory[kind] if isinstance(memory, Mapping) else memory for kind in chain.kinds]
    likelihood = Likelihood(chain, np.array([one is Memory.WHOLE for one in memories], dtype=bool))
    kept = 1 - np.array([restoration_share[kind] for kind in chain.kinds], dtype=float)
    return likelihood.slopes(shape * np.log(chain.unit / scale), shape, kept, variance_between).value


def _held(held: Mapping[str, float]) -> dict[str, float]:
    if not all(0 <= share <= 1 for share in held.values()):
        raise InputError("A share held is not between 0 and 1.", "Give 0 for as bad as old, 1 for as good as new.")
    return dict(held)


def _fit(values: tuple, chain: Gaps, held: dict[str, float], *, horizon, level, min_failures) -> RestorationFit:
    z, cleans, counted = normal_quantile(level), chain.cleans(), chain.only_counted()
    kept = np.array([1 - held.get(kind, np.nan) for kind in chain.kinds])
    size = (
        values, chain.layers[0].stop if chain.layers else 0, int(chain.is_seen.sum()), chain.failures, counted.failures,
        chain.failures_of(-1), chain.left_out,
    )  # fmt: skip
    whole = law = _law(chain, kept, min_failures)
    if counted is not chain and isinstance(whole, _Law):
        is_named = chain.failures_of(-1) <= (1 - LEAST_NAMED_SHARE) * chain.failures
        law = _law(counted, kept, min_failures) if is_named else Because.NO_CAUSES
    free = [(place, kind, int(cleans[kind])) for place, kind in enumerate(np.flatnonzero(np.isnan(kept)))]
    holding = [None] * len(chain.kinds)
    if horizon is not None and isinstance(whole, _Law):
        holding = holding_shares(whole.model, whole.top, horizon=horizon, level=level)
    if not isinstance(law, _Law):
        refused, is_all = Estimate.refused(law), law is whole
        effects = tuple(
            CleanEffect(chain.kinds[kind], count, refused, refused if is_all and horizon is not None else holding[kind])
            for _, kind, count in free
        )
        return RestorationFit(*size, law if is_all else None, None, False, refused, None, None, None, None, effects)
    model, top = law.model, law.top
    c, shape, _, variance = (np.asarray(part) for part in model.natural(top.x))
    shapes = _shape_limits(model, top, z) if counted.cluster_count >= LEAST_CONTROLLERS else (
        Estimate(float(shape), None, None, Because.TOO_FEW_CLUSTERS)
    )  # fmt: skip
    is_pulling = any(pulls_enough(shapes, count) for _, _, count in free)
    p = fit_p(model, top) if is_pulling else None
    is_unfit = p is not None and p < LEAST_P
    effects = tuple(
        CleanEffect(
            chain.kinds[kind], count,
            Estimate.refused(Because.MODEL_UNFIT) if is_unfit and pulls_enough(shapes, count)
            else _given_back(model, top, place, shapes, count, z),
            holding[kind],
        )
        for place, kind, count in free
    )  # fmt: skip
    scale = float(chain.unit * np.exp(-c / shape))
    is_told = abs(law.ahead) > TELLING_DIFFERENCE and is_pulling and not is_unfit
    return RestorationFit(*size, None, law.memory, is_told, shapes, scale, float(variance), top.value, p, effects)


def _shape_limits(model: Model, top: Top, z: float) -> Estimate:
    ends = (ratio_limit(model, top, 1, side=side, z=z, edge=WIDEST_LOG_SHAPE) for side in (-1, 1))
    return Estimate.within(float(model.natural(top.x)[1]), *(None if one is None else float(np.exp(one)) for one in ends))


def _law(chain: Gaps, kept: np.ndarray, min_failures: int) -> _Law | Because:
    """Climb both memories and return the likelier, or why there is none."""
    because = _too_little(chain, chain.cleans(), min_failures)
    if because is not None:
        return because
    models = {one: Model(Likelihood(chain, np.full(len(kept), one is Memory.WHOLE)), kept) for one in Memory}
    tops = {one: top_of(model) for one, model in models.items()}
    ahead = tops[Memory.LAST].value - tops[Memory.WHOLE].value
    memory = Memory.LAST if ahead > TELLING_DIFFERENCE else Memory.WHOLE
    return _Law(models[memory], tops[memory], memory, ahead) if tops[memory].is_found else Because.FIT_FAILED


def _too_little(chain: Gaps, cleans: np.ndarray, min_failures: int) -> Because | None:
    """Return why nothing can be fitted, else None."""
    if not chain.is_seen.any():
        return Because.NO_SPELLS
    if not chain.failures:
        return Because.NO_FAILURES
    if chain.failures < max(min_failures, 1):
        return Because.TOO_FEW_FAILURES
    return None if cleans.any() else Because.NO_ATTEMPTS


def pulls_enough(shape: Estimate, cleans: int) -> bool:
    """Tell whether drift depends on age so clearly that so many cleans can tell what they take off it: the gate."""
    is_rising = shape.low is not None and shape.low > 1
    return is_rising and cleans >= LEAST_CLEANS and (shape.estimate - 1) * sqrt(cleans) >= LEAST_PULL


def _given_back(model: Model, top: Top, place: int, shape: Estimate, cleans: int, z: float) -> Estimate:
    """Return the restoration share of one free kind with its ratio limits, if the gate lets it pass."""
    if not pulls_enough(shape, cleans):
        return Estimate.refused(shape.because if shape.because is Because.TOO_FEW_CLUSTERS else Because.RESTORATION_UNTOLD)
    odds = float(top.x[2 + place])
    # More age kept is less given back: the upper limit of the one is the lower of the other.
    low, high = (ratio_limit(model, top, 2 + place, side=side, z=z, edge=EDGE) for side in (1, -1))
    ends = (0.0 if low is None else _share_off(low), 1.0 if high is None else _share_off(high))
    return Estimate.within(_share_off(odds), *ends)


def _share_off(odds: float) -> float:
    """Return the share of age given back, from the log-odds of the share kept; the edges are 0 and 1."""
    if abs(odds) >= EDGE:
        return 0.0 if odds > 0 else 1.0
    return float(1 / (1 + np.exp(odds)))
