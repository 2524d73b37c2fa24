"""Collected job rows, as whole columns: pieces are added round by round and joined once."""

from __future__ import annotations

import numpy as np

REASONS = ("fault_report", "warranty_return", "preventive", "lot_intake", "incoming_inspection", "check", "unknown")
REPORT, WARRANTY, PREVENTIVE, INTAKE, INCOMING, CHECK, REASON_UNKNOWN = range(7)
FINDINGS = ("fault_confirmed", "intermittent", "no_fault_found", "not_tested")
CONFIRMED, INTERMITTENT, NO_FAULT, NOT_TESTED = range(4)

#: Columns of one job row and what stands for "not filled".
BLANK: dict[str, float | int] = {
    "unit": 0, "slot": 0, "family": 0, "site": 0, "module_no": 0, "day": 0, "closed_day": 0, "returned_day": -9999,
    "reason": 0, "finding": 0, "mode": -1, "mechanism": -1, "step_1": 0, "step_2": 0, "step_3": 0, "final": 0,
    "outcome": 0, "usage_h": np.nan, "fitted_day": -9999, "is_start_known": 0, "batch_found": -1, "batch_fitted": -1,
    "severity": np.nan, "is_bad_left": 0, "is_bad_found": 0, "technician": 0, "warranty_days": -1, "lot": -1,
    "claim_slot_of": -1, "disposition": 0,
}  # fmt: skip


class Rows:
    """A growing table of job rows held as numpy pieces."""

    def __init__(self, blank: dict[str, float | int] = BLANK) -> None:
        self._blank = blank
        self._pieces: dict[str, list[np.ndarray]] = {name: [] for name in blank}
        self.count = 0

    def add(self, n: int, **columns) -> None:
        """Add `n` rows; a scalar is repeated, a column not named stays blank."""
        unknown = set(columns) - set(self._blank)
        if unknown:
            raise KeyError(f"no such column: {sorted(unknown)}")
        for name, blank in self._blank.items():
            value = np.broadcast_to(np.asarray(columns.get(name, blank)), n)
            self._pieces[name].append(value.astype(np.asarray(blank).dtype))
        self.count += n

    def joined(self) -> dict[str, np.ndarray]:
        """Return every column joined into one array."""
        return {
            name: np.concatenate(pieces) if pieces else np.empty(0, np.asarray(self._blank[name]).dtype)
            for name, pieces in self._pieces.items()
        }
