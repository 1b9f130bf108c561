"""Where the instrument has nearly the ground's own colour, so that its edge may be lost.

Maple on a warm tint, a blue top on a blue one: what is found there may as well be a string, the
grain or the shadow's border, and looks like any edge. So the two sides of the edge are compared.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import outward_normals
from profiler.silhouette.edge import Edge
from profiler.silhouette.ground import Plan

Array = NDArray[np.float64]

#: how far on either side of the edge its light is compared, mm
_BESIDE_MM = np.arange(0.8, 3.3, 0.4)
#: log light, root mean square of the colours: sides that differ by less are nearly alike; a guess
#: between rendered ones
_NEARLY_ALIKE = 0.2
_DARK = 2e-3


def faintly_seen(plan: Plan, edge: Edge) -> NDArray[np.bool_]:
    """(N,) where the light on both sides of an edge is nearly the same.

    Args:
        plan: the photo laid flat.
        edge: N points.
    """
    normals = outward_normals(edge.on_mat, 2.5)

    def beside(way: float) -> Array:
        places = edge.on_mat[:, None] + way * _BESIDE_MM[:, None] * normals[:, None]
        light = np.log(np.maximum(plan.at(plan.light, places), _DARK))
        middle: Array = np.median(light, axis=1)
        return middle

    apart = np.sqrt(((beside(-1.0) - beside(1.0)) ** 2).mean(axis=1))
    return np.asarray(apart < _NEARLY_ALIKE)
