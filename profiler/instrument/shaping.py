"""From a measurement, sections and a few typed sizes to the solid that a cradle is fitted to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.geometry.curves import extent_at
from profiler.geometry.offset import parts_of
from profiler.instrument.bulge import Bulge
from profiler.instrument.headstock import lower_corner, rounded_away
from profiler.instrument.lofts import HeightLine, loft_of
from profiler.instrument.record import Measurement
from profiler.instrument.sections import Section
from profiler.instrument.solid import Bar, Neck, Part, Slab, Solid

Array = NDArray[np.float64]

#: tuner buttons are about this thick, from their middle up and down (common practice, no source)
TUNER_HALF_MM = 9.0
#: what geared tuners stand out behind the headstock (common practice, no source)
HOUSING_MM = 7.0
#: and how far along x from their button's middle
HOUSING_ALONG_MM = 14.0
#: how far a head reaches up from its lowest point where the neck's face is not known (a guess), mm
CARVED_MM = 25.0
#: edges that nobody read are rounded to up to this radius (common practice, no source), mm
UNREAD_EDGE_MM = 1.0
#: a strap button's stem is up to so much thinner than its flange, as a share of its radius (common
#: practice, no source)
STEM = 0.55
#: so far beside a strap button its foot may still be in an outline; the tail's arc is laid through
#: so much of the edge on both sides of that (guesses, no source), mm
BESIDE_BUTTON_MM, TAIL_ARC_MM = 8.0, 20.0


@dataclass(frozen=True)
class HeadShape:
    """The headstock, the instrument lying on its back.

    Attributes:
        lowest: its lowest point, tuners left out, above the bench.
        tilt_deg: how much it falls away towards the tip; below 0 rising.
        thickness: square to its face.
        u95: mm, of its underside.
        tuners: height of the middle of the tuner buttons; None where they are left to guess.
        housings: how far the tuners' gears stand out behind it.
        edge: radius that its edges are rounded to; None where nobody read it.
        edge_u95: mm, of that.
        carved: a scroll, or any head of which only the lowest point is known: it then stands for
            all that hangs between that and the neck's face.
    """

    lowest: float
    tilt_deg: float
    thickness: float
    u95: float = 1.0
    tuners: float | None = None
    housings: float = HOUSING_MM
    edge: float | None = None
    edge_u95: float = 0.0
    carved: bool = False


@dataclass(frozen=True)
class ButtonShape:
    """A strap button at the tail, mm.

    Attributes:
        diameter: at its thickest.
        length: how far it stands out of the wood.
        height: of its axis above the bench.
        y: how far left of the centreline it sits.
        profile: (distance from the wood, radius), outwards; empty for one as thick all along.
        u95: of its sizes.
    """

    diameter: float
    length: float
    height: float
    y: float = 0.0
    profile: tuple[tuple[float, float], ...] = ()
    u95: float = 1.0


@dataclass(frozen=True)
class BodySides:
    """The body's side, the instrument on its back, mm.

    Attributes:
        low, high: height above the bench where it begins at the back, and of its upper edge.
        overhang, rim: how far plates of thickness `rim` stand out over the ribs; 0 for none.
        edge: radius that its edges are rounded to.
        bulge: how the side goes between, where a square was held against it.
        straight: somebody looked: it goes straight from edge to edge.
    """

    low: HeightLine
    high: HeightLine
    overhang: float = 0.0
    rim: float = 0.0
    edge: float = 0.0
    bulge: Bulge | None = None
    straight: bool = False


def build_solid(
    measurement: Measurement,
    sections: Sequence[Section] = (),
    head: HeadShape | None = None,
    button: ButtonShape | None = None,
    sides: BodySides | None = None,
    button_height: tuple[float, float] | None = None,
    neck_slope: float | None = None,
) -> Solid:
    """The solid; what is not known is left out and told in `missing`.

    Args:
        measurement: with its outline and the parts of it.
        sections: of the neck.
        head, button: typed or measured shapes.
        sides: of the body; None for what the measurement's heights say.
        button_height: of the axis of a strap button that the outline shows, and its u95, mm.
        neck_slope: of the neck's face along x, where something showed it.
    """
    outline = measurement.outline
    labels = np.array(measurement.outline_part)
    whole = shapely.Polygon(outline).buffer(0)
    plain = behind_button(_without(outline, labels, ("tuners", "button")), outline, labels, button)
    join, nut = neck_ends(measurement)
    missing: dict[str, str] = {}
    parts: list[Part] = []

    sides = sides or measured_sides(measurement)
    before = shapely.box(-1e4, -1e4, join, 1e4)
    if not plain.intersection(before).is_empty and sides is not None:
        if sides.bulge is not None:
            upright = parts_of(plain.intersection(before))[0]
            parts.append(Slab("body", upright, sides.low, sides.high, bulge=sides.bulge))
        else:
            side = leaning("body", plain, before, sides.low, sides.high)
            side = replace(side, edge=sides.edge, overhang=sides.overhang, rim=sides.rim)
            parts.append(replace(side, straight=sides.straight))
    else:
        missing["body"] = "the height of the body's side is not known: give it as --height body=…"

    x = np.arange(join + 5.0, nut, 2.0)
    low, high = extent_at(outline, x)
    loft = loft_of(
        [s for s in sections if s.x < nut + 5.0],
        height_line(measurement, "neck"),
        np.column_stack([x, high - low])[np.isfinite(high - low)],
        neck_slope,
    )
    if isinstance(loft, str):
        missing["neck"] = loft
    else:
        parts.append(Neck("neck", loft))

    if head is None:
        missing["headstock"] = (
            "the headstock's shape is not known: lay the instrument on its back and give"
            " --head-low (its lowest point above the bench), --head-tilt and --head-thickness"
        )
    elif head.carved:
        face = head.lowest + CARVED_MM if isinstance(loft, str) else float(loft.face.at(nut)[0])
        parts += _carved_head(plain, whole, nut, head, face)
    else:
        parts += _head_parts(plain, whole, nut, head)
    bar = _button(measurement, plain, labels, button, button_height, sides)
    if isinstance(bar, str):
        missing["button"] = bar
    elif bar is not None:
        parts.append(bar)
    return Solid(tuple(parts), whole, missing)


def leaning(
    name: str,
    plan: shapely.Polygon,
    within: shapely.Polygon,
    low: HeightLine,
    high: HeightLine,
) -> Slab:
    """A part between two heights: one shape, shifted along x as it goes up.

    The plan outline shows the lower rim at one end and the upper one at the other; `within` is
    where the part lies.
    """
    # square to the face: what rises by 1 in x goes back by as much for each mm up
    lean = -high.slope
    middle = np.array([plan.intersection(within).centroid.x])
    bottom, top = float(low.at(middle)[0]), float(high.at(middle)[0])
    half = lean * (top - bottom) / 2
    if abs(half) > 1e-3:
        ends = [shapely.affinity.translate(plan, by, 0.0) for by in (half, -half)]
        plan = ends[0].intersection(ends[1])
    return Slab(name, parts_of(plan.intersection(within))[0], low, high, lean)


def neck_ends(m: Measurement) -> tuple[float, float]:
    """x where the neck leaves the body and where the headstock begins, mm."""
    labels = np.array(m.outline_part)
    x = m.outline[:, 0]
    tip = float(x.max())
    neck, head = x[labels == "neck"], x[(labels == "headstock") | (labels == "tuners")]
    nut = m.widths["nut"].x if "nut" in m.widths and m.widths["nut"].x is not None else None
    if nut is None:
        nut = float(head.min()) if len(head) else tip
    join = float(neck.min()) if len(neck) else float(nut)
    return join, float(nut)


def height_line(m: Measurement, part: str) -> HeightLine | None:
    """Measured or typed heights of a part's visible edge along x; None where there are none."""
    places = sorted(
        (float(h.height.x), float(h.height.value), float(h.height.u95 or 0.0))
        for h in m.heights
        if h.part == part and h.height.x is not None and h.height.value is not None
    )
    apart = [p for i, p in enumerate(places) if i == 0 or p[0] > places[i - 1][0] + 1.0]
    return HeightLine(tuple(apart)) if apart else None


