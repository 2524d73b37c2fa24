"""How sticks drift with age and what cleans take off it, as draws of what the log leaves open: the input of planned cleaning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipelines.estimates.counts import group, require_columns
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.holding import parameter_draws
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.restoration import LEAST_NAMED_SHARE, LEAST_P, pulls_enough
from pipelines.estimates.restoration_check import fit_p
from pipelines.estimates.restoration_gaps import Gaps, chained, checked
from pipelines.estimates.restoration_likelihood import Likelihood
from pipelines.estimates.restoration_maximum import Model, top_of
from pipelines.vocabulary import Because


@dataclass(frozen=True)
class CleanDraws:
    """One depth of clean: watched gaps that it opened; kept: draws of the share of age that it leaves; because: why that share
    cannot be told, else None (the draws then say what little is known)."""

    depth: str
    cleans: int
    kept: np.ndarray
    because: Because | None


@dataclass(frozen=True)
class RenewalLaw:
    """One group's law. because: why there is none (then shape and draws are None), else None.

    by: the group's values; modules, gaps, failures: used; failures_counted: those the law is of; failures_unnamed: of no
    recorded cause; gaps_left_out: of modules whose start or an earlier gap is unknown; is_by_cause: the law is of what cleans
    reach, other failures come at `other_rate` (per unit of the clock), each kind with its part of the unnamed.
    shape: Weibull shape of the failures against age, middle and limits of its draws. shapes, scales, variances: draws, scale
    in the clock's unit, variance of the factor of a controller (mean 1). depths: sorted.
    """

    by: tuple
    modules: int
    gaps: int
    failures: int
    failures_counted: int
    failures_unnamed: int
    gaps_left_out: int
    is_by_cause: bool
    other_rate: float
    because: Because | None
    shape: Estimate
    shapes: np.ndarray | None
    scales: np.ndarray | None
    variances: np.ndarray | None
    depths: tuple[CleanDraws, ...]


def renewal_laws(gaps: pd.DataFrame, *, by: Sequence[str], level: float = 0.95, min_failures: int = 10) -> list[RenewalLaw]:
    """Fit for each group how failures come with virtual age and what each depth of clean leaves of it.

    gaps: as `restoration` takes them, `is_counted` too. A clean is taken to act on the whole age; the parameters are drawn from
    the normal distribution about the top of the likelihood, with the weak priors of `holding_shares`. Where causes are recorded
    for under half of the failures the law is of all failures, and no share is told (`no_causes`): wear may be among them. A
    share is `restoration_untold` or `model_unfit` by the gates of `restoration`, with the limits of the draws.
    Returns one law a group, in sorted order; without one `because` is `no_spells`, `no_failures`, `too_few_failures` or
    `fit_failed`.   Raises InputError.   Sources: as `restoration`.
    """
    z = normal_quantile(level)
    require_columns(gaps, by)
    sound = checked(gaps)
    groups = group([sound], by=by)
    return [
        _law(values, chained(sound.iloc[np.flatnonzero(groups.codes[0] == number)]), z, min_failures)
        for number, values in enumerate(groups.tuples())
    ]


def _law(values: tuple, chain: Gaps, z: float, min_failures: int) -> RenewalLaw:
    counted, unnamed = chain.only_counted(), chain.failures_of(-1)
    is_named = unnamed <= (1 - LEAST_NAMED_SHARE) * chain.failures
    used = counted if is_named else chain
    is_by_cause = counted is not chain and is_named
    # those of no known cause are of both kinds alike
    more = chain.failures / max(chain.failures - unnamed, 1) if is_by_cause else 1.0
    watched = float((chain.length - chain.entry)[chain.is_seen].sum()) * chain.unit
    other = (chain.failures - unnamed - used.failures) * more / watched if is_by_cause and watched else 0.0
    size = (
        values, chain.layers[0].stop if chain.layers else 0, int(chain.is_seen.sum()), chain.failures, used.failures, unnamed,
        chain.left_out, is_by_cause, other,
    )  # fmt: skip
    because = _too_little(used, min_failures)
    model = top = None
    if because is None:
        model = Model(Likelihood(used, np.ones(len(used.kinds), dtype=bool)), np.full(len(used.kinds), np.nan))
        top = top_of(model)
        because = None if top.is_found else Because.FIT_FAILED
    if because is not None:
        return RenewalLaw(*size, because, Estimate.refused(because), None, None, None, ())
    (c, shapes, kept, variances), _ = parameter_draws(model, top)
    middle, spread = np.log(shapes).mean(), np.log(shapes).std(ddof=1)
    shape = Estimate(*(float(np.exp(middle + side * z * spread)) for side in (0, -1, 1)))
    scales = used.unit * np.exp(-(c + np.log(more)) / shapes)
    cleans = used.cleans()
    whys = [None if pulls_enough(shape, int(count)) else Because.RESTORATION_UNTOLD for count in cleans]
    if not is_named:
        whys = [Because.NO_CAUSES] * len(cleans)
    if None in whys and fit_p(model, top) < LEAST_P:
        whys = [Because.MODEL_UNFIT if one is None else one for one in whys]
    depths = tuple(
        CleanDraws(depth, int(cleans[place]), kept[:, place], whys[place]) for place, depth in enumerate(used.kinds)
    )  # fmt: skip
    return RenewalLaw(*size, None, shape, shapes, scales, variances, depths)


def _too_little(chain: Gaps, min_failures: int) -> Because | None:
    if not chain.is_seen.any():
        return Because.NO_SPELLS
    if not chain.failures:
        return Because.NO_FAILURES
    return Because.TOO_FEW_FAILURES if chain.failures < max(min_failures, 1) else None
