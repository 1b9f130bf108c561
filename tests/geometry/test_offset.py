"""True offsets against two other libraries and against a formula; sweeps and round cutters."""

from __future__ import annotations

import numpy as np
import pyclipper
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, FillRule, JoinType

from profiler.geometry.offset import grown, opened_for, parts_of, swept_up
from tests.cradle.made import Made

SCALE = 100_000.0
#: an offset is a curve: every point of one is this near to the other, mm
TOLERANCE_MM = 0.01


def shapes() -> list[shapely.Polygon]:
    made = Made(square=2.6, skew=1.5)
    v_neck = Made(square=1.3).true_slice(430.0)
    return [made.true_slice(430.0), v_neck, made.true_slice(600.0), made.outline]


def by_pyclipper(shape: shapely.Polygon, mm: float) -> shapely.Polygon:
    tool = pyclipper.PyclipperOffset(2.0, 0.0002 * SCALE)
    ring = (np.asarray(shape.exterior.coords)[:-1] * SCALE).round().astype(int).tolist()
    tool.AddPath(ring, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    return (
        shapely.union_all([shapely.Polygon(p) for p in tool.Execute(mm * SCALE)]) if mm else shape
    )


def scaled(shape: shapely.Polygon, by: float) -> shapely.Polygon:
    return shapely.transform(shape, lambda p: p * by)


def apart(a: shapely.Polygon, b: shapely.Polygon) -> float:
    """Largest distance from either edge to the other, mm."""
    return float(
        max(
            shapely.hausdorff_distance(a.boundary, b.boundary, densify=0.01),
            shapely.hausdorff_distance(b.boundary, a.boundary, densify=0.01),
        )
    )


@pytest.mark.parametrize("mm", [0.8, 3.0, 4.5, 7.0])
@pytest.mark.parametrize("index", range(4))
def test_offsets_agree_with_two_other_libraries(index: int, mm: float) -> None:
    shape = shapes()[index]
    mine = parts_of(grown(shape, mm))[0]
    mine = shapely.Polygon(mine.exterior)
    other = scaled(by_pyclipper(shape, mm), 1 / SCALE)
    assert apart(mine, shapely.Polygon(parts_of(other)[0].exterior)) < TOLERANCE_MM
    ring = np.asarray(shape.exterior.coords)[:-1].tolist()
    section = CrossSection([ring], FillRule.NonZero).offset(mm, JoinType.Round, 2.0, 512)
    third = max((shapely.Polygon(p) for p in section.to_polygons()), key=lambda p: p.area)
    assert apart(mine, third) < TOLERANCE_MM


def test_an_ellipse_has_its_parallel_curve() -> None:
    """(a cos t, b sin t) and its normal, pushed out: the formula of the parallel curve."""
    a, b, d = 21.0, 15.0, 4.0
    t = np.linspace(0.0, 2 * np.pi, 4000, endpoint=False)
    ellipse = np.column_stack([a * np.cos(t), b * np.sin(t)])
    normal = np.column_stack([b * np.cos(t), a * np.sin(t)])
    normal /= np.hypot(*normal.T)[:, None]
    want = shapely.Polygon(ellipse + d * normal)
    assert apart(grown(shapely.Polygon(ellipse), d), want) < 0.002


def test_an_offset_is_no_scaled_copy() -> None:
    neck = Made().true_slice(430.0)
    factor = (neck.bounds[2] + 4.0) / neck.bounds[2]
    copy = shapely.affinity.scale(neck, factor, factor)
    assert apart(grown(neck, 4.0), copy) > 0.4


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_a_sweep_is_what_a_point_by_point_lift_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    blobs = [
        shapely.Point(rng.uniform(-30, 30), rng.uniform(0, 30)).buffer(rng.uniform(2, 15))
        for _ in range(4)
    ]
    shape = shapely.union_all(blobs)
    swept = swept_up(shape, 100.0)
    for _ in range(40):
        y, z = rng.uniform(-45, 45), rng.uniform(-15, 90)
        line = shapely.LineString([(y, -50.0), (y, z)])
        above = shape.intersects(line)  # something of it was at or below this place
        near = swept.boundary.distance(shapely.Point(y, z)) < 0.02
        assert near or bool(above) == bool(swept.intersects(shapely.Point(y, z)))


@pytest.mark.parametrize("radius", [1.5, 3.0, 6.0])
def test_a_round_cutter_gets_into_every_corner(radius: float) -> None:
    slot = swept_up(shapely.box(-15.0, 10.0, 15.0, 20.0), 400.0)  # square corners
    made, missed = opened_for(slot, radius)
    assert missed.is_empty
    assert made.buffer(1e-6).contains(slot)
    reach = made.buffer(-radius * 0.999).buffer(radius * 0.999 + 0.05)
    here = shapely.box(-50, 0, 50, 60)
    assert made.intersection(here).difference(reach).area < 1e-6
    # and no more wood goes than the corners need
    assert made.intersection(here).difference(slot).area < 2 * radius**2


def test_a_cutter_too_large_for_the_slot_is_told() -> None:
    slot = swept_up(shapely.Point(0.0, 20.0).buffer(4.0), 400.0)
    assert not opened_for(slot, 6.0)[1].is_empty
    assert opened_for(slot, 3.9)[1].is_empty
