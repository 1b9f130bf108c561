"""A raster opened by a large disc: what is too narrow for the disc goes.

OpenCV asks every cell of the disc for every cell of the raster. The disc's rows are runs of cells,
though, each inside the next wider one: so the raster is eroded sideways once, step by step, and
each row of the disc takes it where it is as wide as that row.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Raster = NDArray[np.uint8]


def opened(raster: Raster, radius: int) -> Raster:
    """(H, W) of 0 and 1, opened by a disc of that radius in cells, as OpenCV's `MORPH_OPEN`."""
    kept = _eroded(raster, radius)
    # what a disc adds is what it takes from the ground
    return 1 - _eroded(1 - kept, radius)


def _eroded(raster: Raster, radius: int) -> Raster:
    """Cells round which a disc lies in the raster, which goes on for ever beyond its border."""
    h, w = raster.shape
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    halves = disc.sum(axis=1).astype(int) // 2
    wide = np.pad(raster, radius, constant_values=1)
    sideways = wide[:, radius : radius + w].copy()
    eroded = np.ones_like(raster)
    for half in range(int(halves.max()) + 1):
        if half:
            sideways &= wide[:, radius - half : radius - half + w]
            sideways &= wide[:, radius + half : radius + half + w]
        for row in np.flatnonzero(halves == half):
            eroded &= sideways[row : row + h]
    return eroded
