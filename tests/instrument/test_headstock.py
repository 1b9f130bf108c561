"""Where a tilted headstock hangs: against a plain block, turned and rounded by another library."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from profiler.instrument.headstock import FacePlane, headstock_from
from profiler.instrument.record import Quantity
from profiler.instrument.shaping import HeadShape, build_solid
from profiler.instrument.solid import Slab
from tests.cradle.made import Made

NUT, END, THICK = 500.0, 640.0, 13.0


def block(tilt: float, edge: float) -> shapely.Polygon:
    """x and z of a block whose face falls from (NUT, 50); seen from above it ends at END."""
    plain = shapely.box(0.0, -THICK, 400.0, 0.0)
    soft = plain.buffer(-edge, join_style="mitre").buffer(edge, quad_segs=64) if edge else plain
    turned = shapely.affinity.rotate(soft, -tilt, origin=(0.0, 0.0))
    line = shapely.affinity.translate(turned, END - turned.bounds[2], 0.0)
    face = NUT * np.tan(np.radians(tilt))
    corner = shapely.affinity.rotate(shapely.Point(400.0, 0.0), -tilt, origin=(0.0, 0.0))
    at = corner.x + END - turned.bounds[2]
    z = 50.0 - (at - NUT) * np.tan(np.radians(tilt))
    assert face >= 0
    return shapely.affinity.translate(line, 0.0, z - corner.y)


@pytest.mark.parametrize("tilt", [0.0, 6.0, 14.0])
@pytest.mark.parametrize("edge", [0.0, 1.0, 3.0])
def test_the_lowest_wood_under_a_card(tilt: float, edge: float) -> None:
    plane = FacePlane(560.0, 50.0 - 60.0 * np.tan(np.radians(tilt)), 0.0, 0.5, 0.01, "card 5")
    head = headstock_from(
        NUT, END, plane, Quantity(tilt, 0.5), Quantity(THICK, 0.2), None, Quantity(edge, 0.2)
    )
    assert head.lowest_wood.value == pytest.approx(block(tilt, edge).bounds[1], abs=2e-3)


@pytest.mark.parametrize("tilt", [0.0, 6.0, 14.0])
@pytest.mark.parametrize("edge", [0.0, 1.0, 3.0])
def test_the_solid_hangs_where_a_rule_met_the_wood(tilt: float, edge: float) -> None:
    """A rule from the bench meets wood, not the corner that was rounded off; and the end that the
    outline shows is the face's corner, not the back's."""
    made = Made()
    solid = build_solid(
        made.measurement(), head=HeadShape(22.0, tilt, 14.0, 0.3, edge=edge, housings=0.0)
    )
    head = solid.part("headstock")
    assert isinstance(head, Slab)
    x, z = np.meshgrid(np.linspace(made.nut, made.tip, 400), np.arange(21.0, 24.0, 0.02))
    inside = head.distance(np.column_stack([x.ravel(), np.zeros(x.size), z.ravel()])) < 1e-6
    assert z.ravel()[inside].min() == pytest.approx(22.0, abs=0.13)
    if tilt > 0:
        far = block(tilt, edge)
        slope = np.tan(np.radians(tilt))
        # how much higher the back is 60 mm before the end than at its lowest place
        met = far.intersection(shapely.LineString([(END - 60.0, -99.0), (END - 60.0, 99.0)]))
        there = np.array([made.tip - 60.0])
        expected = 22.0 + met.bounds[1] - far.bounds[1]
        thick = (14.0 - THICK) * np.sin(np.radians(tilt)) * slope
        assert head.low.at(there)[0] == pytest.approx(expected - thick, abs=0.03)
