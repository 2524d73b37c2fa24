"""A log of two supplier batches beside each other: one like any, and one of a kind of its own, lives in days."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

from tests.answers.logs import Log

BEGIN, DAYS = dt.date(2025, 1, 1), 300
_HEAD = (
    "job_id unit_id received_on stick family site_id action outcome part_batch_fitted part_batch_found visit_reason finding "
    "failure_mechanism"
)


def patterned_log(
    folder: Path, *, shape: float = 2.0, scale: float = 200.0, size: int = 80, others: int = 240,
    own_site: str | None = None, blank: float = 0.0,
) -> Log:  # fmt: skip
    """Return a log in which the modules of batch ODD have lives of this Weibull law, mostly worn, those of PLAIN of shape 2 and
    scale 200, mostly dusty.

    Each module is in a controller of its own, fitted on the tenth day. own_site: where all of ODD is; blank: share of the
    failures without a mechanism.
    """
    rng = np.random.default_rng(1)
    batches = ["ODD"] * size + ["PLAIN"] * others
    lives = np.where(
        np.arange(size + others) < size, scale * rng.weibull(shape, size + others), 200 * rng.weibull(2, size + others)
    )
    jobs, units = [], []
    for number, (batch, life) in enumerate(zip(batches, np.ceil(lives).astype(int), strict=True)):
        unit, site = f"U{number:04d}", ("north", "south")[number % 2]
        if own_site is not None and batch == "ODD":
            site = own_site
        units.append(f"{unit} Nolm S {BEGIN} new {site} normal")
        fitted = BEGIN + dt.timedelta(days=9)
        jobs.append(
            f"J{2 * number} {unit} {fitted} S Nolm {site} replace_module pass {batch} - fault_report fault_confirmed track_wear"
        )
        if life <= DAYS:
            found = "contamination" if rng.random() < (0.2 if batch == "ODD" else 0.7) else "track_wear"
            found = "-" if rng.random() < blank else found
            day = fitted + dt.timedelta(days=int(life))
            jobs.append(
                f"J{2 * number + 1} {unit} {day} S Nolm {site} clean_open pass - {batch} fault_report fault_confirmed {found}"
            )
    last = BEGIN + dt.timedelta(days=10 + DAYS)
    units.append(f"ULAST Nolm S {BEGIN} new north normal")
    jobs.append(f"JLAST ULAST {last} S Nolm north test_only pass - - check no_fault_found -")
    return Log(
        folder, jobs="\n".join([_HEAD, *jobs]),
        units="\n".join(["unit_id family sticks in_service_on new_or_used site_id usage_class", *units]),
    )  # fmt: skip
