"""The side view with the heights that were read in it, to be checked by eye."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.drawing.lettering import shortened
from profiler.optics.camera import Camera
from profiler.outline.elevation import Seen
from profiler.pipeline.easel import INK, PENCIL, TEAL, VERMILION, Easel
from profiler.pipeline.side import SideResult
from profiler.pipeline.wording import Wording
from profiler.plates.figures import in_degrees, in_units
from profiler.silhouette.standing import plane_of

Array = NDArray[np.float64]

JPEG_QUALITY = 88
WASH = 0.15
LETTERING = 1 / 95
#: of the photo so much is shown round the instrument, part of its length
_ROUND = 0.06
#: neighbours further apart than this are not joined, mm
_GAP_MM = 4.0


def draw_side_overlay(pixels: NDArray[np.uint8], side: SideResult, wording: Wording) -> bytes:
    """The overlay as a JPEG file; the same input gives the same bytes.

    Args:
        pixels: (H, W, 3) BGR, the side view as the sensor reads it.
        side: what was measured in it.
        wording: heading and unit.
    """
    camera = side.placed.scene.cameras[0]
    chains = [(_on_photo(side, seen, camera), seen) for seen in (side.upper, side.lower)]
    every = np.concatenate([at for at, _ in chains])
    picture, turn, corner = _cropped(pixels, every, camera)
    easel = Easel(picture, WASH)
    width = max(2, round(easel.width / 900))
    for (at, seen), colour in zip(chains, (INK, TEAL), strict=True):
        for run in _runs(seen):
            if len(run) > 1:
                easel.line(turn(at[run]) - corner, colour, width)
    profile = side.profile
    size = max(14, round(easel.width * LETTERING))
    if profile.thickest.value is not None and profile.thickest.x is not None:
        nearest = int(np.argmin(np.abs(side.upper.x - profile.thickest.x)))
        easel.crosses(turn(chains[0][0][nearest][None]) - corner, 1.2 * size, VERMILION)
    below = round(4.6 * size)
    easel.frame(size, below, size)
    lines = [
        f"{wording.title}: {profile.photo}. Blue: what stands highest; green: what hangs lowest."
        " Both must lie on the instrument's edge.",
        _numbers(side, wording),
    ]
    for k, line in enumerate(lines):
        words = shortened(line, size, easel.width - 2 * size)
        y = easel.height - below + (1.3 + 1.6 * k) * size
        easel.text(size, y, words, size, PENCIL)
    done, coded = cv2.imencode(".jpg", easel.done(), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    assert done
    return coded.tobytes()


def _numbers(side: SideResult, wording: Wording) -> str:
    profile = side.profile
    told = {
        "Thickest (red cross)": profile.thickest and in_units(profile.thickest, wording.units),
        "Headstock tilted by": in_degrees(profile.tilt),
        "Strap button's height": profile.button and in_units(profile.button, wording.units),
    }
    return ". ".join(f"{what}: {words}" for what, words in told.items() if words)


def _on_photo(side: SideResult, seen: Seen, camera: Camera) -> Array:
    flat = np.column_stack([seen.at, np.zeros(len(seen.at))])
    return camera.project(plane_of(side.measurement.frame).apply(flat))


def _runs(seen: Seen) -> list[NDArray[np.intp]]:
    order = np.argsort(seen.at[:, 0], kind="stable")
    step = np.hypot(*np.diff(seen.at[order], axis=0).T)
    return list(np.split(order, np.flatnonzero(step > _GAP_MM) + 1))


def _cropped(
    pixels: NDArray[np.uint8], every: Array, camera: Camera
) -> tuple[NDArray[np.uint8], _Turn, Array]:
    """The part round the instrument, upright; how px turn with it; its corner."""
    h, w = pixels.shape[:2]
    # which way the bench's up points in the sensor's picture
    up = camera.camera_from_mat.rotation[:2, 2]
    quarter = int(np.rint(np.arctan2(up[0], -up[1]) / (np.pi / 2))) % 4
    turn = _Turn(quarter, w, h)
    picture = np.ascontiguousarray(np.rot90(pixels, quarter))
    at = turn(every)
    slack = _ROUND * float(np.ptp(at[:, 0]))
    low = np.maximum(np.floor(at.min(axis=0) - slack), 0).astype(int)
    high = np.ceil(at.max(axis=0) + slack).astype(int)
    part = picture[low[1] : high[1], low[0] : high[0]]
    return np.ascontiguousarray(part), turn, low.astype(np.float64)


class _Turn:
    """Photo px to those of the picture turned by quarters anticlockwise."""

    def __init__(self, quarter: int, width: int, height: int) -> None:
        self.quarter, self.width, self.height = quarter, width, height

    def __call__(self, points: Array) -> Array:
        x, y = points.T
        w, h = self.width - 1, self.height - 1
        turned = ((x, y), (y, w - x), (w - x, h - y), (h - y, x))[self.quarter]
        return np.column_stack(turned)
