"""What is round or thick all along: tuner buttons, peg heads, shafts.

Such a thing has one height, that of its middle, where it is widest. Seen aslant it is touched above
or below that, and what is seen there falls outside its widest place when it is lifted to the
middle: of a circle of radius r that a ray meets at the angle a from the vertical, r (1 / cos a - 1)
outside, on both of its sides alike. No height explains that.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: half the thickness of tuner buttons and peg heads, mm: common practice, no source
HALF_THICK_MM = 3.5


def seen_wider(slope: Array, radius: float = HALF_THICK_MM) -> Array:
    """(N,) mm: how far outside the widest place a round thing of that radius, mm, is seen.

    Args:
        slope: (N,) mm that the line of sight goes outward, across the edge, for each mm down.
        radius: mm.
    """
    wider: Array = radius * (np.hypot(1.0, slope) - 1.0)
    return wider
