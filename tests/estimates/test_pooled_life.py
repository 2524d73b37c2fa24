"""Pooled lives: against the posterior integrated by brute force, closed forms, known truth, and at their edges."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.errors import InputError
from pipelines.estimates.pooled_life import B10, _life_quantiles, pooled_life
from pipelines.estimates.pooled_life_grid import TAU_SD, FamilyCounts, LifePosterior
from pipelines.estimates.weibull import weibull
from pipelines.vocabulary import Because
from tests.estimates.spells import random_spells, table, visited

TINY = table("""
family entry lower upper spell_count
F 0 310 310 1
F 0 420 420 1
F 100 700 inf 2
F 0 150 150 1
G 0 900 900 1
G 250 1100 1100 1
G 0 1300 inf 1
G 0 640 640 1
H 0 500 inf 3
""")


def fleet(rng: np.random.Generator, *, families: int, spells: int, log_sd: float = 0.2, shape: float = 2.0):
    """Return spells, a fifth of them entered late, and each family's true scale; lives differ by log_sd."""
    family = rng.integers(0, families, spells)
    scale = 800 * np.exp(rng.normal(0, log_sd, families))
    failure = scale[family] * rng.weibull(shape, spells)
    entry = np.where(rng.random(spells) < 0.2, rng.uniform(0, 600, spells), 0.0)
    censor = entry + rng.uniform(1, 1500, spells)
    at = np.minimum(failure, censor)
    rows = pd.DataFrame({"family": family, "entry": entry, "lower": at, "upper": np.where(failure <= censor, at, np.inf)})
    return rows[failure > entry].assign(spell_count=1), scale


def numbers(lives, *, factor: float = 1.0) -> list[float]:
    found = [lives.shape.low, lives.shape.estimate, lives.shape.high]
    for one in [*lives.families, lives.unseen]:
        for life in (one.b10, one.median):
            found += [life.low / factor, life.estimate / factor, life.high / factor]
    return found


def brute_force(spells: pd.DataFrame, *, at: list[float], family: str | None) -> list[float]:
    """Return P(b10 < t) for each t, by summing likelihood × prior over a wide, even grid of (log β, log τ, log μ).

    Straight from the definition: the likelihood of each failure and each stretch at risk, the gamma prior of the rate
    integrated in closed form. family None: one never seen.
    """
    from scipy.special import gammaincc, gammaln

    unit = 1000.0
    shape = np.exp(np.linspace(np.log(0.03), np.log(12), 130))[:, None, None]
    tau = np.exp(np.linspace(np.log(0.03), np.log(3), 120))[None, :, None]
    a = tau**-2
    # μ in multiples of what all families together show, which only moves the window of the grid.
    rows = [(f, *(spells.loc[spells["family"] == f, name].to_numpy(float) / unit for name in ("entry", "lower", "upper")),
             spells.loc[spells["family"] == f, "spell_count"].to_numpy()) for f in sorted(spells["family"].unique())]  # fmt: skip
    exposure = {
        f: sum(w * (t**shape - e**shape) for e, t, w in zip(entry, lower, count, strict=True))
        for f, entry, lower, _, count in rows
    }
    failed = {f: lower[np.isfinite(upper)].repeat(count[np.isfinite(upper)]) for f, _, lower, upper, count in rows}
    mean = np.exp(np.linspace(-12, 12, 200))[None, None, :] * sum(map(len, failed.values())) / sum(exposure.values())
    log_weight = np.log(tau) - tau**2 / (2 * TAU_SD**2) - np.log(shape)
    for f, times in failed.items():
        log_weight = log_weight + len(times) * np.log(shape) + (shape - 1) * np.log(times).sum()
        log_weight = log_weight + a * np.log(a / mean) + gammaln(a + len(times)) - gammaln(a)
        log_weight = log_weight - (a + len(times)) * np.log(a / mean + exposure[f])
    weight = np.exp(log_weight - log_weight.max())
    d, e = (len(failed[family]), exposure[family]) if family else (0, 0.0)
    chances = [gammaincc(a + d, (a / mean + e) * -np.log(0.9) * (t / unit) ** -shape) for t in at]
    return [float((weight * one).sum() / weight.sum()) for one in chances]


