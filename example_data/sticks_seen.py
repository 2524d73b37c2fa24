"""The sticks looked at in one round of visits: what every kind of work on them has in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from example_data.register import Register


@dataclass(frozen=True)
class StickRow:
    """What is the same for every kind of work: one entry per stick looked at."""

    unit: np.ndarray
    slot: np.ndarray
    day: np.ndarray
    back: np.ndarray
    reason: np.ndarray
    finding: np.ndarray
    hours: np.ndarray
    is_bad: np.ndarray

    def at(self, chosen) -> StickRow:
        return StickRow(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    def columns(self, register: Register) -> dict[str, np.ndarray]:
        return {
            "unit": self.unit, "slot": self.slot, "family": register.family[self.unit], "site": register.site[self.unit],
            "day": self.day, "closed_day": self.back, "returned_day": self.back, "reason": self.reason,
            "finding": self.finding, "usage_h": self.hours, "is_bad_found": self.is_bad,
        }  # fmt: skip
