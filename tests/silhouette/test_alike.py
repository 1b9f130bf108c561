"""Things of the ground's own colour: their print is missing, and that tells."""

from __future__ import annotations

from shapely.geometry import Point, box

from profiler.paper import paper_named
from profiler.target.mat import design_mat
from tests.silhouette.flat import flat, seen

TINT = (0xEE, 0xD2, 0xB4)  # of the default mat, blue first
BINDING = (40, 40, 42)


def test_a_top_of_the_tint_is_found_by_what_it_hides() -> None:
    """A dark binding that is interrupted over 14 mm, and a top of exactly the tint's colour."""
    design = design_mat(paper_named("A2"), 560, 400)
    body = Point(280.0, 200.0).buffer(110.0, quad_segs=64)
    gap = box(380.0, 193.0, 395.0, 207.0)
    rim = body.difference(body.buffer(-2.5)).difference(gap)
    # the painter has no holes: the binding as a strip that is open at the gap
    assert rim.geom_type == "Polygon" and not rim.interiors
    found, _ = seen(design, [flat(body.buffer(-2.0), TINT), flat(rim, BINDING)])
    wrong = found.symmetric_difference(body)
    # the gap itself is closed by a chord of 14 mm
    assert wrong.area < 0.02 * body.area
    assert wrong.buffer(-4.0).is_empty


def test_what_lies_bare_beside_it_stays_ground() -> None:
    """A dark thing hides print too, but colour tells there: nothing round it is taken."""
    design = design_mat(paper_named("A2"), 560, 400)
    body = Point(280.0, 200.0).buffer(110.0, quad_segs=64)
    found, cell = seen(design, [flat(body, BINDING)])
    assert found.symmetric_difference(body).area / body.length < 0.8 * cell