@pytest.mark.parametrize("family", ["F", "G", "H", None])
def test_b10_has_the_limits_of_the_whole_posterior(family):
    lives = pooled_life(TINY, by=["family"])
    b10 = (lives.unseen if family is None else next(one for one in lives.families if one.by == (family,))).b10
    chances = brute_force(TINY, at=[b10.low, b10.estimate, b10.high], family=family)
    assert chances == pytest.approx([0.025, 0.5, 0.975], abs=0.003)


def test_one_family_alone_has_the_exact_conditional_limits():
    # Lawless (1978), Technometrics 20:355–368 (from memory): with even priors of log β and the log scale the posterior of one
    # complete sample is the exact distribution given its ancillaries. One dimension is left, for scipy to integrate.
    from scipy.integrate import quad
    from scipy.special import gammaincc

    times = np.array([93.0, 210, 260, 340, 371, 402, 588, 640, 811])
    rows = pd.DataFrame({"family": "F", "entry": 0.0, "lower": times, "upper": times, "spell_count": 1})
    lives = pooled_life(rows, by=["family"])
    scaled, d = times / 500, len(times)

    def density(log_shape: float) -> float:
        shape = np.exp(log_shape)
        return np.exp((d - 1) * log_shape + shape * np.log(scaled).sum() - d * np.log((scaled**shape).sum()) + 25)

    def chance(of) -> float:
        window = np.log([0.1, 12])
        return quad(lambda b: density(b) * of(np.exp(b)), *window, epsrel=1e-9)[0] / quad(density, *window, epsrel=1e-9)[0]

    for limit, share in ((lives.shape.low, 0.025), (lives.shape.estimate, 0.5), (lives.shape.high, 0.975)):
        assert chance(lambda shape, limit=limit: float(shape < limit)) == pytest.approx(share, abs=1e-3)
    b10 = lives.families[0].b10
    for limit, share in ((b10.low, 0.025), (b10.estimate, 0.5), (b10.high, 0.975)):
        below = chance(lambda b, t=limit: gammaincc(d, (scaled**b).sum() * B10 * (t / 500) ** -b))
        assert below == pytest.approx(share, abs=2e-3)


def test_with_everything_known_but_the_rate_the_limits_are_those_of_chi_squared():
    # 2 E λ is chi-squared with 2 d degrees of freedom: the limits of any table of failure rates.
    from scipy.stats import chi2

    d, exposure, shape = 3.0, 7.0, 1.7
    known = LifePosterior(0.0, np.ones(1), np.array([shape]), np.array([[d]]), np.log([[exposure]]), np.zeros(1), np.zeros(1))
    rate = chi2.ppf([0.975, 0.5, 0.025], 2 * d) / (2 * exposure)
    log_life = _life_quantiles(known, B10, np.array([0.025, 0.5, 0.975]))[:, 0]
    assert np.exp(log_life) == pytest.approx((B10 / rate) ** (1 / shape), rel=1e-6)


def test_very_many_failures_leave_nothing_to_borrow():
    spells = random_spells(3, spells=60_000, groups=3).rename(columns={"group": "family"})
    for pooled, alone in zip(pooled_life(spells, by=["family"]).families, weibull(spells, by=["family"]), strict=True):
        assert pooled.median.estimate == pytest.approx(alone.median.estimate, rel=0.005)
        assert pooled.failures == alone.failures


@pytest.mark.parametrize(("spells", "fleets"), [(95, 70), (800, 40), (2600, 25)])
def test_limits_cover_the_truth_and_pooled_lives_are_nearer_to_it_than_raw_ones(spells, fleets):
    # Reference: .94 to .957 at 49 to 1,325 failures, error of the log median .18 against .33 raw at 49.
    rng = np.random.default_rng(spells)
    covered, error, raw_error, failures = [], [], [], []
    for _ in range(fleets):
        rows, scale = fleet(rng, families=30, spells=spells)
        lives = pooled_life(rows, by=["family"])
        failures.append(sum(one.failures for one in lives.families))
        for one in lives.families:
            for life, hazard in ((one.b10, B10), (one.median, np.log(2))):
                covered.append(life.low <= scale[one.by[0]] * hazard**0.5 <= life.high)
            error.append(np.log(one.median.estimate / (scale[one.by[0]] * np.log(2) ** 0.5)))
        for one in weibull(rows, by=["family"], min_failures=2):
            if not one.because:
                raw_error.append(np.log(one.median.estimate / (scale[one.by[0]] * np.log(2) ** 0.5)))
    assert 0.93 <= np.mean(covered) <= 0.975
    assert np.sqrt(np.mean(np.square(error))) < {95: 0.6, 800: 0.8, 2600: 0.97}[spells] * np.sqrt(np.mean(np.square(raw_error)))