def measured_sides(m: Measurement) -> BodySides | None:
    """The body's side between its two rims."""
    high, low = height_line(m, "body"), height_line(m, "back")
    if high is None:
        return None
    return BodySides(low or HeightLine(((0.0, 0.0, 1.0),)), high)


def _without(outline: Array, labels: NDArray[np.str_], names: tuple[str, ...]) -> shapely.Polygon:
    """The outline with the points of these parts left out: straight across where they were."""
    kept = outline[~np.isin(labels, names)]
    if len(kept) < 3:
        return shapely.Polygon(outline).buffer(0)
    return parts_of(shapely.Polygon(kept).buffer(0))[0]


def behind_button(
    plain: shapely.Polygon,
    outline: Array,
    labels: NDArray[np.str_],
    button: ButtonShape | None,
) -> shapely.Polygon:
    """The plan with the wood's edge behind a strap button carried across from both sides.

    A photo shows the button's foot melted into the tail. Where one was typed or seen, all that
    stands within its width and `BESIDE_BUTTON_MM` is left out, and an arc of second order through
    the next `TAIL_ARC_MM` on both sides closes the gap.
    """
    tail = float(plain.bounds[0])
    if button is not None:
        middle, half = button.y, button.diameter / 2
    else:
        seen = outline[labels == "button"]
        seen = seen[seen[:, 0] < tail + 20.0]
        if len(seen) < 3:
            return plain
        middle = float(seen[:, 1].min() + seen[:, 1].max()) / 2
        half = float(np.ptp(seen[:, 1])) / 2
    ring = np.asarray(plain.exterior.coords)[:-1]
    off = np.abs(ring[:, 1] - middle)
    near = ring[:, 0] < float(plain.centroid.x) / 2
    hidden = near & (off < half + BESIDE_BUTTON_MM)
    beside = near & ~hidden & (off < half + BESIDE_BUTTON_MM + TAIL_ARC_MM)
    sides = np.sign(ring[beside, 1] - middle)
    if hidden.sum() < 1 or min((sides > 0).sum(), (sides < 0).sum()) < 4:
        return plain
    arc = _arc(ring[beside, 1] - middle, ring[beside, 0])
    edge = half + BESIDE_BUTTON_MM
    at = np.linspace(-edge, edge, 25)
    bridge = np.column_stack([np.polyval(arc, at), at + middle])
    window = shapely.box(-1e4, middle - edge, float(bridge[:, 0].max()) + 30.0, middle + edge)
    wood = np.vstack([bridge, [[1e3, middle + edge], [1e3, middle - edge]]])
    inner = shapely.Polygon(wood).intersection(window)
    return parts_of(plain.difference(window).union(inner).buffer(1e-6).buffer(-1e-6))[0]


