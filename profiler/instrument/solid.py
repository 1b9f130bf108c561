"""The instrument as a solid that can be cut across anywhere: what a cradle is fitted to.

Instrument frame: mm, x from the tail, y to the left, z up from the bench it was measured on. Body,
headstock and tuners are what the plan outline covers between two heights, the neck is lofted through
its sections, a strap button is a round bar along x. Nothing is modelled that nobody measured: where
the shape is not known, `covers` says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.instrument.lofts import HeightLine, NeckLoft

Array = NDArray[np.float64]
Shape = Any  # a shapely polygon or several
FAR = 1e4


@dataclass(frozen=True)
class Slab:
    """What a plan shape covers between two heights.

    Attributes:
        name: 'body', 'headstock', 'tuners', 'tuner housings'.
        plan: mm, x and y; of one that leans, as it is at height `level`.
        low, high: heights along x.
        lean: how far its sides go along x for each mm up. Sides are square to the face they carry,
            and lean where the instrument does not lie level (common practice, no source).
        level: mm.
    """

    name: str
    plan: Shape
    low: HeightLine
    high: HeightLine
    lean: float = 0.0
    level: float = 0.0

    def slice_at(self, x: float) -> Shape:
        """y, z above the bench; empty where the plan is not met."""
        x0, _, x1, _ = self.plan.bounds
        if not x0 <= x <= x1:
            return shapely.Polygon()
        across = self.plan.intersection(shapely.LineString([(x, -FAR), (x, FAR)]))
        low, high = float(self.low.at(x)[0]), float(self.high.at(x)[0])
        boxes = [
            shapely.box(p.bounds[1], low, p.bounds[3], high)
            for p in shapely.get_parts(across)
            if p.length > 1e-9
        ]
        return shapely.union_all(boxes) if boxes else shapely.Polygon()

    def distance(self, points: Array) -> Array:
        """(N,) mm from (N, 3) points, 0 inside."""
        x0, _, x1, _ = self.plan.bounds
        x = np.clip(points[:, 0], x0, x1)
        z = np.clip(points[:, 2], self.low.at(x), self.high.at(x))
        upright = points[:, :2] - np.column_stack([self.lean * (z - self.level), np.zeros(len(z))])
        aside = shapely.distance(shapely.points(upright), self.plan)
        below, above = self.low.at(x) - points[:, 2], points[:, 2] - self.high.at(x)
        slope = np.where(below > 0, self.low.slope, self.high.slope)
        off = np.maximum(np.maximum(below, above), 0.0) / np.hypot(1.0, slope)
        return np.asarray(np.hypot(aside, off))


@dataclass(frozen=True)
class Bar:
    """A round bar along x: a strap button.

    Attributes:
        x0, x1: its ends, mm.
        y, z: of its axis.
        radius: at its thickest.
    """

    name: str
    x0: float
    x1: float
    y: float
    z: float
    radius: float

    def slice_at(self, x: float) -> Shape:
        if not self.x0 <= x <= self.x1:
            return shapely.Polygon()
        return shapely.Point(self.y, self.z).buffer(self.radius, quad_segs=64)

    def distance(self, points: Array) -> Array:
        x, y, z = points.T
        along = np.maximum(np.maximum(self.x0 - x, x - self.x1), 0.0)
        aside = np.maximum(np.hypot(y - self.y, z - self.z) - self.radius, 0.0)
        return np.asarray(np.hypot(along, aside))


@dataclass(frozen=True)
class Neck:
    """The lofted neck as a part of the solid."""

    name: str
    loft: NeckLoft

    def slice_at(self, x: float) -> Shape:
        return self.loft.slice_at(x)

    def distance(self, points: Array) -> Array:
        """(N,) mm in the plane across at each point's x, where the neck's taper is slight."""
        low, high = self.loft.reach
        found = np.empty(len(points))
        x = np.clip(points[:, 0], low, high)
        for at in np.unique(np.round(x, 6)):
            here = np.abs(x - at) < 1e-5
            shape = self.loft.slice_at(float(np.clip(at, low, high)))
            found[here] = shapely.distance(shapely.points(points[here, 1:]), shape)
        return np.hypot(found, points[:, 0] - x)


Part = Slab | Bar | Neck


@dataclass(frozen=True)
class Solid:
    """All parts.

    Attributes:
        parts: of the instrument, by what is known.
        plan: the whole plan outline, mm.
        missing: why a part is not there, by its name.
    """

    parts: tuple[Part, ...]
    plan: shapely.Polygon
    missing: dict[str, str]

    def part(self, name: str) -> Part | None:
        """The part of that name, None where it is not known."""
        return next((p for p in self.parts if p.name == name), None)

    def named(self, *names: str) -> Solid:
        """The same with these parts alone."""
        return Solid(tuple(p for p in self.parts if p.name in names), self.plan, self.missing)

    def slice_at(self, x: float, lift: float = 0.0) -> Shape:
        """y, z of everything at x, raised by `lift`."""
        found = [p.slice_at(x) for p in self.parts]
        whole = shapely.union_all([s for s in found if not s.is_empty])
        return shapely.affinity.translate(whole, 0.0, lift) if lift else whole

    def distance(self, points: Array) -> Array:
        """(N,) mm from (N, 3) points to the nearest part, 0 inside."""
        if not self.parts:
            return np.full(len(points), np.inf)
        return np.asarray(np.min([p.distance(points) for p in self.parts], axis=0))

    def towards(self, points: Array, step: float = 0.02) -> Array:
        """(N, 3) unit directions from points to the nearest place of the solid."""
        slopes = np.empty_like(points)
        for axis in range(3):
            by = np.zeros(3)
            by[axis] = step
            slopes[:, axis] = self.distance(points - by) - self.distance(points + by)
        return np.asarray(slopes / np.maximum(np.linalg.norm(slopes, axis=1), 1e-12)[:, None])
