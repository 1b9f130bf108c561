"""The corners of the violin family tell an arched top; horns, waists and points do not."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.geometry.curves import evenly_spaced
from profiler.outline.corners import has_corners

JOIN = 355.0


def _closed(half: list[tuple[float, float]]) -> np.ndarray:
    """A closed anticlockwise outline from half of one: x from the tail, y to the right."""
    right = np.array(half) * [1, -1]
    return evenly_spaced(np.vstack([right, right[::-1][1:-1] * [1, -1]]), 1.0)


def _arc(middle: tuple[float, float], radius: float, begin: float, end: float) -> list:
    at = np.radians(np.linspace(begin, end, 40))
    return [(middle[0] + radius * np.cos(a), middle[1] + radius * np.sin(a)) for a in at]


#: bouts and C bouts as arcs that meet in points, 354 long and 208 wide
VIOLIN = [
    (0.0, 0.0),
    *_arc((100.0, 0.0), 103.0, 170.0, 70.0),
    (139.0, 99.0),
    *_arc((188.0, 108.0), 52.0, 200.0, 325.0),
    (236.0, 84.0),
    *_arc((275.0, 5.0), 79.0, 112.0, 10.0),
    (354.0, 0.0),
]
#: the same without the points
FIGURE_OF_EIGHT = [
    (354.0 / 2 - 177 * np.cos(t), (80 + 20 * np.cos(2 * t)) * np.sin(t) ** 0.7)
    for t in np.linspace(0, np.pi, 200)
]


def test_four_corners_are_seen_also_where_print_hides_one() -> None:
    points = _closed(VIOLIN)
    assert has_corners(points, JOIN)
    hidden = points.copy()
    near = np.hypot(*(points - [139.0, 99.0]).T) < 14
    t = np.linspace(0, 1, near.sum())[:, None]
    hidden[near] = points[near][0] * (1 - t) + points[near][-1] * t
    assert has_corners(hidden, JOIN)


@pytest.mark.parametrize("horns", [0, 2])
def test_a_waist_and_horns_are_no_corners(horns: int) -> None:
    """Horns beside the neck end in points, one on each side."""
    points = _closed(FIGURE_OF_EIGHT)
    if horns:
        at, side = points.T
        horn = 45 * np.exp(-(((at - 290) / 8) ** 2)) * np.sign(side)
        points = evenly_spaced(np.column_stack([at, side + horn]), 1.0)
    assert not has_corners(points, JOIN)


def test_corners_on_one_side_only_are_another_shape() -> None:
    points = _closed(VIOLIN)
    smooth = _closed(FIGURE_OF_EIGHT)
    half = np.vstack([points[points[:, 1] < 0], smooth[smooth[:, 1] > 0]])
    assert not has_corners(evenly_spaced(half, 1.0), JOIN)
