"""From the plan outline and its doubts to the measured instrument."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from profiler.geometry.curves import outward_normals, signed_area
from profiler.instrument.frame import Centreline, find_centreline
from profiler.instrument.propagation import by_draws, combined
from profiler.instrument.record import (
    Measurement,
    PartHeight,
    Quantity,
    Stretch,
    missing,
)
from profiler.instrument.stations import Station, find_stations
from profiler.outline.fairing import faired
from profiler.outline.heights import TYPED, PartEdges
from profiler.outline.parts import Parts
from profiler.outline.side_button import SIDE_BUTTON
from profiler.outline.spread import Field

Array = NDArray[np.float64]

#: paper swells and is never quite flat: part of every length, common practice, no source
_PAPER = 2e-4
#: coverage factor for 95 % (JCGM 100:2008, 6.3.3, many degrees of freedom)
_K95 = 2.0
#: points about a millimetre apart: a shorter run carried across needs no word
_LEAST_STRETCH = 15
#: in the reason of a stretch that a person drew
BY_HAND = "drawn by hand"
#: nothing on an instrument's outline is thinner than this, mm
_THINNEST_MM = 1.6
#: extremes and ends rest on the points within this of them, mm
_END_MM = 1.0
#: the nut is where the line of the neck ends: points of the neck this near to it tell of it, mm
_NUT_REACH_MM = 20.0
#: an extent whose uncertainty by draws has this part more variance than the straight one is bent
_BENT, _DRAWS, _SEED = 1.1, 400, 20260101
_WHICH_EDGE = "which edge is seen"
_WHICH_POINT = "which point is the outermost"


@dataclass(frozen=True)
class PlanOutline:
    """The plan outline with everything known about each of its points.

    Attributes:
        points: (M, 2) mm, mat frame.
        labels: (M,) part.
        known: (M,) whether the height used there was measured or typed.
        bridged: (M,) carried across where no rim was told apart or no edge was measured.
        sigma: (M,) mm, edge location alone.
        mistaken: (M,) mm, which rim and which part each point is.
        fields: displacement of every point for every other source of doubt.
        drawn: (M,) drawn by a person's hand; None where nobody drew anything.
    """

    points: Array
    labels: NDArray[np.str_]
    known: NDArray[np.bool_]
    bridged: NDArray[np.bool_]
    sigma: Array
    mistaken: Array
    fields: Sequence[Field]
    drawn: NDArray[np.bool_] | None = None


def assemble(
    plan: PlanOutline,
    parts: Parts,
    heights: Mapping[str, PartEdges],
    thickest: tuple[float, float] | None,
    lens_share: float = 0.0,
) -> Measurement:
    """Frame the outline and take its numbers.

    Args:
        plan: the outline.
        parts: its split, made on the lifted points.
        heights: what each part was lifted to.
        thickest: (mm, standard uncertainty mm) of the highest point where it is known.
        lens_share: by how much, relative, the focal length's doubt moves all heights that photos
            tell. It cancels where edges are lifted, but not in the heights themselves.
    """
    clean, origin = _clean(plan.points)
    labels = plan.labels[origin]
    # a batten is too stiff for a headstock and what stands out of it, and what a hand drew stays
    small = np.isin(labels, ("headstock", "tuners", "button", SIDE_BUTTON))
    clean = faired(clean, small if plan.drawn is None else small | plan.drawn[origin])
    line = find_centreline(clean, parts.frame, parts.join, parts.nut)
    outline = line.frame.from_mat(clean)
    normals = outward_normals(outline, 3.0)
    inner = _Doubts(plan, origin, outline, line)

    across = np.hypot(inner.across(normals), np.hypot(plan.sigma, plan.mistaken)[origin])
    length_ends = (
        _near(outline[:, 0], outline[:, 0].max()),
        _near(outline[:, 0], outline[:, 0].min()),
    )
    width_ends = (
        _near(outline[:, 1], outline[:, 1].max()),
        _near(outline[:, 1], outline[:, 1].min()),
    )
    shift = float(line.frame.from_mat(parts.frame.to_mat(np.zeros((1, 2))))[0, 0])
    found = find_stations(outline, labels, parts.join + shift, parts.nut + shift)
    polygon = Polygon(outline)
    return Measurement(
        outline=outline,
        outline_u95=_K95 * across,
        outline_part=tuple(str(v) for v in labels),
        doubtful=(
            *_stretches(
                plan.known[origin], labels, "the height of the {} is assumed, not measured"
            ),
            *_long_enough(
                _stretches(
                    ~plan.bridged[origin] | ~plan.known[origin],
                    labels,
                    "the edge of the {} is not seen here and was carried across",
                ),
                len(labels),
            ),
            *_drawn(plan, origin, labels),
        ),
        length=inner.quantity(float(np.ptp(outline[:, 0])), length_ends, 0),
        width=inner.quantity(float(np.ptp(outline[:, 1])), width_ends, 1),
        height=_height(thickest),
        widths={name: _station(inner, outline, s, labels, name) for name, s in found.items()},
        box=_box(inner, polygon, length_ends, width_ends),
        area=_area(polygon, across, inner),
        heights=tuple(_part_heights(heights, parts, labels, lens_share)),
        frame=line.frame,
        symmetric=line.symmetric,
    )


class _Doubts:
    """Displacement fields in the instrument frame, without what only moves it as a whole."""

    def __init__(
        self, plan: PlanOutline, origin: NDArray[np.intp], outline: Array, line: Centreline
    ) -> None:
        self.sources = [f.source for f in plan.fields]
        centred = outline - outline.mean(axis=0)
        design = np.zeros((2 * len(outline), 3))
        design[0::2, 0] = 1.0
        design[1::2, 1] = 1.0
        design[0::2, 2] = -centred[:, 1]
        design[1::2, 2] = centred[:, 0]
        solve = np.linalg.pinv(design)
        self.shifts: list[Array] = []
        for field in plan.fields:
            moved = line.frame.turned_back(field.shift[origin])
            rigid = (design @ (solve @ moved.reshape(-1))).reshape(-1, 2)
            self.shifts.append(moved - rigid)
        self.sigma, self.mistaken = plan.sigma[origin], plan.mistaken[origin]
        self.outline = outline
        self._extents: dict[int, float] = {}

    def across(self, normals: Array) -> Array:
        """(M,) mm: standard uncertainty across the outline, edge location left out."""
        total = np.zeros(len(normals))
        for shift in self.shifts:
            total += (shift[:, 0] * normals[:, 0] + shift[:, 1] * normals[:, 1]) ** 2
        return np.sqrt(total)

    def quantity(
        self,
        value: float,
        ends: tuple[NDArray[np.intp], NDArray[np.intp]],
        axis: int,
        x: float | None = None,
    ) -> Quantity:
        """A distance between two groups of outline points along x (0) or y (1)."""
        high, low = ends
        by_source: dict[str, float] = {}
        for source, shift in zip(self.sources, self.shifts, strict=True):
            moved = float(shift[high, axis].mean() - shift[low, axis].mean())
            by_source[source] = by_source.get(source, 0.0) + moved**2
        by_source["the edge in the photo"] = float(
            self.sigma[high].mean() ** 2 + self.sigma[low].mean() ** 2
        )
        by_source[_WHICH_EDGE] = float(
            self.mistaken[high].mean() ** 2 + self.mistaken[low].mean() ** 2
        )
        by_source["the paper"] = (_PAPER * value) ** 2
        if x is None:
            # the outermost point need not stay the outermost: what that adds is no one source's
            straight = sum(by_source[source] for source in dict.fromkeys(self.sources))
            bent = self._extent_u(axis) ** 2
            if bent > _BENT * straight:
                by_source[_WHICH_POINT] = bent - straight
        u, mostly = combined(by_source)
        budget = sorted(
            ((source, _K95 * float(np.sqrt(v))) for source, v in by_source.items() if v > 0),
            key=lambda line: -line[1],
        )
        return Quantity(value, _K95 * u, mostly=mostly, x=x, budget=tuple(budget))

    def _extent_u(self, axis: int) -> float:
        """Standard uncertainty of the outline's extent along x (0) or y (1), by draws."""
        if axis not in self._extents:
            # always the same draws: the same photo gives the same bytes
            draws = np.random.default_rng(_SEED).standard_normal((_DRAWS, len(self.shifts)))
            moves = np.array([shift[:, axis] for shift in self.shifts])
            at = self.outline[:, axis]
            self._extents[axis] = by_draws(
                lambda drawn: np.ptp(at + drawn @ moves, axis=1), draws
            ).u
        return self._extents[axis]


