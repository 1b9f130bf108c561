"""A neck's sides are straight: bays in them are filled, and nothing else is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Polygon, box, distance, points

from profiler.geometry.curves import evenly_spaced
from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.parts import split
from profiler.outline.straight import with_straight_neck
from profiler.silhouette.edge import Edge

FLIP = np.diag([1.0, -1.0, -1.0])
CAMERA = Camera(
    Lens(4000, 3000, 3000.0, 1999.5, 1499.5), Pose(FLIP, -FLIP @ np.array([300.0, 0.0, 1000.0]))
)
#: turned on the mat, so that nothing leans on the axes
FRAME = Frame2D(0.4, (80.0, -30.0))
BODY = Polygon([(0, -90), (0, 90), (240, 90), (240, -90)])
#: from 24 to 18 mm to either side, and a headstock of 35
NECK = Polygon([(238, -24), (238, 24), (520, 18), (520, -18)])
HEAD = Polygon([(518, -18), (518, 18), (540, 35), (660, 35), (660, -35), (540, -35)])
LEFT = LineString([(240, 24 - 6 * 2 / 282), (520, 18)])


def _edge(*lost: Polygon, more: Polygon | None = None) -> Edge:
    whole = BODY.union(NECK).union(HEAD)
    for one in lost:
        whole = whole.difference(one)
    if more is not None:
        whole = whole.union(more)
    ring = np.array(whole.exterior.coords)[:-1]
    if not whole.exterior.is_ccw:
        ring = ring[::-1]
    on_mat = FRAME.to_mat(evenly_spaced(ring, 1.0))
    n = len(on_mat)
    pixels = CAMERA.project(np.column_stack([on_mat, np.zeros(n)]))
    return Edge(
        pixels, on_mat, np.ones(n, dtype=bool), np.full(n, 0.05), plain=np.ones(n, dtype=bool)
    )


def _mended(edge: Edge) -> Edge:
    return with_straight_neck(edge, CAMERA, split(edge.on_mat))


@pytest.mark.parametrize(
    "lost",
    [
        box(360, 5, 384, 40),  # open to the side
        # wider within than its mouth
        box(400, 14, 404, 40).union(box(396, 1, 410, 15)),
        box(250, 10, 262, 40),  # where the body may be thought to end
    ],
    ids=["open", "keyhole", "shoulder"],
)
def test_a_bay_is_filled_along_the_line_and_doubted(lost: Polygon) -> None:
    edge = _edge(lost)
    mended = _mended(edge)
    told = edge.measured & ~mended.measured
    assert told.sum() > 10 and (mended.sigma[told] > 0.3).all()
    there = FRAME.from_mat(mended.on_mat)
    assert distance(points(there[told]), LEFT).max() < 0.2
    on_neck = (there[:, 0] > 245) & (there[:, 0] < 515)
    assert np.abs(there[on_neck, 1]).min() > 17.5
    np.testing.assert_array_equal(mended.on_mat[~told], edge.on_mat[~told])
    seen = CAMERA.project(np.column_stack([mended.on_mat, np.zeros(len(there))]))
    np.testing.assert_allclose(mended.pixels, seen, atol=1e-6)


@pytest.mark.parametrize(
    ("lost", "more"),
    [
        ((), None),
        ((), box(400, 15, 408, 38)),  # a fifth string's peg stands out
        ((box(300, 23.2, 320, 40),), None),  # less than an edge strays by
        ((box(260, 0, 420, 40),), None),  # more than is seen to be straight
    ],
    ids=["whole", "peg", "nick", "half"],
)
def test_the_rest_is_left(lost: tuple[Polygon, ...], more: Polygon | None) -> None:
    edge = _edge(*lost, more=more)
    assert _mended(edge) is edge


def test_what_a_hand_drew_is_left() -> None:
    edge = _edge(box(360, 5, 384, 40))
    x, y = FRAME.from_mat(edge.on_mat).T
    by_hand = replace(edge, drawn=(np.abs(x - 372) < 14) & (y > 0))
    assert _mended(by_hand) is by_hand
