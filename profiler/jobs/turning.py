"""Turning a picture upright by its EXIF orientation, and back to how the sensor saw it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: (height, width, channels) uint8
Pixels = NDArray[np.uint8]


def upright(pixels: Pixels, orientation: int) -> Pixels:
    """Turn a sensor picture the way EXIF says that it is to be looked at (CIPA DC-008, 0x0112)."""
    if orientation in (2, 3):
        pixels = pixels[:, ::-1]
    if orientation in (3, 4):
        pixels = pixels[::-1]
    if orientation in (5, 6, 7, 8):
        pixels = pixels.transpose(1, 0, 2)
        if orientation in (6, 7):
            pixels = pixels[:, ::-1]
        if orientation in (7, 8):
            pixels = pixels[::-1]
    return np.ascontiguousarray(pixels)


def upright_points(points: NDArray[np.float64], orientation: int) -> NDArray[np.float64]:
    """(N, 2) shares of a sensor picture's width and height, 0 to 1, as `upright` turns them."""
    x, y = points[:, 0], points[:, 1]
    turned = {
        1: (x, y),
        2: (1 - x, y),
        3: (1 - x, 1 - y),
        4: (x, 1 - y),
        5: (y, x),
        6: (1 - y, x),
        7: (1 - y, 1 - x),
        8: (y, 1 - x),
    }[orientation]
    return np.column_stack(turned)


def sensor_side_up(pixels: Pixels, orientation: int) -> Pixels:
    """Undo `upright`."""
    # a quarter turn one way is undone by the other one; every mirroring undoes itself
    return upright(pixels, {6: 8, 8: 6}.get(orientation, orientation))
