"""A hard shadow beside the instrument: from which side the light comes that throws it.

A broad light, such as a window's whole sky, makes a shadow whose border fades over centimetres; a
lamp or the sun makes one whose border is as sharp as the edge that throws it. Where such a border
comes near the instrument's edge the two are hard to tell apart, for the program and for the eye.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.optics.light import channels
from profiler.silhouette.ground import TINT, Lighting, Plan
from profiler.silhouette.rings import rings_of

Array = NDArray[np.float64]

#: a border over which the light goes within this is hard, mm; by similar triangles a lamp as wide
#: as a fifth of its distance blurs the border of a shadow that falls 80 mm deep over 16 mm.
_BORDER_MM = 6.0
#: log light: less of a step at the border is no shadow worth a word
_LEAST_STEP = 0.35
#: mm: nearer to the instrument its own edge is seen, further away it throws no shadow
_FROM_MM, _TO_MM = 4.0, 200.0
#: mm² that the shadow covers, and mm that its hard border is long, at least
_LEAST_MM2, _LEAST_LONG_MM = 1500.0, 80.0
#: the side of the light is tried in cells of this size, mm, and with shadows of these lengths
_COARSE_MM, _PUSHES_MM = 4.0, (8.0, 16.0, 32.0, 48.0, 72.0, 110.0)


@dataclass(frozen=True)
class HardShadow:
    """Attributes:
    towards: (2,) mat frame, unit: from the instrument to its shadow, away from the light.
    rings: (K, 2) mm each, mat frame: round the shadow.
    """

    towards: Array
    rings: list[Array]


def hard_shadow(plan: Plan, lighting: Lighting, body: NDArray[np.bool_]) -> HardShadow | None:
    """The hard shadow on bare ground beside the instrument; None where there is none.

    Args:
        plan: the photo laid flat.
        lighting: of the ground where nothing shades it.
        body: (H, W) the instrument.
    """
    away = cv2.distanceTransform((~body).astype(np.uint8), cv2.DIST_L2, 5) * plan.cell
    plain = (cv2.erode((plan.printed == TINT).astype(np.uint8), _square(5)) > 0) & plan.seen
    asked = plain & (away > _FROM_MM) & (away < _TO_MM)
    pairs = zip(channels(plan.light), channels(lighting.lit), strict=True)
    logs = [np.log(np.maximum(a, 1e-4) / np.maximum(b, 1e-4)) for a, b in pairs]
    mean = np.asarray((logs[0] + logs[1] + logs[2]) / 3, dtype=np.float32)
    shade = np.asarray(cv2.blur(mean, (3, 3)), dtype=np.float32)
    step = _steps(shade, plain, max(1, round(_BORDER_MM / plan.cell / 2)))
    border = asked & (step > _LEAST_STEP)
    # what lies on the ground, a crumb or a cable, is dark too, but small or thin
    thin = _square(max(3, round(4.0 / plan.cell)))
    shaded = (asked & (shade < -_LEAST_STEP)).astype(np.uint8)
    dark = cv2.morphologyEx(shaded, cv2.MORPH_OPEN, thin)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    kept = np.zeros(body.shape, dtype=bool)
    for label in range(1, count):
        piece = labels == label
        area = float(stats[label, cv2.CC_STAT_AREA]) * plan.cell**2
        # a border of so many mm is a strip of border cells about as wide as it is blurred
        long_mm = float((border & _near(piece, plan)).sum()) * plan.cell**2 / _BORDER_MM
        if area >= _LEAST_MM2 and long_mm >= _LEAST_LONG_MM:
            kept |= piece
    if not kept.any():
        return None
    return HardShadow(_towards(body, shaded > 0, asked, plan.cell), rings_of(kept, plan))


def _towards(
    body: NDArray[np.bool_], shadow: NDArray[np.bool_], asked: NDArray[np.bool_], cell: float
) -> Array:
    """(2,) the way the body has to be pushed to lie on its shadow best, beside itself."""
    coarse = max(1, round(_COARSE_MM / cell))
    mine, dark, free = (m[::coarse, ::coarse] for m in (body, shadow, asked))
    best, way = -1.0, np.array([1.0, 0.0])
    for angle in np.arange(0.0, 2 * np.pi, np.pi / 12):
        towards = np.array([np.cos(angle), np.sin(angle)])
        for far in _PUSHES_MM:
            x, y = np.rint(towards * far / (coarse * cell)).astype(int)
            pushed = np.roll(mine, (y, x), axis=(0, 1)) & free & ~mine
            either = int((pushed | dark).sum())
            fits = float((pushed & dark).sum()) / max(either, 1)
            if fits > best:
                best, way = fits, towards
    return way


def _steps(shade: NDArray[np.float32], plain: NDArray[np.bool_], reach: int) -> NDArray[np.float32]:
    """(H, W) change of log light over twice a reach, where both ends are plain ground."""
    step = np.zeros(shade.shape, dtype=np.float32)
    for axis in (0, 1):
        ahead, behind = (np.roll(shade, s, axis) for s in (-reach, reach))
        both = np.roll(plain, -reach, axis) & np.roll(plain, reach, axis)
        step = np.maximum(step, np.where(both, np.abs(ahead - behind), 0.0))
    return step


def _near(piece: NDArray[np.bool_], plan: Plan) -> NDArray[np.bool_]:
    size = 2 * max(1, round(_BORDER_MM / plan.cell)) + 1
    return np.asarray(cv2.dilate(piece.astype(np.uint8), _square(size)) > 0)


def _square(size: int) -> NDArray[np.uint8]:
    return np.ones((size, size), np.uint8)
