"""Sticks played out one by one, cleaned by plan and after faults: the referee of the long-run rates."""

from __future__ import annotations

import numpy as np

from pipelines.estimates.renewal_cost import Renewal


def played_out(law: Renewal, after: float, *, sticks: int, hours: float, seed: int) -> tuple[float, float]:
    """Return faults and planned cleans per hour of so many sticks; the first third of the time is not counted."""
    rng = np.random.default_rng(seed)
    age, now, since = (np.zeros(sticks) for _ in range(3))
    faults = cleans = 0
    start = hours / 3
    while (running := now < hours).any():
        until = law.scale * ((age / law.scale) ** law.shape + rng.exponential(size=sticks)) ** (1 / law.shape) - age
        other = rng.exponential(size=sticks) / max(law.other_rate, 1e-15)
        step = np.minimum(np.minimum(until, other), after - since)
        kind = np.argmin([until, other, after - since], axis=0)
        is_seen = running & (now + step < hours) & (now + step > start)
        faults += int((is_seen & (kind < 2)).sum())
        cleans += int((is_seen & (kind == 2)).sum())
        luck, worn = rng.random(sticks), age + step
        is_patched = (kind == 0) & (luck < law.patched_share)
        is_new = (kind == 1) | ((kind == 0) & ~is_patched & (luck < law.patched_share + law.replaced_share))
        kept = np.where(kind == 2, law.planned_kept, law.fault_kept)
        age = np.where(is_new, 0.0, np.where(is_patched, worn, kept * worn))
        since = np.where(is_patched, since + step, 0.0)
        now = np.where(running, now + step, now)
    return faults / (sticks * (hours - start)), cleans / (sticks * (hours - start))
