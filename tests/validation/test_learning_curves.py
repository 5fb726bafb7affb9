"""Learning curves: Wright's cumulative average and Crawford's unit curve, worked examples.

Cost-accounting and cost-estimating textbooks; one of them prints 254.76 for 245.76, a misprint.
"""

import pytest

from chainplan.estimate.learning import mean_share, unit_share


def test_wright_at_80_per_cent():
    """First unit 100 h: averages 100, 80, 64, 51.2, 40.96; totals to 655.36 h for 16 units."""
    for copies, total in ((1, 100), (2, 160), (4, 256), (8, 409.6), (16, 655.36)):
        assert 100 * copies * mean_share(copies, 80) == pytest.approx(total, rel=1e-12)
    later = 100 * (16 * mean_share(16, 80) - 8 * mean_share(8, 80))
    assert later == pytest.approx(245.76, abs=1e-9)


def test_wright_at_85_per_cent():
    """250 h for the first, 15 units: 1987.4 h."""
    assert 250 * 15 * mean_share(15, 85) == pytest.approx(1987.4, abs=0.05)


def test_crawford_at_80_per_cent():
    """First unit 10 h: twenty units take 104.849 h exactly."""
    total = 10 * sum(unit_share(n, 80) for n in range(1, 21))
    assert total == pytest.approx(104.849, abs=5e-4)


def test_crawford_at_85_and_75_per_cent():
    """Unit 15 of 250 h at 85 %: 132.49 h; unit 250 of 812 h at 75 %: 82.10 h."""
    assert 250 * unit_share(15, 85) == pytest.approx(132.49, abs=5e-3)
    assert 812 * unit_share(250, 75) == pytest.approx(82.10, abs=5e-3)


def test_the_two_curves_differ():
    """16 units at 80 %: 655.36 h by Wright, 892.01 h by Crawford."""
    crawford = 100 * sum(unit_share(n, 80) for n in range(1, 17))
    assert crawford == pytest.approx(892.01, abs=5e-3)


def test_without_learning_every_copy_takes_the_same():
    assert mean_share(50, 100) == 1.0