@pytest.mark.parametrize(("every", "within"), [(80.0, 0.01), (160.0, 0.015), (320.0, 0.03)])
def test_failures_found_at_visits_give_the_lives_of_those_that_were_seen_to_fail(every, within):
    # .1, .2 and .4 of the scale; dated at the visit, B10 would be 19, 31 and 57 % too long.
    spells = random_spells(40, spells=6000, groups=2, shape=2.0, late_share=0.0).rename(columns={"group": "family"})
    exact, seen = pooled_life(spells, by=["family"]), pooled_life(visited(spells, every=every), by=["family"])
    assert seen.shape.estimate == pytest.approx(exact.shape.estimate, rel=within)
    for one, other in zip(exact.families, seen.families, strict=True):
        assert other.b10.estimate == pytest.approx(one.b10.estimate, rel=within)
        assert other.median.estimate == pytest.approx(one.median.estimate, rel=within)


def test_intervals_stand_in_for_their_exact_chance_to_second_order():
    rows = pd.DataFrame({"f": ["F", "F"], "entry": [0.0, 0.0], "lower": [2.0, 0.0], "upper": [3.0, 1.0], "spell_count": [4, 2]})
    from pipelines.estimates.lives import checked

    counts = FamilyCounts.of(checked(rows, by=["f"], entries=None))
    shape, rate = np.array([1.5]), 0.1
    exact = 4 * np.log(np.exp(-rate * 2**1.5) - np.exp(-rate * 3**1.5)) + 2 * np.log(-np.expm1(-rate))
    # Times run in units of the longest, 3.
    ours = (
        counts.log_density(shape)[0]
        + 6 * 1.5 * np.log(3)
        + 6 * np.log(rate)
        - rate * np.exp(counts.log_exposure(shape)[0, 0]) * 3**1.5
    )
    correction = 4 * (rate * (3**1.5 - 2**1.5)) ** 2 / 24 + 2 * rate**2 / 24
    assert ours == pytest.approx(exact, abs=0.02)
    assert ours + correction == pytest.approx(exact, abs=1e-4)


def test_rescaled_time_permuted_rows_and_counts_give_the_same_lives():
    spells, _ = fleet(np.random.default_rng(5), families=6, spells=150)
    spells = spells.assign(entry=np.floor(spells["entry"] / 20) * 20, lower=np.ceil(spells["lower"] / 20) * 20)
    spells["upper"] = spells["lower"].where(np.isfinite(spells["upper"]), np.inf)
    plain = pooled_life(spells, by=["family"])
    shuffled = pooled_life(spells.sample(frac=1, random_state=1), by=["family"])
    counted = pooled_life(
        spells.groupby(["family", "entry", "lower", "upper"], as_index=False)["spell_count"].sum(), by=["family"]
    )
    days = pooled_life(spells.assign(**{name: spells[name] / 24 for name in ("entry", "lower", "upper")}), by=["family"])
    entries = spells[spells["entry"] > 0].groupby(["family", "entry"], as_index=False)["spell_count"].sum()
    apart = pooled_life(spells.drop(columns="entry"), by=["family"], entries=entries)
    for other, factor in ((shuffled, 1), (counted, 1), (apart, 1), (days, 1 / 24)):
        assert numbers(other, factor=factor) == pytest.approx(numbers(plain), rel=1e-6)
    assert np.array_equal(shuffled.draws(20)[1], plain.draws(20)[1])


def test_draws_come_from_the_posterior_of_the_limits_and_are_the_same_in_every_call():
    lives = pooled_life(fleet(np.random.default_rng(6), families=5, spells=120)[0], by=["family"])
    shape, scale = lives.draws(40_000)
    b10 = scale * B10 ** (1 / shape[:, None])
    for place, one in enumerate([*lives.families, lives.unseen]):
        found = np.quantile(b10[:, place], [0.025, 0.5, 0.975])
        assert np.log(found) == pytest.approx(np.log([one.b10.low, one.b10.estimate, one.b10.high]), abs=0.05)
    # The shapes drawn are those of the grid.
    assert list(np.quantile(shape, [0.025, 0.975])) == pytest.approx([lives.shape.low, lives.shape.high], rel=0.04)
    assert np.array_equal(lives.draws()[1], lives.draws()[1])


