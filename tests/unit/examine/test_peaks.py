"""The examiner's own peaks: wherever in an interval they lie, they are found."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.examine.heat.simulation import CornerModes, PatchRun


@pytest.mark.parametrize("peak_s", [0.02, 0.08, 0.4, 3.0, 20.0, 140.0, 400.0])
def test_a_peak_soon_or_late_after_the_last_weld_is_found(peak_s):
    """Two modes, one of which comes up as the other goes: their peak by hand reckoning."""
    quick, slow = 3.0 / peak_s, 0.2 / peak_s
    at = np.log(quick / slow) / (quick - slow)
    modes = CornerModes(np.array([slow, quick]), np.array([[1.0, -1.0]]), np.array([20.0]))
    after = np.array([[80.0, 80.0]])
    run = PatchRun(modes, after, np.zeros_like(after), np.zeros(1), np.zeros(1, dtype=int))
    by_hand = 20.0 + 80.0 * (np.exp(-slow * at) - np.exp(-quick * at))
    assert run.peak_c(0) == pytest.approx(by_hand, abs=2e-4)


def test_a_node_that_cools_before_it_warms_has_its_later_peak():
    """It falls at first, faster than heat comes to it."""
    rate, shape = np.array([0.004, 0.05, 2.0]), np.array([[1.0, -1.4, 0.6]])
    modes = CornerModes(rate, shape, np.array([20.0]))
    after = np.array([[50.0, 50.0, 50.0]])
    run = PatchRun(modes, after, np.zeros_like(after), np.zeros(1), np.zeros(1, dtype=int))
    lag = np.linspace(0.0, 900.0, 900_001)
    dense = 20.0 + (np.exp(-np.outer(lag, rate)) @ (shape[0] * 50.0)).max()
    assert run.peak_c(0) == pytest.approx(dense, abs=1e-4)