def _arc(y: Array, x: Array) -> Array:
    """(3,) of a second order through points, whatever stands off it left out of account."""
    weight = np.ones(len(y))
    for _ in range(12):
        arc = np.polyfit(y, x, 2, w=np.sqrt(weight))
        off = np.abs(x - np.polyval(arc, y))
        spread = max(1.4826 * float(np.median(off)), 0.05)
        weight = 1.0 / (1.0 + (off / (2 * spread)) ** 2)
    return np.asarray(arc)


def _head_parts(
    plain: shapely.Polygon, whole: shapely.Polygon, nut: float, head: HeadShape
) -> list[Part]:
    x1 = float(whole.bounds[2])
    rise = math.tan(math.radians(head.tilt_deg))
    thick = head.thickness / math.cos(math.radians(head.tilt_deg))
    edge = head.edge or 0.0
    if rise >= 0:
        # the corner that its edge was rounded off hangs lower than any wood that a rule meets
        at = lower_corner(x1, head.tilt_deg, head.thickness, edge)
        lowest = head.lowest - rounded_away(edge, head.tilt_deg)
    else:
        at, lowest = nut, head.lowest
    ends = [(x, lowest - rise * (x - at)) for x in (nut, x1)]
    edge_u95 = UNREAD_EDGE_MM if head.edge is None else head.edge_u95
    u95 = math.hypot(head.u95, rounded_away(edge_u95, head.tilt_deg))
    low = HeightLine(tuple((x, z, u95) for x, z in ends))
    high = HeightLine(tuple((x, z + thick, u95) for x, z in ends))
    region = shapely.box(nut, -1e4, 1e5, 1e4)
    plan = parts_of(plain.intersection(region))
    if not plan:
        return []
    block = leaning("headstock", plain, region, low, high)
    parts: list[Part] = [replace(block, edge=edge, edge_u95=edge_u95)]
    tuners = [p for p in parts_of(whole.difference(plain).intersection(region)) if p.area > 4.0]
    if not tuners:
        return parts
    middle = head.tuners
    if middle is None:  # behind the headstock, about (common practice, no source)
        middle = float(low.at(tuners[0].centroid.x)[0]) + 0.25 * head.thickness
    level = HeightLine(((nut, middle - TUNER_HALF_MM, 3.0),))
    parts.append(
        Slab(
            "tuners",
            shapely.union_all(tuners),
            level,
            HeightLine(((nut, middle + TUNER_HALF_MM, 3.0),)),
        )
    )
    if head.housings > 0:
        strips = [
            shapely.box(t.centroid.x - HOUSING_ALONG_MM, -1e4, t.centroid.x + HOUSING_ALONG_MM, 1e4)
            for t in tuners
        ]
        under = plan[0].intersection(shapely.union_all(strips))
        lower = HeightLine(tuple((x, z - head.housings, head.u95) for x, z in ends))
        parts.append(Slab("tuner housings", under, lower, low))
    return parts