def _clean(points: Array) -> tuple[Array, NDArray[np.intp]]:
    """A simple closed anticlockwise curve, and for each point the nearest original one."""
    polygon = Polygon(points)
    if not polygon.is_valid:
        fixed = polygon.buffer(0)
        if isinstance(fixed, MultiPolygon):
            fixed = max(fixed.geoms, key=lambda g: g.area)
        polygon = fixed
    # hooks where runs of points were joined are thinner than anything on an instrument
    for width in (_THINNEST_MM, _THINNEST_MM / 2):
        opened = polygon.buffer(-width / 2, join_style="mitre").buffer(
            width / 2, join_style="mitre"
        )
        # if that would cut something off, a tuner on a faint shaft, it is not done
        if not isinstance(opened, MultiPolygon) and opened.area > 0.98 * polygon.area:
            polygon = opened
            break
    curve = np.asarray(polygon.exterior.coords)[:-1]
    if signed_area(curve) < 0:
        curve = curve[::-1]
    apart = np.hypot(*(curve - np.roll(curve, 1, axis=0)).T) > 1e-6
    curve = np.ascontiguousarray(curve[apart])
    origin = np.empty(len(curve), dtype=np.intp)
    for start in range(0, len(curve), 64):  # a block at a time, small enough for the cache
        x, y = (curve[start : start + 64, k, None] - points[None, :, k] for k in (0, 1))
        origin[start : start + 64] = np.argmin(x**2 + y**2, axis=1)
    return curve, origin


