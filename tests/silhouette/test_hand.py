"""Corrections by hand on a made-up edge: a circle seen by a plain camera."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from profiler.silhouette.edge import Edge
from profiler.silhouette.ground import Plan
from profiler.silhouette.hand import corrected
from profiler.silhouette.strokes import CannotCorrect, CutOut, Moved, Redrawn, Stroke
from tests.made_up import LENS
from tests.painter import camera_over

Array = NDArray[np.float64]

RADIUS = 80.0
MIDDLE = np.array([200.0, 150.0])
NOTHING = np.zeros((2, 2), dtype=np.uint8)
FLAT = np.zeros((2, 2), dtype=np.float32)


def above() -> Camera:
    return camera_over(MIDDLE[0], MIDDLE[1], 900.0, LENS)


@pytest.fixture(scope="module")
def camera() -> Camera:
    return above()


def circle(camera: Camera) -> Edge:
    angle = np.linspace(0, 2 * np.pi, 500, endpoint=False)
    on_mat = MIDDLE + RADIUS * np.column_stack([np.cos(angle), np.sin(angle)])
    return Edge(px(camera, on_mat), on_mat, np.ones(500, dtype=bool), np.full(500, 0.05), None)


def px(camera: Camera, points: Array) -> Array:
    return camera.project(np.column_stack([points, np.zeros(len(points))]))


def spot(camera: Camera, x: float, y: float) -> tuple[float, float]:
    u, v = px(camera, np.array([[x, y]]))[0]
    return float(u), float(v)


def line(camera: Camera, points: Array) -> tuple[tuple[float, float], ...]:
    return tuple((float(u), float(v)) for u, v in px(camera, points))


def bare(points: Array) -> tuple[Array, np.ndarray]:
    """Nothing is printed anywhere."""
    return np.ones((*points.shape[:-1], 3)), np.zeros(points.shape[:-1], dtype=bool)


def done(camera: Camera, *strokes: Stroke) -> Edge:
    plan = Plan(FLAT, NOTHING, FLAT, FLAT, NOTHING > 0, MIDDLE, 1.0)
    return corrected(
        circle(camera), strokes, np.zeros((2, 2, 3), dtype=np.uint8), camera, plan, bare
    )


def test_nothing_said_nothing_changed(camera: Camera) -> None:
    edge = done(camera)
    assert edge.drawn is None and (edge.on_mat == circle(camera).on_mat).all()


@settings(max_examples=30, deadline=None)
@given(st.floats(-10, 10), st.floats(5, 40))
def test_a_moved_point_lies_where_it_was_put(out: float, reach: float) -> None:
    camera = above()
    if abs(out) < 0.2 or abs(out) > reach:
        return
    x, y = MIDDLE
    before = circle(camera)
    edge = done(
        camera, Moved(spot(camera, x + RADIUS, y), spot(camera, x + RADIUS + out, y), reach)
    )
    assert edge.on_mat[0] == pytest.approx([x + RADIUS + out, y], abs=0.05)
    assert edge.drawn is not None and edge.drawn[0] and not edge.measured[0]
    assert edge.sigma[0] > before.sigma[0]
    far = np.abs(np.arange(500) - 250) < 240 - 500 * reach / (2 * np.pi * RADIUS)
    assert (edge.on_mat[far] == before.on_mat[far]).all() and not edge.drawn[far].any()
    assert edge.measured[far].all()
    assert camera.at_height(edge.pixels, 0.0) == pytest.approx(edge.on_mat, abs=1e-6)


@pytest.mark.parametrize("start", [0.3, 2.5, 6.0])
def test_a_drawn_stretch_replaces_what_it_lies_over_whichever_way_it_was_drawn(
    camera: Camera, start: float
) -> None:
    """A bulge over a sixth of the circle: the same region drawn forth and back."""
    angle = start + np.linspace(0, np.pi / 3, 60)
    radius = RADIUS + 8 * np.sin(np.linspace(0, np.pi, 60))
    path = MIDDLE + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    regions = []
    for way in (path, path[::-1]):
        edge = done(camera, Redrawn(line(camera, way), snap=False))
        region = shapely.Polygon(edge.on_mat)
        assert region.is_valid and region.exterior.is_ccw
        assert edge.drawn is not None and 0.1 < edge.drawn.mean() < 0.3
        regions.append(region)
    whole = shapely.Polygon(circle(camera).on_mat)
    # a half sine of 8 mm over the arc adds about 2/pi of its rectangle
    grown = 2 / np.pi * 8 * RADIUS * np.pi / 3
    assert regions[0].area - whole.area == pytest.approx(grown, rel=0.15)
    assert regions[0].symmetric_difference(regions[1]).area < 3.0


def test_a_cut_out_piece_is_bridged(camera: Camera) -> None:
    """A spike out of the circle goes; what it stood on is carried across, and not called measured.

    The bridge of a circle's arc of half angle a has its sagitta r (1 - cos a) as its scale.
    """
    x, y = MIDDLE
    box = np.array([(60.0, -12.0), (110.0, -12.0), (110.0, 12.0), (60.0, 12.0)]) + MIDDLE
    edge = done(camera, CutOut(line(camera, box)))
    assert len(edge.on_mat) == len(edge.sigma) == len(edge.measured)
    carried = ~edge.measured
    assert 15 < carried.sum() < 40 and edge.sigma[carried].min() > 0.3
    away = np.hypot(*(edge.on_mat[carried] - MIDDLE).T) - RADIUS
    assert np.abs(away).max() < 1.2
    assert shapely.Polygon(edge.on_mat).is_valid
    assert (x, y) == tuple(MIDDLE)


def test_two_corrections_add_up(camera: Camera) -> None:
    x, y = MIDDLE
    right = Moved(spot(camera, x + RADIUS, y), spot(camera, x + RADIUS + 5, y))
    left = Moved(spot(camera, x - RADIUS, y), spot(camera, x - RADIUS - 5, y))
    width = float(np.ptp(done(camera, right, left).on_mat[:, 0]))
    assert width == pytest.approx(2 * RADIUS + 10, abs=0.1)
    other = float(np.ptp(done(camera, left, right).on_mat[:, 0]))
    assert other == pytest.approx(width)


def test_what_makes_no_sense_is_refused(camera: Camera) -> None:
    x, y = MIDDLE
    on = spot(camera, x + RADIUS, y)
    beside = spot(camera, x, y)
    whole = MIDDLE + 100 * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    for stroke, words in (
        (Moved(beside, on), "taken hold of"),
        (Moved(on, spot(camera, x + RADIUS + 70, y)), "more than"),
        (Moved(on, on, 500.0), "long"),
        (Redrawn((beside, on), False), "begins"),
        (Redrawn((on, beside), False), "ends"),
        (Redrawn((on, on), False), "too short"),
        (
            CutOut(line(camera, whole)),
            "most",
        ),
    ):
        with pytest.raises(CannotCorrect, match=words):
            done(camera, stroke)


def test_an_edge_that_would_cross_itself_is_refused(camera: Camera) -> None:
    loop = MIDDLE + np.array([(80.0, 0.0), (20.0, 60.0), (20.0, -60.0), (78.0, 18.0)])
    with pytest.raises(CannotCorrect, match="cross itself"):
        done(camera, Redrawn(line(camera, loop), False))
