"""The straight line that most of some points lie on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: lines through pairs of so many of the points are tried
_TRIED = 70


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
    best = np.zeros(len(x), dtype=bool)
    some = np.linspace(0, len(x) - 1, min(len(x), _TRIED)).astype(int)
    i, j = (some[k] for k in np.triu_indices(len(some), 1))
    apart = x[j] - x[i]
    use = (apart >= 0.2 * np.ptp(x)) & (apart > 0) if len(x) else apart > 0
    i, j, apart = i[use], j[use], apart[use]
    slopes = (z[j] - z[i]) / apart
    if through:
        by = np.abs(z[i] + slopes * (through[0] - x[i]) - through[1]) <= through[2]
        i, slopes = i[by], slopes[by]
    if len(i):
        left = z - z[i, None] - slopes[:, None] * (x - x[i, None])
        near = np.abs(left) < slack
        score = near.sum(axis=1)
        if bare:
            score = score - 2 * (bare * left > slack).sum(axis=1)
        # of equals the first
        which = int(np.argmax(score))
        best = near[which] if score[which] > 0 else best
    if best.sum() < 3:
        return 0.0, float(np.median(z)) if len(z) else 0.0, best
    slope, height = np.polyfit(x[best], z[best], 1)
    return float(slope), float(height), best
