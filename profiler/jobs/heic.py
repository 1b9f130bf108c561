"""HEIC photos: decoded, and turned back to the sensor's orientation.

The decoder applies the file's own rotation and mirroring; a lens calibration needs them undone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pillow_heif
from numpy.typing import NDArray

from profiler.jobs.exif import CameraNotes, notes_from_bytes
from profiler.jobs.turning import upright

#: one step of the file's own turning: ('irot', degrees anticlockwise) or ('imir', axis)
Step = tuple[str, int]


@dataclass(frozen=True, eq=False)
class HeicPhoto:
    """A HEIC file, opened and not yet decoded; `width` and `height` in px, sensor orientation."""

    image: Any
    steps: tuple[Step, ...]
    notes: CameraNotes
    width: int
    height: int

    def decode(self) -> NDArray[np.uint8]:
        """(height, width, 3) uint8, blue green red."""
        pixels = np.asarray(self.image)
        if pixels.dtype == np.uint16:  # 10 and 12 bit grey comes stretched to 16
            pixels = (pixels >> 8).astype(np.uint8)
        if pixels.ndim == 2:
            pixels = np.repeat(pixels[:, :, None], 3, axis=2)
        pixels = pixels[:, :, :3]
        for step in reversed(self.steps):
            pixels = _undo(pixels, step)
        return np.ascontiguousarray(pixels)


def open_heic(data: bytes) -> HeicPhoto:
    """Read the header of a HEIC file's main picture.

    Raises:
        ValueError, EOFError, SyntaxError, RuntimeError, OSError: as the decoder does for a file
            that is damaged.
    """
    file = pillow_heif.open_heif(data, bgr_mode=True)
    image: Any = file[file.primary_index]
    steps = _steps(image)
    notes = notes_from_bytes(image.info.get("exif") or b"")
    width, height = image.size
    if sum(value // 90 for name, value in steps if name == "irot") % 2:
        width, height = height, width
    if any(step != ("irot", 0) for step in steps):
        # the rotation in the file rules; EXIF's copy of it may be missing or stale (ISO 23000-22)
        notes = replace(notes, orientation=_orientation(steps))
    return HeicPhoto(image, steps, notes, width, height)


def _steps(image: Any) -> tuple[Step, ...]:
    """What the decoder does to the sensor's picture, in order."""
    listed = image._c_image.transformations
    return tuple((t[0], int(t[1])) for t in listed if t[0] in ("irot", "imir"))


def _apply(pixels: NDArray[Any], step: Step) -> NDArray[Any]:
    name, value = step
    if name == "irot":
        return np.rot90(pixels, value // 90)
    return pixels[:, ::-1] if value == 1 else pixels[::-1]


def _undo(pixels: NDArray[Any], step: Step) -> NDArray[Any]:
    name, value = step
    return np.rot90(pixels, -(value // 90)) if name == "irot" else _apply(pixels, step)


def _orientation(steps: tuple[Step, ...]) -> int:
    """The EXIF code that does what the steps do, found by doing it to a little picture."""
    little = np.arange(6, dtype=np.uint8).reshape(2, 3, 1)
    turned: NDArray[Any] = little
    for step in steps:
        turned = _apply(turned, step)
    for code in range(1, 9):
        if np.array_equal(upright(little, code), turned):
            return code
    return 1