def _carved_head(
    plain: shapely.Polygon, whole: shapely.Polygon, nut: float, head: HeadShape, face: float
) -> list[Part]:
    """All that the outline covers beyond the nut, from the lowest point up to the neck's face."""
    region = shapely.box(nut, -1e4, 1e5, 1e4)
    low = HeightLine(((nut, head.lowest, head.u95), (nut + 1e3, head.lowest, head.u95)))
    top = max(face, head.lowest + CARVED_MM / 2)
    high = HeightLine(((nut, top, head.u95), (nut + 1e3, top, head.u95)))
    found: list[Part] = []
    plans = (plain.intersection(region), whole.difference(plain).intersection(region))
    for name, plan in zip(("headstock", "tuners"), plans, strict=True):
        kept = [p for p in parts_of(plan) if p.area > 4.0]
        if kept:
            found.append(Slab(name, shapely.union_all(kept), low, high, hull=True))
    return found


def _button(
    m: Measurement,
    plain: shapely.Polygon,
    labels: NDArray[np.str_],
    typed: ButtonShape | None,
    typed_height: tuple[float, float] | None,
    sides: BodySides | None,
) -> Bar | str | None:
    """The strap button, typed before seen; a sentence where it is seen but its height is not.

    It sits on the wood at its own height: where a side bulges, that is not where the edge is."""
    tail = float(plain.bounds[0])
    seen = m.outline[labels == "button"]
    seen = seen[seen[:, 0] < tail + 20.0] if len(seen) else seen
    if typed is not None:
        end = wood_at(plain, sides, typed.y, typed.height)
        turned = typed.profile or ((0.0, typed.diameter / 2), (typed.length, typed.diameter / 2))
        profile = tuple((end - a, r) for a, r in turned[::-1])
        thinner = 0.0 if typed.profile else STEM * typed.diameter / 2
        return Bar("button", typed.y, typed.height, profile, typed.u95, thinner)
    if len(seen) < 3:
        return None
    y0, y1 = float(seen[:, 1].min()), float(seen[:, 1].max())
    height = height_line(m, "button")
    if typed_height is not None:
        height = HeightLine(((0.0, *typed_height),))
    if height is None:
        return (
            "a strap button is seen, but not how high it sits: measure from the bench to its middle"
            " and give --button-height"
        )
    z = float(height.at(0.0)[0])
    start = float(seen[:, 0].min())
    middle, radius = (y0 + y1) / 2, (y1 - y0) / 2
    wood = wood_at(plain, sides, middle, z)
    if not start < wood:
        return None
    profile = ((start, radius), (wood, radius))
    across = m.outline_u95[(labels == "button") & (m.outline[:, 0] < tail + 20.0)]
    # seen from above its sizes and place are the outline's, its height is not
    return Bar(
        "button", middle, z, profile, float(np.median(across)), STEM * radius, height.u95_at(0.0)
    )


def wood_at(plan: shapely.Polygon, sides: BodySides | None, y: float, z: float) -> float:
    """x of the tail's wood at a distance y from the centreline and a height z, mm."""
    end = tail_at(plan, y)
    if sides is None or sides.bulge is None:
        return end
    return end + float(sides.bulge.away(np.array([end]), np.array([z]))[0, 0])


def tail_at(plan: shapely.Polygon, y: float) -> float:
    """x of the plan's tail end at a distance y from the centreline, mm."""
    line = shapely.LineString([(-1e4, y), (1e4, y)])
    met = plan.intersection(line)
    return float(met.bounds[0]) if not met.is_empty else float(plan.bounds[0])
