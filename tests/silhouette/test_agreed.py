"""Points of an edge that go along with their neighbours, and those where something stands out."""

from __future__ import annotations

import numpy as np

from profiler.silhouette.agreed import agrees, at_corners, going_on

#: a wall along x, and a button's underside that comes down to it: what is found at each point, mm
WALL = np.column_stack([np.arange(30.0, 0.0, -1.0), np.zeros(30)])
SIDE = np.column_stack([np.full(9, 0.2), np.arange(0.4, 9.0, 1.0)])
FAR = np.column_stack([np.arange(0.0, -30.0, -1.0), np.full(30, 9.5)])
POINTS = np.vstack([WALL, SIDE, FAR])
FOUND = np.ones(len(POINTS), dtype=bool)
AT_THE_FOOT = np.arange(len(WALL) - 4, len(WALL) + 4)


def test_what_moved_unlike_its_neighbours_does_not_agree() -> None:
    offsets = np.zeros(60)
    offsets[[20, 41]] = 0.8, -0.6
    assert (np.flatnonzero(~agrees(offsets)) == [20, 41]).all()


def test_where_a_border_cut_the_corner_the_lines_go_on_into_it() -> None:
    agreed = ~np.isin(np.arange(len(POINTS)), AT_THE_FOOT)
    told = going_on(POINTS, agreed, FOUND)
    told |= at_corners(POINTS, told, FOUND)
    assert told.all()


def test_a_highlight_within_goes_on_from_nothing() -> None:
    """It is as smooth, 2 mm further in, and stays out."""
    points = POINTS.copy()
    within = np.arange(10, 16)
    points[within, 1] += 2.0
    agreed = ~np.isin(np.arange(len(points)), within)
    assert not going_on(points, agreed, FOUND)[within].any()
    assert not at_corners(points, agreed, FOUND)[within].any()


def test_what_was_not_found_is_not_made_up() -> None:
    agreed = ~np.isin(np.arange(len(POINTS)), AT_THE_FOOT)
    assert (going_on(POINTS, agreed, np.zeros_like(FOUND)) == agreed).all()
    assert not at_corners(POINTS, agreed, np.zeros_like(FOUND)).any()
