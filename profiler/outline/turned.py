"""What is round or thick all along: tuner buttons, peg heads, shafts; and a strap button's end.

Such a thing has one height, that of its middle, where it is widest. Seen aslant it is touched above
or below that, and what is seen there falls outside its widest place when it is lifted to the
middle: of a circle of radius r that a ray meets at the angle a from the vertical, r (1 / cos a - 1)
outside, on both of its sides alike. No height explains that.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: how far from its axis the edge of a strap button's end is touched, and its standard uncertainty,
#: mm: ends are 11 to 15 across and rounded or not; common practice, no source
END_MM, END_U_MM = 3.5, 1.5
#: half the thickness of tuner buttons and peg heads, mm: common practice, no source
HALF_THICK_MM = 3.5


def seen_wider(slope: Array, upright: float = 0.0, radius: float = HALF_THICK_MM) -> Array:
    """(N,) mm: how far outside the widest place a round thing of that radius, mm, is seen.

    Args:
        slope: (N,) mm that the line of sight goes outward, across the edge, for each mm down.
        upright: mm, half the height over which its sides stand upright between their roundings:
            from over it their upper end is touched, from beyond it the lower one. Less than nought
            for what is thinner than the usual radius.
        radius: mm.
    """
    wider: Array = radius * (np.hypot(1.0, slope) - 1.0) + upright * np.abs(slope)
    return wider


def end_seen_further(slope: Array, rounder: float = 0.0) -> Array:
    """(N,) mm: how far outside its place the end of a strap button is seen, lifted to the axis.

    The end stands up like a wall: from over the instrument its upper edge is touched, from beyond
    it the lower one, and either lies further out by as much as the line of sight goes outward over
    that height. The button's sides, seen across, are touched where they are widest.

    Args:
        slope: (N,) mm that the line of sight goes outward, across the edge, for each mm down.
        rounder: by so many standard uncertainties the end is larger than usual.
    """
    further: Array = (END_MM + rounder * END_U_MM) * np.abs(slope)
    return further
