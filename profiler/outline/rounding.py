"""How round the edges between faces and sides are, and what of it a camera looks past."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from profiler.outline.build import share_solid
from profiler.outline.heights import PartEdges
from profiler.outline.parts import Parts

Array = NDArray[np.float64]

#: radius of the edge between a face and its side, and its standard uncertainty, mm. Common
#: practice, no source: edges are eased, from hardly at all to nearly two millimetres
EDGE_RADIUS_MM, EDGE_RADIUS_U_MM = 0.8, 0.6
#: the same of a body cut from the solid, whose edges are rounded by 2 to a dozen mm
SLAB_RADIUS_MM, SLAB_RADIUS_U_MM = 4.0, 2.5
_EDGED = ("body", "neck", "headstock")
_FLATTEST_RAY = 0.7


def edge_radius(parts: Parts, heights: Mapping[str, PartEdges]) -> tuple[Array, Array]:
    """(N,) mm: the radius of each point's edge, 0 where it has none, and its standard
    uncertainty."""
    radius, u = np.zeros(len(parts.labels)), np.full(len(parts.labels), EDGE_RADIUS_U_MM)
    for part in _EDGED:
        radius[parts.members(part)] = EDGE_RADIUS_MM
    body = heights.get("body")
    if body is not None and body.lower is not body.upper and not parts.cornered:
        high = float(body.upper.at(np.array([parts.join / 2]))[0])
        solid = share_solid(high)
        mine = parts.members("body")
        radius[mine] += solid * (SLAB_RADIUS_MM - EDGE_RADIUS_MM)
        u[mine] += solid * (SLAB_RADIUS_U_MM - EDGE_RADIUS_U_MM)
    return radius, u


def hidden_by_rounding(slope: Array) -> Array:
    """(N,) how far, in radii, a rounded edge reaches beyond where a ray that touches it meets the
    face's height; the ray goes so far outward for each mm down.

    A ray at the angle a from the vertical touches the quarter circle cos a out and sin a up from
    its centre. Where the camera looks at the side from outside, the edge is not the rounding's.
    """
    out = np.clip(slope, 0.0, _FLATTEST_RAY)
    cos = 1 / np.hypot(1.0, out)
    hidden: Array = (1 - cos) + (1 - out * cos) * out
    return hidden
