"""Where the left and the right side of a body are not alike, though they are elsewhere.

Most bodies are alike on both sides. One that is but for a short stretch has lost its edge there, in
a side that mirrors the mat or in a shadow; or it was made so, and nothing in the outline tells.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import evenly_spaced

Array = NDArray[np.float64]

# Guesses, tried on rendered instruments.
#: half of a body that was made alike on both sides lies within this of its mirror image, mm, and
#: none of it this far: a body with a cutaway or horns was made otherwise (and an edge lost by more
#: passes for one)
_HALF_WITHIN_MM, _MADE_SO_MM = 2.0, 30.0
#: less is how two sides differ in life, mm
_LEAST_MM = 2.5
_EVERY_MM = 0.25


def unlike_sides(points: Array, u95: Array, body: NDArray[np.bool_]) -> Array:
    """(N,) mm between an outline and its mirror image, nought where they are as near to each other
    as can be told, and all along where a body was not made alike.

    Args:
        points: (N, 2) mm, closed: x from the tail, y to the left of the centreline.
        u95: (N,) mm, across it.
        body: (N,) points of the body that are compared.
    """
    unlike = np.zeros(len(points))
    if not body.any():
        return unlike
    # a tree of places is asked faster than a ring of lines
    mirrored = evenly_spaced(points, _EVERY_MM) * (1.0, -1.0)
    apart = cKDTree(mirrored).query(points)[0]
    opposite = cKDTree(points * (1.0, -1.0)).query(points)[1]
    if np.median(apart[body]) > _HALF_WITHIN_MM or apart[body].max() > _MADE_SO_MM:
        return unlike
    told = body & (apart > np.maximum(_LEAST_MM, np.hypot(u95, u95[opposite])))
    unlike[told] = apart[told]
    return unlike
