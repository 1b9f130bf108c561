"""What one photo shows of the instrument: its edge, the part at each point, the rim that it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.parts import Parts
from profiler.outline.rims import edge_z
from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sight:
    """One photo's sight of the instrument.

    Attributes:
        photo: its name, for messages.
        index: its place among the scene's cameras.
        edge: the silhouette, anticlockwise, N points.
        parts: split of those points; its frame is shared by all sights of a scene.
        told: (N,) 0 for surely the upper rim to 1 for surely the lower, from the look inside it.
        sure: (N,) where the wall faces away, so that only the upper rim can be seen.
        rim: (N,) share of the way up from lower to upper rim.
    """

    photo: str
    index: int
    edge: Edge
    parts: Parts
    told: Array
    sure: NDArray[np.bool_]
    rim: Array

    def upper_edge(self, camera: Camera, heights: Mapping[str, PartEdges]) -> Array:
        """(N, 2) mm, mat frame: each point at its height, carried to the upper edge."""
        return lift_points(self.edge.pixels, camera, self.rim, self.parts, heights)

    def height_at(self, points: Array, heights: Mapping[str, PartEdges]) -> Array:
        """(N,) mm: how high the rim that is seen lies at plan points (N, 2)."""
        upper, lower = edge_z(points, self.parts, heights)
        height: Array = lower + self.rim * (upper - lower)
        return height

    def in_frame(self, frame: Frame2D) -> Sight:
        """The same with another rough frame, in which heights are then given."""
        return replace(self, parts=replace(self.parts, frame=frame))


def most_usual(sights: Sequence[Sight]) -> int:
    """Which sight's split is most like the others': its length, body's end and nut."""
    ends = np.array([[s.parts.length, s.parts.join, s.parts.nut] for s in sights])
    return int(np.argmin(np.abs(ends - np.median(ends, axis=0)).sum(axis=1)))
