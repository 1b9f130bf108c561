"""Things of the ground's own colour: their print is missing, and that tells."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from profiler.paper import paper_named
from profiler.pipeline.scene import look, solve_photos
from profiler.scene.record import LensPrior, PrintScale
from profiler.silhouette.ground import lay_flat, light_of, uncovered_targets
from profiler.silhouette.mask import find_silhouette
from profiler.target.mat import MatDesign, design_mat
from tests.painter import Slab, camera_over, paint
from tests.silhouette.test_mask import LENS

TINT = (0xEE, 0xD2, 0xB4)  # of the default mat, blue first
BINDING = (40, 40, 42)


def _seen(design: MatDesign, slabs: list[Slab]) -> tuple[Polygon, float]:
    camera = camera_over(280.0, 200.0, 520.0, LENS, tilt=(0.0, 0.0))
    photo = paint(camera, design, slabs, [])
    prior = LensPrior(LENS, np.full(9, 1e-6), "record")
    scene = solve_photos([look("painted", photo)], design, prior, PrintScale(1.0, 1.0), None)
    plan = lay_flat(photo, scene.cameras[0], scene.lying)
    lighting = light_of(plan, scene)
    assert lighting is not None
    silhouette = find_silhouette(plan, lighting, bare=uncovered_targets(plan, scene))
    assert silhouette is not None
    rows, columns = np.nonzero(silhouette.mask)
    half = plan.cell / 2
    cells = plan.to_mat(np.column_stack([columns, rows]).astype(float))
    return unary_union([box(x - half, y - half, x + half, y + half) for x, y in cells]), plan.cell


def _slab(thing: Polygon, colour: tuple[int, int, int]) -> Slab:
    return Slab(np.array(thing.exterior.coords)[:-1], 0.0, 0.01, colour, colour)


def test_a_top_of_the_tint_is_found_by_what_it_hides() -> None:
    """A dark binding that is interrupted over 14 mm, and a top of exactly the tint's colour."""
    design = design_mat(paper_named("A2"), 560, 400)
    body = Point(280.0, 200.0).buffer(110.0, quad_segs=64)
    gap = box(380.0, 193.0, 395.0, 207.0)
    rim = body.difference(body.buffer(-2.5)).difference(gap)
    # the painter has no holes: the binding as a strip that is open at the gap
    assert rim.geom_type == "Polygon" and not rim.interiors
    found, _ = _seen(design, [_slab(body.buffer(-2.0), TINT), _slab(rim, BINDING)])
    wrong = found.symmetric_difference(body)
    # the gap itself is closed by a chord of 14 mm
    assert wrong.area < 0.02 * body.area
    assert wrong.buffer(-4.0).is_empty


def test_what_lies_bare_beside_it_stays_ground() -> None:
    """A dark thing hides print too, but colour tells there: nothing round it is taken."""
    design = design_mat(paper_named("A2"), 560, 400)
    body = Point(280.0, 200.0).buffer(110.0, quad_segs=64)
    found, cell = _seen(design, [_slab(body, BINDING)])
    assert found.symmetric_difference(body).area / body.length < 0.8 * cell
