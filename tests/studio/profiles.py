"""Lenses as published profiles of real phones describe them: what Brown's model cannot fit.

The profiles are those of the lens database that travels in the package `lensfunpy` (CC-BY-SA; used
at test time, nothing of it is copied). Its models have odd powers of the radius.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: what counts as a phone's main camera: sensor and angle of view; corrected all but this much, px
LEAST_CROP, EQUIVALENTS_MM, DEPARTS_PX = 4.0, (23.0, 31.0), (2.0, 30.0)
WIDTH, HEIGHT = 4000, 3000
STEPS = 96


@lru_cache(maxsize=1)
def published() -> tuple[tuple[float, tuple[float, ...]], ...]:
    """Of each profile the 35 mm equivalent, and its bend as `kernels.undistort` takes it for a
    focal length of one.

    Raises:
        ImportError: the package is not there.
    """
    import lensfunpy

    found = []
    for camera in lensfunpy.Database().cameras:
        if camera.crop_factor < LEAST_CROP:
            continue
        for lens in lensfunpy.Database().find_lenses(camera):
            equivalent = lens.min_focal * camera.crop_factor
            low, high = EQUIVALENTS_MM
            if lens.min_focal != lens.max_focal or not low < equivalent < high:
                continue
            modifier = lensfunpy.Modifier(lens, camera.crop_factor, WIDTH, HEIGHT)
            modifier.initialize(lens.min_focal, 2.0, 1.0)
            # for each pixel of the corrected picture the place in the one that the lens drew
            drawn = modifier.apply_geometry_distortion()
            if drawn is None:
                continue
            bend = _bend(drawn)
            if bend is not None:
                found.append((equivalent, bend))
    distinct = {bend: equivalent for equivalent, bend in found}
    return tuple((e, bend) for bend, e in sorted(distinct.items()))


def _bend(drawn: NDArray[np.float32]) -> tuple[float, ...] | None:
    """Reach, then undistorted over distorted radius; radii in half diagonals of the frame."""
    centre = np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2])
    half = np.hypot(*centre)
    across = np.arange(WIDTH // 2, WIDTH, 4)
    down = np.round(centre[1] + (across - centre[0]) * HEIGHT / WIDTH).astype(int)
    keep = down < HEIGHT
    across, down = across[keep], down[keep]
    flat = np.hypot(across - centre[0], down - centre[1]) / half
    bent = np.hypot(*(drawn[down, across].astype(np.float64) - centre).T) / half
    away = float(np.abs(bent - flat).max() * half)
    if not DEPARTS_PX[0] < away < DEPARTS_PX[1]:
        return None
    # smooth through the database's single precision; even and odd powers, none of them constant
    powers = np.arange(7)
    design = bent[:, None] ** powers
    terms = np.linalg.lstsq(design, flat / np.maximum(bent, 1e-9), rcond=None)[0]
    reach = 1.04
    at = np.linspace(0.0, reach, STEPS + 1)
    return (reach, *(round(float(v), 9) for v in (at[:, None] ** powers) @ terms))


def bend_for(
    focal_px: float, width: int, height: int, bend: tuple[float, ...]
) -> tuple[float, ...]:
    """The bend for a lens of that focal length: radii are then tangents of the ray's angle."""
    half = float(np.hypot(width - 1, height - 1) / 2)
    return (bend[0] * half / focal_px, *bend[1:])
