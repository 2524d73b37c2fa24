"""How often limits hold the truth, how far estimates lie from it, and how often nothing is said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from pipelines.estimates.estimate import Estimate

#: The coverage that 95 % limits must not be shown to miss, and the chance of the interval that shows it.
LEAST, MOST, LEAST_DISCRETE, SURE = 0.93, 0.97, 0.92, 0.99
LEAST_REAL = 0.90
#: Failures of a fleet → the share of fleets that may be refused.
REFUSED_AT_MOST = {300: 0.05, 3000: 0.0}


class Kind(StrEnum):
    """How an estimate is told from the truth."""

    RATIO = "ratio"  # by its ratio: lives, shapes
    SHARE = "share"  # by its difference, in points of a hundred
    PLAIN = "plain"  # by its difference
    LIMIT = "limit"  # not at all: it is a limit and no estimate


class Rule(StrEnum):
    """What is asked of the limits."""

    EXACT = "exact"  # 93 to 97 %
    DISCRETE = "discrete"  # small shares, averaged over the truth: from 92 %
    AT_LEAST = "at_least"  # limits made to hold at least that often, or with a truth at the edge: from 93 %
    GATED = "gated"  # as EXACT, refused wherever the log cannot tell
    REAL = "real"  # under full realism: from 90 %, or the screens say so
    LOSS_10 = "loss_10"  # the price of a bid that may lose in 10 % ± 2 points of lots; refused where even 0 loses more often
    LOSS_20 = "loss_20"  # 20 % likewise
    RARELY = "rarely"  # wrong in at most 2 %
    FALSE_5 = "false_5"  # a false alarm in at most 5 %
    FALSE_1 = "false_1"  # a false alarm in at most 1 %
    FORECAST_90 = "forecast_90"  # 90 % limits of what is still to come, in whole numbers: from 88 to 97 %
    SHOWN = "shown"  # nothing is asked: what a known wrong assumption costs


@dataclass(frozen=True)
class Sample:
    """Estimates with limits and the truth of each; NaN where not given. fleet: what they belong to."""

    estimate: np.ndarray
    low: np.ndarray
    high: np.ndarray
    truth: np.ndarray
    fleet: np.ndarray
    kind: Kind
    rule: Rule

    @classmethod
    def of(
        cls,
        estimates: Iterable[Estimate],
        truth: float | Sequence[float],
        kind: Kind = Kind.RATIO,
        rule: Rule = Rule.EXACT,
        fleet: Sequence[int] | None = None,
    ) -> Sample:
        values = np.array([(one.estimate, one.low, one.high) for one in estimates], dtype=float).reshape(-1, 3)
        truths = np.broadcast_to(np.asarray(truth, dtype=float), len(values))
        fleets = np.arange(len(values)) if fleet is None else np.asarray(fleet)
        return cls(*values.T, truths, fleets, kind, rule)

    @classmethod
    def joined(cls, samples: Sequence[Sample]) -> Sample:
        """Return the samples of separate fleets as one."""
        starts = np.cumsum([0] + [one.fleet.max(initial=-1) + 1 for one in samples])
        fleet = np.concatenate([one.fleet + start for one, start in zip(samples, starts, strict=False)])
        columns = (np.concatenate([getattr(one, name) for one in samples]) for name in ("estimate", "low", "high", "truth"))
        return cls(*columns, fleet, samples[0].kind, samples[0].rule)


@dataclass(frozen=True)
class Line:
    """One estimate at one number of failures. Shares are 0 to 1; bias is in hundredths, of the truth or of a share."""

    what: str
    failures: int
    fleets: int
    refused: float
    coverage: float | None
    interval: tuple[float, float] | None
    truth_below: float
    truth_above: float
    bias: float | None
    bias_error: float | None
    verdict: str


def scored(what: str, failures: int, sample: Sample) -> Line:
    """Judge one sample.

    A limit that is not reached counts as none on that side.
    """
    fleets = int(sample.fleet.max(initial=-1)) + 1
    refused = float(np.isnan(sample.estimate).mean()) if len(sample.estimate) else 1.0
    is_given = ~(np.isnan(sample.low) & np.isnan(sample.high))
    below, above = (sample.truth < sample.low)[is_given], (sample.truth > sample.high)[is_given]
    covered = ~below & ~above
    if not len(covered):
        return Line(
            what,
            failures,
            fleets,
            refused,
            None,
            None,
            0.0,
            0.0,
            None,
            None,
            _verdict(sample.rule, failures, refused, None, None),
        )
    interval = _interval(covered, sample.fleet[is_given])
    verdict = _verdict(sample.rule, failures, refused, float(covered.mean()), interval)
    bias, error = _bias(sample)
    return Line(
        what, failures, fleets, refused, float(covered.mean()), interval, below.mean(), above.mean(), bias, error, verdict
    )


def _interval(covered: np.ndarray, fleet: np.ndarray) -> tuple[float, float]:
    """Return the binomial interval of a coverage; estimates of one fleet, which go together, count as so many fewer."""
    from scipy.special import betaincinv

    number, share, tail = len(covered), covered.mean(), (1 - SURE) / 2
    _, place = np.unique(fleet, return_inverse=True)
    if place.max() + 1 < number:
        together = (np.bincount(place, weights=covered - share) ** 2).sum()
        alone = number * share * (1 - share)
        number = number * alone / max(together, alone) if alone else place.max() + 1
    hits = share * number
    low = betaincinv(hits, number - hits + 1, tail) if share > 0 else 0.0
    high = betaincinv(hits + 1, number - hits, 1 - tail) if share < 1 else 1.0
    return float(low), float(high)


def _bias(sample: Sample) -> tuple[float | None, float | None]:
    is_known = np.isfinite(sample.estimate) & (sample.kind is not Kind.LIMIT)
    estimate, truth = sample.estimate[is_known], sample.truth[is_known]
    if len(estimate) < 2:
        return None, None
    apart = np.log(estimate / truth) if sample.kind is Kind.RATIO and (estimate > 0).all() else estimate - truth
    return 100 * float(apart.mean()), 100 * float(apart.std(ddof=1) / np.sqrt(len(np.unique(sample.fleet[is_known]))))


def _verdict(rule: Rule, failures: int, refused: float, coverage: float | None, interval: tuple[float, float] | None) -> str:
    bounds = {
        Rule.DISCRETE: (LEAST_DISCRETE, 1.0), Rule.AT_LEAST: (LEAST, 1.0),
        Rule.LOSS_10: (0.88, 0.92), Rule.LOSS_20: (0.78, 0.82), Rule.RARELY: (0.98, 1.0), Rule.FORECAST_90: (0.88, 0.97),
        Rule.FALSE_5: (0.95, 1.0), Rule.FALSE_1: (0.99, 1.0),
    }  # fmt: skip
    least, most = bounds.get(rule, (LEAST, MOST))
    faults = []
    if rule is Rule.SHOWN:
        return "not judged"
    if rule is Rule.REAL:
        return "under 90 %" if interval and coverage < LEAST_REAL else "holds"
    if interval and interval[1] < least:
        faults.append("covers too little")
    if interval and interval[0] > most:
        faults.append("covers too much")
    if rule not in (Rule.GATED, Rule.LOSS_10, Rule.LOSS_20) and refused > REFUSED_AT_MOST.get(failures, 1.0):
        faults.append("refuses too often")
    return ", ".join(faults) or "holds"


def table(lines: Iterable[Line]) -> str:
    """Return the lines as a Markdown table, a row for each estimate and a cell for each number of failures.

    A cell: coverage and its 99 % interval in percent, bias, what was refused, and the verdict unless it holds.
    """
    by_what: dict[str, dict[int, Line]] = {}
    for one in lines:
        by_what.setdefault(one.what, {})[one.failures] = one
    sizes = sorted({size for found in by_what.values() for size in found})
    rows = ["| estimate | fleets | " + " | ".join(f"{size:,} failures" for size in sizes) + " |", "|---" * (len(sizes) + 2) + "|"]
    for what, found in by_what.items():
        fleets = max(one.fleets for one in found.values())
        rows.append(f"| {what} | {fleets:,} | " + " | ".join(_cell(found[size]) for size in sizes) + " |")
    return "\n".join(rows)


def _cell(line: Line) -> str:
    said = (
        ["–"] if line.interval is None else ["{:.1f} ({:.1f}–{:.1f})".format(*(100 * x for x in (line.coverage, *line.interval)))]
    )
    if line.bias is not None:
        said.append(f"{line.bias:+.1f}")
    if line.refused:
        said.append(f"refused {100 * line.refused:.1f}")
    if line.verdict in ("holds", "not judged"):
        return "; ".join(said)
    return "; ".join([*said, f"**{line.verdict}**"])


def told(line: Line) -> str:
    """Return one line in words, with what the table leaves out: on which side the limits missed, and the error of the bias."""
    bias = "" if line.bias is None else f", bias {line.bias:+.2f} ± {line.bias_error:.2f}"
    missed = f"truth below {line.truth_below:.1%}, above {line.truth_above:.1%}"
    return f"{line.what}, {line.failures:,} failures, {line.fleets:,} fleets: {_cell(line)}; {missed}{bias}"
