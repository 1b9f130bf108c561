"""The true offset: analytic areas, an independent clipper, and where doubtful runs fall."""

from __future__ import annotations

import math

import numpy as np
import pyclipper
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import OutlineError, RequestError
from profiler.instrument.record import Stretch
from profiler.plates.offset import doubtful_runs, offset_outline
from tests.plates.shapes import guitarish

#: clipper works in whole numbers: this many to the mm
CLIPPER_STEPS = 100_000
#: 100 x 60 mm with a slot 20 wide and 30 deep. Six corners turn outwards and two inwards, so
#: area = A + P r + 6 (pi/4) r^2 - 2 r^2. At 3 mm that is 6564.41150 mm².
U_SHAPE = np.array(
    [(0, 0), (100, 0), (100, 60), (60, 60), (60, 30), (40, 30), (40, 60), (0, 60)], dtype=float
)


def clipper(outline: np.ndarray, clearance: float) -> shapely.Polygon:
    """The same offset by an independent library."""
    offset = pyclipper.PyclipperOffset(arc_tolerance=0.0005 * CLIPPER_STEPS)
    path = [tuple(p) for p in np.round(outline * CLIPPER_STEPS).astype(np.int64).tolist()]
    offset.AddPath(path, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    paths = offset.Execute(clearance * CLIPPER_STEPS)
    polygons = [shapely.Polygon(np.array(p) / CLIPPER_STEPS) for p in paths]
    return max(polygons, key=lambda p: p.area)


@settings(max_examples=60, deadline=None)
@given(
    points=st.lists(st.tuples(st.floats(0, 600), st.floats(0, 300)), min_size=5, max_size=30),
    clearance=st.floats(0.1, 30.0),
)
def test_convex_area_is_area_plus_perimeter_plus_circle(
    points: list[tuple[float, float]], clearance: float
) -> None:
    hull = shapely.MultiPoint(points).convex_hull
    if not isinstance(hull, shapely.Polygon) or hull.area < 100.0:
        return
    outline = np.asarray(hull.exterior.coords)[:-1]
    got = shapely.Polygon(offset_outline(outline, clearance))
    want = hull.area + hull.length * clearance + math.pi * clearance**2
    # Steiner's formula; a shape 0.005 mm too small all round would fail.
    assert abs(got.area - want) < 0.005 * (hull.length + 2 * math.pi * clearance)


@pytest.mark.parametrize("clearance", [1.0, 3.0, 6.0])
def test_u_shape_has_its_analytic_area(clearance: float) -> None:
    area, perimeter = 100 * 60 - 20 * 30, 2 * (100 + 60 + 30)
    want = area + perimeter * clearance + (6 * math.pi / 4 - 2) * clearance**2
    if clearance == 3.0:
        assert want == pytest.approx(6564.41150, abs=5e-6)
    assert shapely.Polygon(offset_outline(U_SHAPE, clearance)).area == pytest.approx(want, abs=0.05)


@pytest.mark.parametrize("clearance", [0.5, 3.0, 12.0])
@pytest.mark.parametrize("outline", [guitarish(), U_SHAPE], ids=["instrument", "U"])
def test_agrees_with_clipper(outline: np.ndarray, clearance: float) -> None:
    got = shapely.Polygon(offset_outline(outline, clearance))
    want = clipper(outline, clearance)
    distance = shapely.hausdorff_distance(got.exterior, want.exterior, densify=0.2)
    assert distance < 0.01
    assert got.area == pytest.approx(want.area, rel=2e-5)


def test_a_slot_that_the_clearance_closes_becomes_solid() -> None:
    ring = offset_outline(U_SHAPE, 12.0)
    assert shapely.Polygon(ring).contains(shapely.Point(50, 45))


def test_no_clearance_gives_the_outline_itself() -> None:
    outline = guitarish()
    got = shapely.Polygon(offset_outline(outline, 0.0))
    assert got.symmetric_difference(shapely.Polygon(outline)).area < 1e-6
    assert shapely.LinearRing(offset_outline(outline[::-1], 0.0)).is_ccw


@pytest.mark.parametrize("clearance", [-1.0, 101.0, math.nan, math.inf])
def test_clearances_without_sense_are_refused(clearance: float) -> None:
    with pytest.raises(RequestError, match="clearance"):
        offset_outline(guitarish(), clearance)


@pytest.mark.parametrize(
    "outline",
    [
        np.zeros((0, 2)),
        np.zeros((10, 2)),
        np.array([(0, 0), (100, 0), (50, math.nan)]),
        np.array([(0, 0), (100, 100), (100, 0), (0, 100.0)]),
    ],
    ids=["nothing", "a point", "not a number", "a bow tie"],
)
def test_outlines_that_cannot_be_cut_are_refused(outline: np.ndarray) -> None:
    with pytest.raises(OutlineError):
        offset_outline(outline, 3.0)


def test_a_tiny_loop_in_the_outline_is_mended() -> None:
    outline = np.array(
        [(0, 0), (100, 0), (100, 50), (99.9, 50.1), (100, 50.1), (99.9, 50), (0, 50)]
    )
    assert shapely.Polygon(offset_outline(outline, 0.0)).area == pytest.approx(5000, abs=1)


@settings(max_examples=15, deadline=None)
@given(start=st.integers(0, 390), length=st.integers(1, 130), clearance=st.floats(0.0, 20.0))
def test_runs_go_once_round_and_doubt_lies_by_its_stretch(
    start: int, length: int, clearance: float
) -> None:
    outline = guitarish(count=400)
    count = len(outline)
    stretch = Stretch(start % count, (start + length) % count, "made up")
    ring = offset_outline(outline, clearance)
    runs = doubtful_runs(ring, outline, (stretch,))
    assert sum(shapely.LineString(r.points).length for r in runs) == pytest.approx(
        shapely.LinearRing(ring).length, rel=1e-6
    )
    for before, after in zip(runs, [*runs[1:], runs[0]], strict=True):
        assert before.points[-1] == pytest.approx(after.points[0], abs=1e-9)
    indices = (stretch.start + np.arange(length + 1)) % count
    part = shapely.LineString(outline[indices])
    for run in runs:
        middle = shapely.LineString(run.points).interpolate(0.5, normalized=True)
        # a step of the dense ring may straddle the border
        near = middle.distance(part) <= middle.distance(shapely.LinearRing(outline)) + 1.5
        if run.doubt is not None:
            assert near
    if length > 5 and clearance < 5:
        assert any(r.doubt == 0 for r in runs)


def test_without_doubt_there_is_one_run() -> None:
    outline = guitarish()
    (run,) = doubtful_runs(offset_outline(outline, 2.0), outline, ())
    assert run.doubt is None
    assert run.points[0] == pytest.approx(run.points[-1])
