"""What is seen of the ground round the instrument: a hard shadow, squares that are covered."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.jobs.turning import upright_points
from profiler.pipeline.check_points import Point, Weight
from profiler.pipeline.seeing import Seen, places_at
from profiler.scene.record import Scene
from profiler.silhouette.ground import Lighting, Plan
from profiler.silhouette.shadow import hard_shadow
from profiler.target.mat import MatDesign

Array = NDArray[np.float64]

_SIDES = (
    "right",
    "bottom right",
    "bottom",
    "bottom left",
    "left",
    "top left",
    "top",
    "top right",
)
#: a target so near to the instrument, mm, or to the photo's border, px, is hidden by it
_BESIDE_MM, _BORDER_PX = 12.0, 4.0
#: px round a tag that is surely read where it is seen
_READ_PX = 60.0
#: targets of which so many are not seen beside the instrument are covered
_COVERED = 2
#: correlation of black print and light below which the print is there to be seen; cells and spread
#: of print that this can be asked of
_PRINT_SHOWS, _LEAST_CELLS, _LEAST_PRINT = -0.4, 100, 0.1


def shadow_points(
    scene: Scene, plan: Plan, lighting: Lighting, seen: Seen, orientation: int
) -> tuple[Point, ...]:
    """A hard shadow, told by the side that its light comes from in the upright photo."""
    found = hard_shadow(plan, lighting, seen.silhouette.mask)
    if found is None:
        return ()
    camera = scene.cameras[0]
    cells = np.argwhere(seen.silhouette.mask)[:, ::-1].mean(axis=0)
    middle = plan.to_mat(cells[None].astype(np.float64))[0]
    ends = np.array([[*middle, 0.0], [*(middle - 50.0 * found.towards), 0.0]])
    size = np.array([camera.lens.width, camera.lens.height])
    here, light = upright_points(camera.project(ends) / size, orientation)
    x, y = (light - here) * (size if orientation < 5 else size[::-1])
    # eight sides of the upright photo, whose y runs down
    side = _SIDES[round(float(np.arctan2(y, x)) / (np.pi / 4)) % 8]
    return (
        Point(
            "light",
            Weight.BETTER,
            f"Light from the {side} of the photo makes a hard shadow, which may be taken for the"
            " instrument's edge. Hang a white cloth before that lamp or window, or turn the mat"
            " away from it.",
            f"Soften the light from the {side}: it makes a hard shadow.",
            places_at(found.rings, camera),
        ),
    )


def covered_points(scene: Scene, design: MatDesign, plan: Plan, seen: Seen) -> tuple[Point, ...]:
    """Targets beside the instrument that are in the photo and are not read."""
    camera = scene.cameras[0]
    size = np.array([camera.lens.width, camera.lens.height])
    placed = {sheet.panel.name: sheet for sheet in scene.sheets}
    read = set(scene.observations[0].code.tolist())
    reach = max(1, round(_BESIDE_MM / plan.cell))
    square = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    hidden = np.asarray(cv2.dilate(seen.silhouette.mask.astype(np.uint8), square), dtype=np.uint8)
    rings = []
    for number, panel in enumerate(design.sheets):
        for cluster in panel.clusters:
            if cluster.code in read:
                continue
            box = cluster.footprint()
            x, y = (box.x0, box.x1, box.x1, box.x0), (box.y0, box.y0, box.y1, box.y1)
            ring = np.column_stack([x, y])
            local = np.vstack([ring, cluster.saddles(), cluster.tag_corners()])
            if panel.name in placed:
                on_mat = placed[panel.name].to_mat(local)
            else:
                on_mat = np.column_stack([local + design.origin(number), np.zeros(len(local))])
            px = camera.project(on_mat)
            inside = ((px > _BORDER_PX) & (px < size - _BORDER_PX)).all()
            tag = px[-4:]
            round_px = float(np.hypot(*(np.roll(tag, -1, axis=0) - tag).T).sum())
            free = inside and not plan.at(hidden, on_mat[:, :2]).any()
            if free and round_px > _READ_PX and not _shows(plan, on_mat[:4, :2]):
                rings.append(on_mat[:4])
    if len(rings) < _COVERED:
        return ()
    return (
        Point(
            "mat",
            Weight.BETTER,
            f"{len(rings)} of the mat's printed squares beside the instrument are not read:"
            " something covers them, or glare lies on them.",
            "Uncover the marked squares of the mat.",
            places_at(rings, camera),
        ),
    )


def _shows(plan: Plan, ring: Array) -> bool:
    """Whether a target's black and white can be seen where they are printed, if not read."""
    cells = np.rint(plan.to_cells(ring)).astype(int)
    (x0, y0), (x1, y1) = np.maximum(cells.min(axis=0), 0), cells.max(axis=0) + 1
    black, light = plan.black[y0:y1, x0:x1], plan.light[y0:y1, x0:x1].mean(axis=-1)
    if light.size < _LEAST_CELLS or float(black.std()) < _LEAST_PRINT:
        return False  # a sheet of which nothing was read
    if float(light.std()) < 1e-4:
        return False
    alike = np.corrcoef(black.ravel(), np.log(np.maximum(light, 1e-3)).ravel())[0, 1]
    return bool(alike < _PRINT_SHOWS)
