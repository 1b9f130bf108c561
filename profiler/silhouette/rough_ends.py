"""About where needles end: the strongest step of the light near the silhouette's edge."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette.level import Level
from profiler.silhouette.peaks import parabola_top

Array = NDArray[np.float64]

#: an end is sought so far inside and outside the silhouette's edge, mm: the silhouette fills in
#: what is narrower than a needle or two
_INWARD, _OUTWARD = 2.6, 2.4
#: change of linear light per mm that an end makes at least
_LEAST_STEP = 0.03
#: light is smoothed along the needles by this, mm
_BLUR_MM = 0.12


def rough_ends(level: Level, up: bool) -> Array:
    """(W,) mm along v of the strongest step in each column near the silhouette's end; NaN for none.

    Args:
        level: laid flat at the needles' height, v along the needles.
        up: the upper end, else the lower one.
    """
    light, ink, mask = level.light, level.ink, level.mask
    if not up:
        light, ink, mask = light[::-1], ink[::-1], mask[::-1]
    height = len(mask)
    last = np.where(mask.any(axis=0), height - 1 - np.argmax(mask[::-1], axis=0), -1)
    soft = gaussian_filter1d(light, _BLUR_MM / level.cell, axis=0, order=1, mode="nearest")
    offsets = np.arange(-round(_INWARD / level.cell), round(_OUTWARD / level.cell) + 1)
    window = np.clip(last[None, :] + offsets[:, None], 2, height - 3)
    columns = np.arange(mask.shape[1])
    printed = ink[window, columns] & (offsets > 1)[:, None]

    def slope(rows: NDArray[np.intp]) -> Array:
        return np.asarray(
            np.linalg.norm(soft[rows, columns], axis=-1).astype(np.float64) / level.cell
        )

    strength = np.where(printed, 0.0, slope(window))
    at = np.argmax(strength, axis=0)
    row = window[at, columns]
    found = (last >= 0) & (strength[at, columns] > _LEAST_STEP)
    fine = row + parabola_top(*(slope(row + d) for d in (-1, 0, 1)))
    v = level.corner[1] + (fine if up else height - 1 - fine) * level.cell
    return np.where(found, v, np.nan)
