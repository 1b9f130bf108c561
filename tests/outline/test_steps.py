"""Steps of an outline, and what is none: corners, saddles, buttons, arcs."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import Point, box
from shapely.ops import unary_union

from profiler.geometry.curves import evenly_spaced
from profiler.outline.steps import Step, find_steps
from tests.outline.test_corners import JOIN, VIOLIN, _closed

Array = NDArray[np.float64]


def steps(points: Array, cornered: bool = False) -> list[Step]:
    return find_steps(points, np.ones(len(points), dtype=bool), JOIN, cornered)


def drum(*more: object) -> Array:
    """A disc of 145 mm with its tail at x = 0, and what stands over it."""
    whole = unary_union([Point(145, 0).buffer(145, 256), *more])
    return evenly_spaced(np.asarray(whole.exterior.coords)[:-1][::-1], 1.0)


def raised(mm: float) -> Array:
    """A disc whose left side is further out between two places."""
    points = drum()
    x, y = points.T
    out = (y > 0) & (np.abs(x - 145) < 60)
    return np.asarray(points + np.where(out, mm, 0.0)[:, None] * (0.0, 1.0))


@pytest.mark.parametrize("mm", [5.0, 10.0])
def test_a_step_is_told_by_its_place_and_height(mm: float) -> None:
    found = steps(raised(mm))
    assert sorted(s.place[0] for s in found) == pytest.approx([85, 205], abs=5.0)
    assert [s.height for s in found] == pytest.approx([mm, mm], abs=1.5)


def test_less_than_an_edge_strays_by_is_no_step() -> None:
    assert not steps(raised(2.0))


def test_an_arc_and_a_violins_corners_are_no_steps() -> None:
    assert not steps(drum())
    violin = _closed(VIOLIN)
    assert steps(violin, cornered=False)
    assert not steps(violin, cornered=True)


def test_a_saddle_at_the_tail_is_no_step() -> None:
    assert not steps(drum(box(-5, -24, 20, 24)))
    assert steps(drum(box(265, -24, 295, 24)))


def test_hooks_all_round_are_no_steps_at_the_tail_either() -> None:
    hooks = []
    for turn in np.radians(np.arange(7.5, 360, 15)):
        x, y = 145 + 149 * np.cos(turn), 149 * np.sin(turn)
        hooks.append(Point(x, y).buffer(5.0))
    assert not steps(drum(*hooks))
