"""Things of the ground's own colour: their print is missing, and that tells."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Point, box

from profiler.paper import paper_named
from profiler.silhouette import alike
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


def test_a_dark_neck_of_the_tints_hue_is_found_between_its_frets_and_strings() -> None:
    """Its wood passes for the ground in a deep shadow, but metal and its own edge fence that off;
    the body's top, which is the tint's own, must not make that forgotten."""
    design = design_mat(paper_named("A2"), 560, 400)
    body = Point(160.0, 200.0).buffer(90.0, quad_segs=64)
    neck = box(245.0, 182.0, 470.0, 218.0)
    wood = tuple(round(0.42 * c) for c in TINT)
    frets = [box(x, 182.0, x + 2.0, 218.0) for x in range(250, 470, 18)]
    strings = [box(245.0, y, 470.0, y + 1.2) for y in (186, 192, 198, 204, 210)]
    metal = [flat(line, (150, 150, 150)) for line in (*frets, *strings)]
    rim = body.difference(body.buffer(-2.5)).difference(box(60.0, 193.0, 80.0, 207.0))
    painted = [flat(body.buffer(-2.0), TINT), flat(rim, BINDING), flat(neck, wood), *metal]
    found, _ = seen(design, painted)
    wrong = found.symmetric_difference(body.union(neck))
    assert wrong.buffer(-2.5).is_empty


def test_frets_in_a_look_alike_are_no_grain_that_hides_a_plain_step() -> None:
    """Steps of 0.5 all over what looks like the ground; a step of 0.3 elsewhere is a border still,
    while the grain of spruce is none."""
    logs = np.zeros((20, 40, 3), dtype=np.float32)
    logs[:, 20:] = 0.3
    missed = np.zeros((20, 40), dtype=bool)
    missed[:, :16] = True
    logs[:, 0:16:2] = -0.5
    across, _ = alike._borders(logs, np.zeros_like(missed), missed, 2.0)
    assert (across[:, 19] < 0.2).all()
    logs[:, 0:16:2] = -0.05
    across, _ = alike._borders(logs, np.zeros_like(missed), missed, 2.0)
    assert (across[:, :15] > 1.0).all()
