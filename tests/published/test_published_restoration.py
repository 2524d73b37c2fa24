"""Virtual-age likelihoods and fits against published and recomputed values, each at its case's tolerance."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipelines.estimates.restoration import Memory, log_likelihood
from pipelines.estimates.restoration_gaps import chained, checked
from pipelines.estimates.restoration_likelihood import Likelihood
from pipelines.estimates.restoration_maximum import Model, top_of
from tests.published.cases import Case, case_ids, load_case, rows_of

#: Only a Weibull hazard is fitted here.
LIKELIHOODS = [one for one in case_ids("vage_loglik_") if load_case(one).params["baseline"] == "Weibull"]
MEMORY = {"ARAInf": Memory.WHOLE, "ARA1": Memory.LAST, "AGAN": Memory.WHOLE, "ABAO": Memory.WHOLE}
ENGINES = {
    "vage_mle_orengines_ARA1_PMARA1": ("ARA1", "ARA1"),
    "vage_mle_orengines_ARAInf_PMAGAN": ("ARAInf", "AGAN"),
    "vage_mle_orengines_ABAO_PMAGAN": ("ABAO", "AGAN"),
}


def gaps_of(events: pd.DataFrame) -> pd.DataFrame:
    """Return the gaps between the events of each system: type -1 failed and repaired, 1, 2 planned, 0 end."""
    before = events.groupby("System").shift()
    length = events["Time"] - before["Time"].fillna(0)
    return pd.DataFrame(
        {
            "module": events["System"],
            "gap_number": events.groupby("System").cumcount() + 1,
            "cluster": events["System"],
            "depth": before["Type"].map("{:.0f}".format, na_action="ignore"),
            "entry": 0.0,
            "lower": length,
            "upper": length.where(events["Type"] == -1, np.inf),
        }
    )


def events_of(case: Case) -> pd.DataFrame:
    if "times" in case.data:
        return pd.DataFrame({"System": 1, "Time": case.data["times"], "Type": -1.0})
    if "columns" in case.data:
        return pd.DataFrame({"System": 1, **case.data["columns"]})
    return rows_of(case)


def fit(case: Case, effects: dict[str, str]) -> dict:
    """Return the top of the likelihood without differences between systems, in the names of the source."""
    chain = chained(checked(gaps_of(events_of(case))), kinds=tuple(effects))
    held = np.array([{"AGAN": 0.0, "ABAO": 1.0}.get(one, np.nan) for one in effects.values()])
    is_whole = np.array([MEMORY[one] is Memory.WHOLE for one in effects.values()])
    model = Model(Likelihood(chain, is_whole), held, has_variance=False)
    top = top_of(model)
    c, shape, kept, _ = model.natural(top.x)
    error = np.sqrt(np.diag(np.linalg.inv(top.curvature)))
    free = kept[model.free]
    return {
        "beta": shape,
        "eta": chain.unit * np.exp(-c / shape),
        "rho": (1 - free).tolist(),
        "loglik": top.value,
        "se_beta": shape * error[1],
        "se_rho": (free * (1 - free) * error[2:]).tolist(),
    }


@pytest.mark.parametrize("case_id", LIKELIHOODS)
def test_the_likelihood_at_given_values_comes_out_as_published(case_id):
    case = load_case(case_id)
    effects, (rate, shape, *rho) = case.params["effects"], case.params["theta"]
    given = iter(rho)
    found = log_likelihood(
        gaps_of(events_of(case)),
        shape=shape,
        scale=rate ** (-1 / shape),
        restoration_share={kind: 1.0 if effect == "AGAN" else next(given) for kind, effect in effects.items()},
        memory={kind: MEMORY[effect] for kind, effect in effects.items()},
    )
    assert found == pytest.approx(case.expected["loglik"], rel=case.rel_tol)


@pytest.mark.parametrize("case_id", LIKELIHOODS)
def test_the_slopes_at_given_values_come_out_as_published(case_id):
    case = load_case(case_id)
    effects, (rate, shape, *rho) = case.params["effects"], case.params["theta"]
    chain = chained(checked(gaps_of(events_of(case))), kinds=tuple(effects))
    given = iter(rho)
    kept = np.array([0.0 if effect == "AGAN" else 1 - next(given) for effect in effects.values()])
    likelihood = Likelihood(chain, np.array([MEMORY[effect] is Memory.WHOLE for effect in effects.values()]))
    slopes = likelihood.slopes(np.log(rate) + shape * np.log(chain.unit), shape, kept, 0.0)
    # In the source the hazard is a·b·t^(b−1): c = log a + b·log unit.
    by_rho = [-slope for slope, effect in zip(slopes.kept, effects.values(), strict=True) if effect != "AGAN"]
    found = [slopes.c / rate, slopes.shape + slopes.c * np.log(chain.unit), *by_rho]
    assert found == pytest.approx(case.expected["gradient"], rel=case.rel_tol, abs=1e-9)


@pytest.mark.parametrize("effect", ["ARA1", "ARAInf"])
def test_the_fit_of_one_car_comes_out_as_computed_elsewhere(effect):
    case = load_case(f"vage_mle_amc_{effect}")
    found = fit(case, {"-1": effect})
    for name in ("eta", "beta", "loglik", "se_beta"):
        assert found[name] == pytest.approx(case.expected[name], rel=case.rel_tol), name
    assert found["rho"] == pytest.approx([case.expected["rho"]], rel=case.rel_tol)
    assert found["se_rho"] == pytest.approx([case.expected["se_rho"]], rel=case.rel_tol)
    for limit, name in (("ABAO", "lr_vs_abao"), ("AGAN", "lr_vs_agan")):
        drop = 2 * (found["loglik"] - fit(case, {"-1": limit})["loglik"])
        assert drop == pytest.approx(case.expected[name], rel=case.rel_tol), name


@pytest.mark.parametrize("effect", ["ABAO", "AGAN"])
def test_as_bad_as_old_and_as_good_as_new_come_out_in_closed_form(effect):
    case = load_case("vage_mle_amc_bounds")
    found = fit(case, {"-1": effect})
    for name in ("beta", "eta", "loglik"):
        assert found[name] == pytest.approx(case.expected[f"{effect.lower()}_{name}"], rel=case.rel_tol), name


@pytest.mark.parametrize("case_id", ENGINES)
def test_the_fit_of_many_engines_with_planned_work_comes_out_as_computed_elsewhere(case_id):
    case = load_case(case_id)
    found = fit(case, dict(zip(("-1", "1"), ENGINES[case_id], strict=True)))
    for name in ("eta", "beta", "loglik", "rho", "se_rho"):
        assert found[name] == pytest.approx(case.expected[name], rel=case.rel_tol), name