def test_a_family_without_failures_and_one_never_seen_have_limits():
    lives = pooled_life(TINY, by=["family"])
    assert [(one.by, one.spells, one.failures, one.is_borrowed) for one in lives.families] == [
        (("F",), 5, 3, False), (("G",), 4, 3, False), (("H",), 3, 0, False),
    ]  # fmt: skip
    assert (lives.unseen.by, lives.unseen.is_borrowed) == ((), True)
    assert lives.families[2].b10.low > lives.unseen.b10.low
    assert lives.unseen.b10.high / lives.unseen.b10.low > lives.families[0].b10.high / lives.families[0].b10.low


def test_longer_without_a_failure_means_longer_lives():
    short = pooled_life(TINY, by=["family"]).families[2]
    long = pooled_life(TINY.assign(lower=TINY["lower"].where(TINY["family"] != "H", 2000)), by=["family"]).families[2]
    assert long.median.low > 1.3 * short.median.low


def test_a_wider_level_gives_wider_limits():
    narrow, wide = (pooled_life(TINY, by=["family"], level=level) for level in (0.8, 0.99))
    assert wide.shape.low < narrow.shape.low < narrow.shape.high < wide.shape.high
    for one, other in zip(narrow.families, wide.families, strict=True):
        assert other.b10.low < one.b10.low < one.b10.high < other.b10.high


HEAD = "family entry lower upper spell_count\n"


@pytest.mark.parametrize(
    ("rows", "because"),
    [
        ("", Because.NO_SPELLS),
        ("F 0 300 300 0", Because.NO_SPELLS),
        ("F 0 500 inf 40\nG 0 100 inf 1", Because.NO_FAILURES),
        ("F 0 500 inf 40\nG 0 100 100 1", Because.TOO_FEW_FAILURES),
        ("F 0 300 300 9", Because.FIT_FAILED),
        ("F 0 0 200 9", Because.FIT_FAILED),
    ],
)
def test_what_cannot_be_told_is_a_reason_and_not_a_number(rows, because):
    lives = pooled_life(table(HEAD + rows), by=["family"])
    assert lives.because is because
    for one in [*lives.families, lives.unseen]:
        assert (one.b10.estimate, one.median.estimate, one.b10.because, one.median.because) == (None, None, because, because)
    assert lives.shape.because is because
    assert lives.draws()[1].shape == (0, len(lives.families) + 1)


AWKWARD = [
    "F 0 300 300 3\nF 0 310 310 3",
    "F 0 1 1 1\nF 0 9e5 9e5 1\nG 0 30 30 1\nG 0 2 2 1\nH 0 4e4 4e4 1\nH 0 8 8 1",
    "F 0 300 300 9\nG 0 700 700 3\nG 0 200 inf 5",
    "\n".join(f"F{n} 0 {100 + n} {100 + n} 1" for n in range(7)),
    "F 0 100 200 3\nF 0 200 300 3\nG 0 200 inf 5",
]


@pytest.mark.parametrize("rows", AWKWARD)
def test_awkward_logs_have_finite_answers_in_order(rows):
    lives = pooled_life(table(HEAD + rows), by=["family"])
    assert lives.because is None
    for one in [*lives.families, lives.unseen]:
        for life in (one.b10, one.median):
            low, high = life.low or 0.0, np.inf if life.high is None else life.high
            assert 0 <= low < life.estimate < high
            assert np.isfinite(life.estimate)


def test_a_thousand_families_all_get_a_life():
    rows, _ = fleet(np.random.default_rng(8), families=1000, spells=20_000)
    assert len(pooled_life(rows, by=["family"]).families) == 1000


def test_a_spell_that_ends_before_it_begins_is_refused():
    with pytest.raises(InputError, match="enters at or after its end"):
        pooled_life(table(HEAD + "F 300 200 200 9"), by=["family"])
    with pytest.raises(InputError, match="not a probability"):
        pooled_life(TINY, by=["family"], level=95)
