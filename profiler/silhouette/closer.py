"""A closer look at parts of the plan, at the photo's own resolution.

The plan picture has half the photo's resolution, which is fine for what lies on bare tint. Where a
thin shaft lies on a printed target, each pixel counts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from profiler.optics.light import remap_linear
from profiler.scene.record import PlacedPanel
from profiler.silhouette.ground import Plan, coverage, inked, pixel_grid

#: cells of the plan, rows and columns
Box = tuple[slice, slice]
Closer = Callable[[Box], Plan]

#: so much finer than the plan, each way
TIMES = 2
#: px, sigma of a phone's blur after sharpening
_BLUR_PX = 0.85


def closer_look(
    photo: NDArray[np.uint8], camera: Camera, sheets: Sequence[PlacedPanel], plan: Plan
) -> Closer:
    """A way to look at boxes of the plan more closely.

    Args:
        photo: (H, W, 3) 8 bit BGR, from which the plan was laid flat.
        camera: solved.
        sheets: solved.
        plan: the photo laid flat.

    Returns:
        from a box of the plan's cells to a plan of the same place with `TIMES` its cells each way.
    """
    targets = inked(sheets)
    low, high = targets[0].min(axis=1), targets[0].max(axis=1)

    def look(box: Box) -> Plan:
        rows, columns = (s.stop - s.start for s in box)
        cell = plan.cell / TIMES
        start = np.array([box[1].start, box[0].start])
        origin = plan.origin + start * plan.cell - (plan.cell - cell) / 2
        shape = (rows * TIMES, columns * TIMES)
        end = origin + cell * np.array(shape[::-1])
        pixels = pixel_grid(camera, origin, cell, shape[1], shape[0])
        near = ((high > origin - 1) & (low < end + 1)).all(axis=1)
        here = targets[0][near], [ink for ink, n in zip(targets[1], near, strict=True) if n]
        white, black = coverage(here, origin, cell, shape)
        px_per_cell = float(np.mean(np.hypot(*(pixels[0, -1] - pixels[0, 0]).T))) / shape[1]
        return Plan(
            remap_linear(photo, pixels),
            magnified(plan.printed[box]),
            white,
            black,
            magnified(plan.seen[box]),
            origin,
            cell,
            _BLUR_PX / max(px_per_cell, 0.2),
            plan.stack,
        )

    return look


def magnified(layer: NDArray) -> NDArray:  # type: ignore[type-arg]
    """(TIMES H, TIMES W): each cell repeated."""
    return np.repeat(np.repeat(layer, TIMES, axis=0), TIMES, axis=1)


def smoothly_magnified(layer: NDArray[np.float32]) -> NDArray[np.float32]:
    """(TIMES H, TIMES W, ...): interpolated between the cells' centres."""
    size = (layer.shape[1] * TIMES, layer.shape[0] * TIMES)
    return np.asarray(cv2.resize(layer, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def gathered(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(H, W) from (TIMES H, TIMES W): where at least half of the finer cells are set."""
    h, w = mask.shape
    share = mask.reshape(h // TIMES, TIMES, w // TIMES, TIMES).mean(axis=(1, 3))
    return np.asarray(share >= 0.5)
