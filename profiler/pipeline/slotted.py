"""A slotted head: seen through it the mat shows, and what stands out at its sides hangs below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding, Level
from profiler.outline.parts import Parts
from profiler.outline.slots import slots_reach
from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]

#: plates, shafts and buttons reach past what is seen of the slots by this, mm; what is seen at the
#: sides there may be any of them, out by this, mm standard (common practice, no source: they hang
#: 15 to 25 mm below the face and stand out by 5 to 12)
_PAST_SLOTS_MM, _HANGS_U_MM = 45.0, 6.0


def beside_slots(edge: Edge, parts: Parts, holes: Sequence[Array]) -> tuple[Edge, Finding | None]:
    """The edge in doubt beside the slots of a head, and what a person is told of it.

    Args:
        edge: N points.
        parts: split of them.
        holes: (K, 2) mm each, mat frame: what looks like ground within the edge.
    """
    points = parts.frame.from_mat(edge.on_mat)
    head = np.isin(parts.labels, ("headstock", "tuners"))
    reach = slots_reach(points[head], [parts.frame.from_mat(ring) for ring in holes])
    if reach is None:
        return edge, None
    low, high = reach[0] - _PAST_SLOTS_MM, reach[1] + _PAST_SLOTS_MM
    beside = head & (points[:, 0] > low) & (points[:, 0] < high)
    if edge.drawn is not None:
        beside &= ~edge.drawn
    sigma = np.where(beside, np.hypot(edge.sigma, _HANGS_U_MM), edge.sigma)
    told = Finding(
        513,
        Level.CAUTION,
        "The mat is seen through the headstock's slots. Plates, shafts and buttons at its sides lie"
        " below its face by what is not known, and hide the gaps between them: the outline may be"
        f" {2 * _HANGS_U_MM:.0f} mm out there, and the ± says so. Lay a rule across the head before"
        " you cut.",
        "headstock",
    )
    return replace(edge, sigma=sigma, measured=edge.measured & ~beside), told
