"""Shares of lots against two published beta-binomials by maximum likelihood; sources in cases.json.

What they prove: that a new lot is drawn with the middle, mean and spread of the published law between groups, although
ours is logit-normal; and, where groups are few, somewhat wider, because nothing is plugged in.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import beta

from pipelines.estimates.crossed_share import crossed_share
from tests.published.cases import load_case, rows_of


@pytest.mark.parametrize(("case_id", "wider"), [("betabinom_rat", (0.95, 1.2)), ("betabinom_surgical", (1.0, 1.7))])
def test_a_new_lot_is_drawn_from_the_published_law_between_groups(case_id, wider):
    case = load_case(case_id)
    rows = rows_of(case)
    lots = pd.DataFrame(
        {
            "condition": "c",
            "family": "F",
            "seller": None,
            "lot": range(len(rows)),
            "k": rows["y"].to_numpy(),
            "n": rows["n"].to_numpy(),
        }
    )
    listing = {"condition": "c", "families": ["F"], "seller": None, "count": 40_000, "rng": np.random.default_rng(1)}
    drawn = crossed_share(lots).draws(**listing)[:, 0]
    law = beta(case.expected["alpha_ml"], case.expected["beta_ml"])
    assert np.median(drawn) == pytest.approx(law.median(), rel=0.06)
    assert drawn.mean() == pytest.approx(law.mean(), rel=0.06)
    spread, published = (np.diff(one)[0] for one in (np.quantile(drawn, [0.1, 0.9]), law.ppf([0.1, 0.9])))
    assert wider[0] < spread / published < wider[1]
