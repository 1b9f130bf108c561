"""Flat things painted on a mat, and what of the photo is found not to be mat."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import transform
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from profiler.optics.lens import Lens
from profiler.pipeline.scene import look, solve_photos
from profiler.scene.record import LensPrior, PrintScale, Scene
from profiler.silhouette.ground import Lighting, Plan, lay_flat, light_of, uncovered_targets
from profiler.silhouette.mask import find_silhouette
from profiler.silhouette.stacking import as_stacked
from profiler.target.mat import MatDesign
from tests.painter import Slab, camera_over, paint

LENS = Lens(1600, 1200, 1250.0, 800.0, 600.0)


def flat(thing: Polygon, colour: tuple[int, int, int]) -> Slab:
    """It lies on the mat and has no height."""
    return Slab(np.array(thing.exterior.coords)[:-1], 0.0, 0.01, colour, colour)


def laid(
    design: MatDesign, slabs: list[Slab], order: Sequence[int] = ()
) -> tuple[Plan, Lighting, Scene]:
    """The photo laid flat, as if the sheets lay in their usual order; `order` as in `paint`."""
    camera = camera_over(280.0, 200.0, 520.0, LENS, tilt=(0.0, 0.0))
    photo = paint(camera, design, slabs, [], order=order)
    prior = LensPrior(LENS, np.full(9, 1e-6), "record")
    scene = solve_photos([look("painted", photo)], design, prior, PrintScale(1.0, 1.0), None)
    plan = lay_flat(photo, scene.cameras[0], scene.lying)
    lighting = light_of(plan, scene)
    assert lighting is not None
    return plan, lighting, scene


def seen(design: MatDesign, slabs: list[Slab], order: Sequence[int] = ()) -> tuple[Polygon, float]:
    """The mask's own cells as a shape, and the size of a cell, mm."""
    plan, lighting, scene = laid(design, slabs, order)
    plan = as_stacked(plan, lighting)
    silhouette = find_silhouette(plan, lighting, bare=uncovered_targets(plan, scene))
    assert silhouette is not None
    rows, columns = np.nonzero(silhouette.mask)
    # put together while their corners are whole numbers: no slivers are left between them
    cells = unary_union([box(x, y, x + 1, y + 1) for x, y in zip(columns, rows, strict=True)])
    return transform(cells, lambda corners: plan.to_mat(corners - 0.5)), plan.cell
