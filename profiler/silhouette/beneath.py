"""What the mat would look like at places of the photo if nothing lay there: which ink, what light.

The print is known, its place to a few tenths of a millimetre; the light on it is known but for
shade. So at each place the three inks have a chance each, and each a light.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from profiler.optics.camera import Camera
from profiler.silhouette.ground import STRIP, TARGET, TINT, UNSURE, WHITE, Lighting, Plan

Array = NDArray[np.float64]

#: where a target's print lies is known to this, mm, standard (guess: printers and the solved scene)
_PRINT_MM = 0.2
#: chance of an ink that should not be there: a speck, a pencil mark
_STRAY = 0.01


@dataclass(frozen=True)
class Beneath:
    """Bare mat at places (...).

    Attributes:
        light: (..., 3, 3) linear light, BGR last, of tint, white and black there, unshaded.
        chance: (..., 3) of each of these inks; adds up to one.
        known: (...) whether there is a mat, inside the photo.
    """

    light: Array
    chance: Array
    known: NDArray[np.bool_]


def mat_beneath(
    camera: Camera, plan: Plan, lighting: Lighting, points: Array, height: float
) -> Beneath:
    """The mat that would be seen where points above it are seen.

    Args:
        camera: solved.
        plan: the photo laid flat.
        lighting: of the mat.
        points: (..., 2) mm, mat frame.
        height: of the points above the mat, mm.
    """
    shape = points.shape[:-1]
    flat = points.reshape(-1, 2)
    # the sight line's foot: from the camera's centre through the point down to the mat
    centre = camera.centre
    foot = centre[:2] + (flat - centre[:2]) * (centre[2] / (centre[2] - height))
    cells = plan.to_cells(foot)
    where = [cells[:, 1], cells[:, 0]]

    def at(layer: NDArray[np.float32]) -> Array:
        return np.asarray(map_coordinates(layer, where, order=1, mode="nearest"), dtype=np.float64)

    sigma = max(_PRINT_MM / plan.cell, 0.3)
    white, black = (
        at(np.asarray(cv2.GaussianBlur(layer, (0, 0), sigma), dtype=np.float32))
        for layer in (plan.white, plan.black)
    )
    bits = plan.at(plan.printed, foot)
    tinted, pale = (bits & TINT) > 0, (bits & (WHITE | STRIP)) > 0
    on_target = (bits & TARGET) > 0
    # away from targets: tint, paper, or whichever of the two the sheets' ends leave open
    bare = np.where(tinted & pale & ~on_target, 0.5, np.where(tinted, 1.0, 0.0))
    rest = np.clip(1.0 - white - black, 0.0, 1.0)
    chance = np.stack([rest * bare, white + rest * (1.0 - bare), black], axis=-1)
    chance[(bits & UNSURE) > 0] = 1 / 3
    chance = np.clip(chance, _STRAY, None)
    chance /= chance.sum(axis=-1, keepdims=True)
    lit = np.stack([at(np.ascontiguousarray(lighting.lit[..., c])) for c in range(3)], axis=-1)
    inks = np.stack([np.ones(3), lighting.white, lighting.black]).astype(np.float64)
    known = (bits > 0) & (plan.at(plan.seen.astype(np.uint8), foot) > 0)
    return Beneath(
        (lit[:, None, :] * inks).reshape((*shape, 3, 3)),
        chance.reshape((*shape, 3)),
        known.reshape(shape),
    )
