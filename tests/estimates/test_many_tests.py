"""Many p-values looked at together, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.estimates.many_tests import false_discovery, holm


def test_holm_by_hand():
    assert holm(np.array([0.04, 0.01, 0.03])).tolist() == pytest.approx([0.06, 0.03, 0.06])
    assert holm(np.array([0.6, 0.7])).tolist() == [1.0, 1.0]
    assert holm(np.array([])).tolist() == []


def test_false_discovery_by_hand():
    assert false_discovery(np.array([0.04, 0.01, 0.03])).tolist() == pytest.approx([0.04, 0.03, 0.04])
    assert false_discovery(np.array([])).tolist() == []
