"""Errors a person can mend. The command line and the screens show them without a traceback.

Exit codes: 0 done · 1 a fault in stickfleet itself · 2 the command was mistyped · 3 an input cannot be used ·
4 the warehouse cannot be used · 5 a setting, mapping or filter is wrong · 6 a pack came out otherwise (`reproduce`).
"""

from __future__ import annotations


class FleetError(Exception):
    """What was found, and what to do about it."""

    exit_code = 1

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(f"{what} {remedy}")
        self.what = what
        self.remedy = remedy


class InputError(FleetError):
    """An export, or a line of it, that cannot be used; names file, line and column where it can."""

    exit_code = 3


class WarehouseError(FleetError):
    """A warehouse that is missing, in use, damaged or of another version."""

    exit_code = 4


class SettingError(FleetError):
    """A setting, mapping, grouping or filter that does not exist or has an impossible value."""

    exit_code = 5
