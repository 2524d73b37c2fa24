"""Many p-values looked at together."""

from __future__ import annotations

import numpy as np


def false_discovery(p_value: np.ndarray) -> np.ndarray:
    """Return p-values adjusted so that of those below a at most the share a is expected to be luck, in the order given.

    Where all is luck, any falls below a with at most that chance.
    Source: Benjamini & Hochberg (1995), JRSS B 57:289–300, for tests that are independent or go together.
    """
    order = np.argsort(p_value, kind="stable")
    stepped = np.asarray(p_value)[order] * len(p_value) / np.arange(1, len(p_value) + 1)
    adjusted = np.empty(len(p_value))
    adjusted[order] = np.minimum(np.minimum.accumulate(stepped[::-1])[::-1], 1.0)
    return adjusted


def holm(p_value: np.ndarray) -> np.ndarray:
    """Return Holm's adjusted p-values: below a only where the family-wise error stays below a.   Source: Holm (1979)."""
    order = np.argsort(p_value, kind="stable")
    stepped = np.maximum.accumulate(p_value[order] * np.arange(len(p_value), 0, -1))
    adjusted = np.empty(len(p_value))
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted
