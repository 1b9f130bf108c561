"""A strap button between calipers' readings: round where it was turned round, stepped where not."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.instrument.solid import Bar


@pytest.mark.parametrize("count", [5, 7])
def test_a_ball_read_at_few_places(count: int) -> None:
    """Against the distance to a ball, by hand."""
    x = np.linspace(-0.9, 0.9, count) * 6.0
    ball = Bar("button", 0.0, 40.0, tuple(zip(x, np.sqrt(36.0 - x**2), strict=True)))
    toward = np.radians(np.linspace(50.0, 130.0, 81))
    points = np.column_stack([9.0 * np.cos(toward), 9.0 * np.sin(toward), np.full(81, 40.0)])
    assert np.abs(ball.distance(points) - 3.0).max() < 0.13
    assert ball.radius == pytest.approx(6.0)


def test_what_is_straight_or_steps_stays_so() -> None:
    step = Bar("button", 0.0, 40.0, ((0.0, 4.0), (3.0, 4.0), (5.0, 4.0), (5.0, 8.0), (7.0, 8.0)))
    points = np.array([[3.9, 9.0, 40.0], [1.0, 9.0, 40.0], [6.0, 9.0, 40.0]])
    by_hand = [np.hypot(1.1, 1.0), np.hypot(4.0, 1.0), 1.0]
    assert step.distance(points) == pytest.approx(by_hand, abs=0.01)
    cone = Bar("button", 0.0, 40.0, ((0.0, 3.0), (4.0, 5.0), (8.0, 7.0)))
    away = cone.distance(np.array([[2.0, 9.0, 40.0]]))
    assert away == pytest.approx([(9.0 - 4.0) * np.cos(np.arctan(0.5))], abs=1e-6)
