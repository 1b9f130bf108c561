"""A violin's saddle: it stands over the rim and is seen further out; the rim goes on below it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.outline.saddle import over_the_tail

#: mm that a saddle 6 mm above the rim is seen further out, by a camera 250 mm from the tail's end
#: and 1100 mm above its rim
OUTWARD = 250 / 1100
SEEN = 6 * OUTWARD


def _tail(out: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A violin's tail with a saddle 34 mm broad that is seen so far out, and a pin in its middle;
    (N, 2) mm lifted to the rim, and (N,) the rim's true x."""
    y = np.concatenate([np.arange(-80.0, 80.0, 0.9), np.arange(80.0, -80.0, -30.0)])
    front = np.arange(len(y)) < 178
    true = np.where(front, 8.0 + y**2 / 400, 350.0)
    saddle = front & (np.abs(y) < 17)
    x = true - np.where(saddle, out, 0.0)
    return np.column_stack([x, y]), true


def _rims(points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """All of the body but the pin."""
    return (np.abs(points[:, 1]) > 4) & (points[:, 0] < 300)


def test_the_rim_goes_on_below_a_saddle() -> None:
    points, true = _tail(SEEN)
    inward = over_the_tail(points, _rims(points), OUTWARD)
    saddle = _rims(points) & (np.abs(points[:, 1]) < 17)
    assert np.abs((points[:, 0] + inward - true)[saddle]).max() < 0.1
    assert not inward[~saddle].any()


def test_a_few_points_astray_beside_it_do_not_hide_it() -> None:
    points, true = _tail(SEEN)
    points[(points[:, 1] > 22) & (points[:, 1] < 27), 0] -= 0.5
    inward = over_the_tail(points, _rims(points), OUTWARD)
    saddle = _rims(points) & (np.abs(points[:, 1]) < 17)
    assert np.abs((points[:, 0] + inward - true)[saddle]).max() < 0.4


@pytest.mark.parametrize(
    ("out", "outward"),
    [
        # no height makes so much: something really stands out there
        (3.0, OUTWARD),
        # seen from beyond the tail it would be further in
        (SEEN, -0.1),
        (0.2, OUTWARD),
    ],
)
def test_what_no_saddle_makes_is_left(out: float, outward: float) -> None:
    points, _ = _tail(out)
    assert not over_the_tail(points, _rims(points), outward).any()


def test_a_tail_that_is_no_smooth_curve_tells_nothing() -> None:
    points, _ = _tail(SEEN)
    rng = np.random.default_rng(2)
    points[:, 0] += rng.normal(0, 0.6, len(points))
    assert not over_the_tail(points, _rims(points), OUTWARD).any()
