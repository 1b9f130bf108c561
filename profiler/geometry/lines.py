"""The straight line that most of some points lie on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


def robust_line(
    x: Array,
    z: Array,
    slack: float,
    bare: int = 0,
    through: tuple[float, float, float] | None = None,
) -> tuple[float, float, Mask]:
    """Slope, height at 0, and which points go along: the line that most points lie near to, then
    least squares through those.

    Args:
        x, z: (N,) mm, ordered along x.
        slack: mm.
        bare: -1 where nothing should lie below the line, 1 where nothing should lie above it: each
            point that does counts against it twice.
        through: x, z and room, mm: the line must pass that near to it.
    """
    best, most = np.zeros(len(x), dtype=bool), 0
    some = np.linspace(0, len(x) - 1, min(len(x), 70)).astype(int)
    for i in some:
        for j in some:
            if x[j] - x[i] < 0.2 * np.ptp(x):
                continue
            slope = (z[j] - z[i]) / (x[j] - x[i])
            if through and abs(z[i] + slope * (through[0] - x[i]) - through[1]) > through[2]:
                continue
            left = z - z[i] - slope * (x - x[i])
            near = np.abs(left) < slack
            score = int(near.sum()) - 2 * int((bare * left > slack).sum())
            if score > most:
                best, most = near, score
    if best.sum() < 3:
        return 0.0, float(np.median(z)) if len(z) else 0.0, best
    slope, height = np.polyfit(x[best], z[best], 1)
    return float(slope), float(height), best
