"""The instrument as a solid that can be cut across anywhere: what a cradle is fitted to.

Instrument frame: mm, x from the tail, y to the left, z up from the bench it was measured on. Body,
headstock and tuners are what the plan outline covers between two heights, the neck is lofted
through its sections, a strap button is a round bar along x. Nothing is modelled that nobody
measured: `missing` says why a part is not there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from profiler.findings import Finding
from profiler.instrument.bulge import Bulge
from profiler.instrument.lofts import HeightLine, NeckLoft

Array = NDArray[np.float64]
Shape = Any  # a shapely polygon or several
FAR = 1e4
#: a leaning side is cut in so many layers
LAYERS = 3
#: and one that bulges in so many
BULGED = 24
#: a side that stands in by less is nearly as wide as the outline, mm
NEARLY_MM = 1.0


@dataclass(frozen=True)
class Slab:
    """What a plan shape covers between two heights.

    Attributes:
        name: 'body', 'headstock', 'tuners', 'tuner housings'.
        plan: mm, x and y; of one that leans, as it is half way up.
        low, high: heights along x.
        lean: how far its sides go along x for each mm up. Sides are square to the face they carry,
            and lean where the instrument does not lie level (common practice, no source).
        edge: radius that its upper and lower edges are rounded to.
        edge_u95: mm, of that.
        overhang, rim: how far plates of thickness `rim` stand out over the ribs at both edges.
        bulge: how its sides go where they were read; such a slab does not lean besides.
        straight: its sides were looked at and go straight from edge to edge.
        hull: it stands for all that may be in it: from below the gap is at least what is told.
    """

    name: str
    plan: Shape
    low: HeightLine
    high: HeightLine
    lean: float = 0.0
    edge: float = 0.0
    edge_u95: float = 0.0
    overhang: float = 0.0
    rim: float = 0.0
    bulge: Bulge | None = None
    straight: bool = False
    hull: bool = False

    @property
    def footprint(self) -> Shape:
        """What it covers seen from straight above: more than its plan where it leans."""
        x = np.array([float(self.plan.centroid.x)])
        if self.bulge is not None:
            out = float(self.bulge.stands_out(np.array([self.plan.bounds[0]]))[0])
            return self.plan.buffer(out) if out else self.plan
        half = self.lean * float(self.high.at(x)[0] - self.low.at(x)[0]) / 2
        if abs(half) < 1e-9:
            return self.plan
        ends = [shapely.affinity.translate(self.plan, by, 0.0) for by in (half, -half)]
        return shapely.union_all([self.plan, *ends])

    def widest_from(self, x: Array) -> Array:
        """(N,) height above the bench from which on its side stands out as far as its outline, or
        nearly: where a block beside it guards."""
        low = self.low.at(x)
        if self.bulge is None:
            return low
        levels = self.bulge.levels(float(low.min()), float(self.high.at(x).max()))
        inward = self.bulge.away(np.asarray(x, dtype=np.float64), levels)
        out = inward - inward.min(axis=1, keepdims=True) <= NEARLY_MM
        return np.where(out.any(axis=1), levels[np.argmax(out, axis=1)], low)

    def slice_at(self, x: float) -> Shape:
        """y, z above the bench; empty where the plan is not met."""
        low, high = float(self.low.at(x)[0]), float(self.high.at(x)[0])
        if self.bulge is not None:
            levels = np.linspace(low, high, BULGED + 1)
            inward = self.bulge.away(np.array([x]), levels)[0]
            plans = [self.plan.buffer(-by) if by else self.plan for by in inward]
            across = [_across(plan, np.array([x]))[0] for plan in plans]
        else:
            levels = np.linspace(low, high, 2 if abs(self.lean) < 1e-6 else LAYERS + 1)
            across = _across(self.plan, self._plan_x(np.full(len(levels), x), levels))
        layers = []
        for (z0, below), (z1, above) in pairwise(zip(levels, across, strict=True)):
            if len(below) == len(above):
                layers += [
                    shapely.Polygon([(a, z0), (b, z0), (d, z1), (c, z1)])
                    for (a, b), (c, d) in zip(below, above, strict=True)
                ]
            else:  # where the plan begins or ends: as wide as either
                layers += [shapely.box(a, z0, b, z1) for a, b in (*below, *above)]
        if len(layers) == 1:
            return layers[0]
        return shapely.union_all(layers) if layers else shapely.Polygon()

    def _plan_x(self, x: Array, z: Array) -> Array:
        """(N,) x half way up, from where the side leads to (x, z)."""
        middle = (self.low.at(x) + self.high.at(x)) / 2
        return np.asarray(x - self.lean * (z - middle) / (1.0 - self.lean * self.high.slope))

    def distance(self, points: Array) -> Array:
        """(N,) mm from (N, 3) points, 0 inside."""
        x0, _, x1, _ = self.plan.bounds
        x = np.clip(points[:, 0], x0, x1)
        low, high = self.low.at(x), self.high.at(x)
        if self.bulge is not None:
            aside = _signed(self.plan, points[:, :2])
            return self.bulge.distance(aside, points[:, 0], points[:, 2], low, high)
        if self.overhang <= 0:
            return self._rounded(points, low, high)
        return np.minimum(
            self._to(points, self.overhang, low, high),
            np.minimum(
                self._rounded(points, low, low + self.rim),
                self._rounded(points, high - self.rim, high),
            ),
        )

    def _rounded(self, points: Array, low: Array, high: Array) -> Array:
        """(N,) mm to the plan between (N,) heights, its edges rounded."""
        r = self.edge
        return np.maximum(self._to(points, r, low, high, r) - r, 0.0)

    def _to(self, points: Array, inset: float, low: Array, high: Array, less: float = 0.0) -> Array:
        """(N,) mm to the plan, drawn in by `inset`, between (N,) heights drawn in by `less`."""
        plan = self.plan.buffer(-inset, quad_segs=16) if inset else self.plan
        z = np.clip(points[:, 2], low, high)
        aside = shapely.distance(
            shapely.points(np.column_stack([self._plan_x(points[:, 0], z), points[:, 1]])), plan
        )
        below, above = low + less - points[:, 2], points[:, 2] - high + less
        slope = np.where(below > 0, self.low.slope, self.high.slope)
        off = np.maximum(np.maximum(below, above), 0.0) / np.hypot(1.0, slope)
        return np.asarray(np.hypot(aside, off))


def _across(plan: Shape, x: Array) -> list[list[tuple[float, float]]]:
    """Where the lines across at (N,) x are inside a plan."""
    ends = np.full(len(x), FAR)
    lines = shapely.linestrings(np.stack([[x, -ends], [x, ends]]).transpose(2, 0, 1))
    found = []
    for met in shapely.intersection(plan, lines):
        pieces = shapely.bounds(shapely.get_parts(met))
        found.append(sorted((float(b[1]), float(b[3])) for b in pieces if b[3] > b[1] + 1e-9))
    return found


def _signed(plan: Shape, points: Array) -> Array:
    """(N,) mm from (N, 2) points to a plan's edge, below 0 inside."""
    at = shapely.points(points)
    away = shapely.distance(at, plan.boundary)
    return np.asarray(np.where(shapely.distance(at, plan) > 0, away, -away))


