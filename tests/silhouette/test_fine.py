"""Thin things on a mat, laid anew pixel by pixel: painted, so their shape is known."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from profiler.paper import paper_named
from profiler.pipeline.scene import look, solve_photos
from profiler.scene.record import LensPrior, PrintScale
from profiler.silhouette.closer import closer_look
from profiler.silhouette.fine import FineBorder, fine_border
from profiler.silhouette.ground import Plan, lay_flat, light_of, uncovered_targets
from profiler.silhouette.mask import find_silhouette
from profiler.silhouette.stacking import as_stacked
from profiler.target.mat import MatDesign, design_mat
from tests.painter import camera_over, paint
from tests.silhouette.flat import LENS, flat

WOOD, METAL = (60, 90, 140), (150, 150, 152)


def _off(contour: Polygon, thing: Polygon, near: Polygon) -> tuple[float, float]:
    """mm: mean and largest distance of a contour from the thing's own, near a place."""
    ring = contour.exterior.intersection(near)
    places = shapely.points(
        np.array([c for g in shapely.get_parts(ring) for c in g.segmentize(0.2).coords])
    )
    away = shapely.distance(places, thing.exterior)
    return float(away.mean()), float(away.max())


def _laid_anew(
    design: MatDesign, head: Polygon, tuner: Polygon
) -> tuple[Plan, FineBorder, FineBorder]:
    """The plan of a painted head with a tuner, and its border with and without slots asked."""
    camera = camera_over(280.0, 200.0, 520.0, LENS, tilt=(0.0, 0.0))
    photo = paint(camera, design, [flat(head, WOOD), flat(tuner, METAL)], [])
    prior = LensPrior(LENS, np.full(9, 1e-6), "record")
    scene = solve_photos([look("painted", photo)], design, prior, PrintScale(1.0, 1.0), None)
    plan = lay_flat(photo, scene.cameras[0], scene.lying)
    lighting = light_of(plan, scene)
    assert lighting is not None
    plan = as_stacked(plan, lighting)
    closer = closer_look(photo, scene.cameras[0], scene.lying, plan)
    silhouette = find_silhouette(plan, lighting, bare=uncovered_targets(plan, scene), closer=closer)
    assert silhouette is not None
    mask = silhouette.mask
    whole = fine_border(plan, lighting, mask, closer)
    return plan, fine_border(plan, lighting, mask, closer, slots=silhouette.slots), whole


@pytest.mark.parametrize("on_print", [False, True])
def test_the_corners_between_shaft_button_and_head_are_not_filled(on_print: bool) -> None:
    design = design_mat(paper_named("A2"), 560, 400)
    cluster = min(
        (c for s in design.sheets for c in s.clusters),
        key=lambda c: np.hypot(c.x - 280, c.y - 200),
    )
    x, y = (cluster.x, cluster.y) if on_print else (cluster.x + 45.0, cluster.y + 40.0)
    head = box(x - 60, y - 70, x + 60, y - 5)
    # a shaft of 4 mm, ten pixels, and a button; the corners beside them are 10 mm deep
    tuner = unary_union([box(x - 2, y - 6, x + 2, y + 8), Point(x, y + 12).buffer(7.0, 48)])
    thing = unary_union([head, tuner])
    plan, fine, _ = _laid_anew(design, head, tuner)
    near = box(x - 12, y - 6, x + 12, y + 6)
    mean, largest = _off(Polygon(fine.contour), thing, near)
    # the mask's own contour: 0.39 and 0.44 mm on the mean
    assert mean < 0.3
    assert largest < 1.0
    assert plan.at(fine.closely, np.array([(x + 2.0, y)])).all()
    assert not plan.at(fine.closely, np.array([(x, y - 70.0)])).any()


def test_a_slot_between_a_broad_button_and_the_head_is_open() -> None:
    """2.2 mm of bare tint, 8 mm deep: the mask's closings fill it."""
    design = design_mat(paper_named("A2"), 560, 400)
    x, y = 325.0, 240.0
    head = box(x - 60, y - 70, x + 60, y - 5)
    tuner = unary_union([box(x - 2, y - 6, x + 2, y), box(x - 10, y - 2.8, x + 10, y + 9)])
    _, fine, whole = _laid_anew(design, head, tuner)
    mouth = box(x - 9, y - 4.8, x - 4, y - 3.0)
    assert Polygon(whole.contour).intersection(mouth).area > 0.8 * mouth.area
    assert Polygon(fine.contour).intersection(mouth).area < 0.35 * mouth.area