def _near(values: Array, at: float) -> NDArray[np.intp]:
    return np.flatnonzero(np.abs(values - at) < _END_MM)


def _station(
    inner: _Doubts,
    outline: Array,
    station: Station | str,
    labels: NDArray[np.str_],
    name: str,
) -> Quantity:
    if isinstance(station, str):
        return missing(station)
    ends = []
    for y in (station.high, station.low):
        distance = np.hypot(outline[:, 0] - station.x, outline[:, 1] - y)
        if name == "nut":
            # read off the line of the neck, so no more uncertain than that: what flares is the head
            neck = (labels == "neck") & (distance < _NUT_REACH_MM)
            distance = np.where(neck, distance - _NUT_REACH_MM, distance)
        ends.append(np.argsort(distance)[:3])
    return inner.quantity(station.width, (ends[0], ends[1]), 1, x=station.x)


def _height(thickest: tuple[float, float] | None) -> Quantity:
    if thickest is None:
        return missing(
            "one photo from above does not show how high bridge and strings stand:"
            " measure the thickest place and give it as --height top=…"
        )
    return Quantity(thickest[0], _K95 * thickest[1], mostly="the typed height")


def _box(
    inner: _Doubts,
    polygon: Polygon,
    length_ends: tuple[NDArray[np.intp], NDArray[np.intp]],
    width_ends: tuple[NDArray[np.intp], NDArray[np.intp]],
) -> tuple[Quantity, Quantity]:
    corners = np.asarray(polygon.minimum_rotated_rectangle.exterior.coords)
    sides = sorted(np.hypot(*np.diff(corners[:3], axis=0).T), reverse=True)
    return (
        inner.quantity(float(sides[0]), length_ends, 0),
        inner.quantity(float(sides[1]), width_ends, 1),
    )


def _area(polygon: Polygon, across: Array, inner: _Doubts) -> Quantity:
    # the outline breathes as a whole at worst: every point moves out together
    u = float(np.sqrt(np.mean(across**2))) * polygon.length
    return Quantity(float(polygon.area), _K95 * u)


def _stretches(sound: NDArray[np.bool_], labels: NDArray[np.str_], reason: str) -> list[Stretch]:
    """Runs of points of one part that are not sound; the part's name goes into the reason."""
    n = len(sound)
    if sound.all():
        return []
    if not sound.any():
        return [Stretch(0, n - 1, reason.format("instrument"))]
    shift = int(np.flatnonzero(sound)[0])
    stretches = []
    i = 0
    while i < n:
        a = (i + shift) % n
        if sound[a]:
            i += 1
            continue
        j = i
        while j < n and not sound[(j + shift) % n] and labels[(j + shift) % n] == labels[a]:
            j += 1
        stretches.append(Stretch(a, (j - 1 + shift) % n, reason.format(labels[a])))
        i = j
    return stretches


def _long_enough(stretches: Sequence[Stretch], count: int) -> list[Stretch]:
    """Without the short ones, across which a smooth edge cannot go far astray."""
    return [s for s in stretches if (s.end - s.start) % count >= _LEAST_STRETCH]


def _drawn(plan: PlanOutline, origin: NDArray[np.intp], labels: NDArray[np.str_]) -> list[Stretch]:
    """However short: a hand may be anywhere."""
    if plan.drawn is None:
        return []
    return _stretches(~plan.drawn[origin], labels, f"the edge of the {{}} was {BY_HAND}")


def _part_heights(
    heights: Mapping[str, PartEdges],
    parts: Parts,
    labels: NDArray[np.str_],
    lens_share: float,
) -> list[PartHeight]:
    middles = {
        "body": parts.join / 2,
        "neck": (parts.join + parts.nut) / 2,
        "headstock": (parts.nut + parts.length) / 2,
        "tuners": (parts.nut + parts.length) / 2,
        "button": 0.0,
        SIDE_BUTTON: parts.join,
    }
    seen = {p: edges.upper for p, edges in heights.items() if (labels == p).any()}
    seen["back"], middles["back"] = heights["body"].lower, middles["body"]
    shown = []
    for part, edge in seen.items():
        x = np.array([middles[part]])
        z, u = float(edge.at(x)[0]), float(edge.u_at(x)[0])
        by_lens = 0.0 if edge.source == TYPED else lens_share * z
        height = Quantity(z, _K95 * float(np.hypot(u, by_lens)), x=middles[part])
        shown.append(PartHeight(part, height, edge.source))
    return shown