@dataclass(frozen=True)
class Bar:
    """Something turned, its axis along x: a strap button.

    Attributes:
        y, z: of its axis.
        profile: (x, radius), x rising, as read.
        u95: of its sizes and place across, mm.
        u95_height: of the height of its axis, mm; None for as well as its sizes.
        unturned: how much thinner it may be where its turned shape was not read, mm.
    """

    name: str
    y: float
    z: float
    profile: tuple[tuple[float, float], ...]
    u95: float = 1.0
    unturned: float = 0.0
    u95_height: float | None = None

    @property
    def radius(self) -> float:
        """At its thickest."""
        return max(r for _, r in self.profile)

    def between_u95(self, x: Array) -> Array:
        """(N,) mm that its radius may differ by between two readings: half of what they do, half
        way; where it was taken for a cylinder, all of what its stem may be thinner."""
        if self.unturned or len(self.profile) < 2:
            return np.full(len(x), self.unturned)
        xs, radii = np.array(self.profile).T
        i = np.clip(np.searchsorted(xs, x) - 1, 0, len(xs) - 2)
        share = np.clip((x - xs[i]) / np.maximum(xs[i + 1] - xs[i], 1e-9), 0.0, 1.0)
        differ = np.abs(radii[i + 1] - radii[i])
        return np.asarray(4 * share * (1 - share) * differ / 2)

    @cached_property
    def line(self) -> Array:
        """(N, 2) x and radius, x rising. What is turned is round where it swells and where it
        narrows: between three readings and more it runs smoothly, and never beyond them (monotone
        cubics, Fritsch and Butland 1984)."""
        read = np.array(self.profile)
        steps = np.flatnonzero(np.diff(read[:, 0]) <= 1e-9) + 1
        runs = []
        for run in np.split(read, steps):
            if len(run) > 2:
                x = np.union1d(run[:, 0], np.linspace(run[0, 0], run[-1, 0], 8 * len(run)))
                run = np.column_stack([x, PchipInterpolator(*run.T)(x)])
            runs.append(run)
        return np.vstack(runs)

    def slice_at(self, x: float) -> Shape:
        """A disc; empty before and behind it."""
        xs, radii = self.line.T
        if not xs[0] <= x <= xs[-1]:
            return shapely.Polygon()
        radius = float(np.interp(x, xs, radii))
        return shapely.Point(self.y, self.z).buffer(radius, quad_segs=64)

    def distance(self, points: Array) -> Array:
        """(N,) mm from (N, 3) points, 0 inside."""
        x, y, z = points.T
        # half of the cut along its axis
        line = self.line
        half = shapely.Polygon([(line[0, 0], 0.0), *line, (line[-1, 0], 0.0)])
        aside = np.hypot(y - self.y, z - self.z)
        return np.asarray(shapely.distance(shapely.points(x, aside), half))


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
        findings: where its sizes come from, where that is worth a word.
    """

    parts: tuple[Part, ...]
    plan: shapely.Polygon
    missing: dict[str, str]
    findings: tuple[Finding, ...] = ()

    def part(self, name: str) -> Part | None:
        """The part of that name, None where it is not known."""
        return next((p for p in self.parts if p.name == name), None)

    def named(self, *names: str) -> Solid:
        """The same with these parts alone."""
        return Solid(tuple(p for p in self.parts if p.name in names), self.plan, self.missing)

    def slice_at(self, x: float, lift: float = 0.0) -> Shape:
        """y, z of everything at x, raised by `lift`."""
        found = [s for s in (p.slice_at(x) for p in self.parts) if not s.is_empty]
        whole = found[0] if len(found) == 1 else shapely.union_all(found)
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
