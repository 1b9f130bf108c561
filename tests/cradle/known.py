"""What a careful maker would know of a studio instrument, read off its true solid.

The outline is the true projection or a photo's; sections are what a contour gauge with needles
1.27 mm apart would show, heights what a rule would read. The solid itself never leaves this file
for the code under test.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
import shapely

from profiler.instrument.bulge import Bulge, bulge_of
from profiler.instrument.gauge import Tips, back_from_tips
from profiler.instrument.lofts import HeightLine
from profiler.instrument.record import Frame2D, Measurement, Quantity, missing
from profiler.instrument.sections import Section
from profiler.instrument.shaping import BodySides, ButtonShape, HeadShape
from profiler.instrument.traced import Known as Taken
from profiler.instrument.traced import section_from_back
from tests.studio.bodies import named
from tests.studio.bodies.body import Body
from tests.studio.truth import outline_of, projection, section

Array = np.ndarray
#: common pitch of a contour gauge's needles, mm (trade pages; see reference-values.md)
PITCH_MM = 1.27
#: how far behind the nut the second section is taken, mm
NEAR_NUT_MM, NEAR_BODY_MM = 25.0, 75.0


@dataclass(frozen=True)
class Known:
    """Everything that `build_solid` is given, and the body that it came from."""

    body: Body
    measurement: Measurement
    sections: tuple[Section, ...]
    head: HeadShape | None
    button: ButtonShape | None
    sides: BodySides


def known(name: str, seed: int | None = None) -> Known:
    """A studio instrument; with a seed, readings have a careful maker's errors."""
    body = named(name)
    rng = None if seed is None else np.random.default_rng([seed, *name.encode()])
    measurement = true_measurement(body)
    join, nut = body.stations["body join"], body.stations["nut"]
    sections = tuple(
        gauge(body, x, rng) for x in (join + NEAR_BODY_MM, nut - NEAR_NUT_MM) if x < nut
    )
    return Known(
        body, measurement, sections, head_of(body, rng), button_of(body, rng), sides_of(body, rng)
    )


def true_measurement(body: Body) -> Measurement:
    """The true outline with its parts, as a perfect photo would give it."""
    ring = np.array(shapely.segmentize(seen_of(body), 1.0).exterior.coords)[:-1]
    return measured_as(body, ring)


@lru_cache
def seen_of(body: Body) -> shapely.Polygon:
    """What a photo from above shows, lifted to the rim: a bowl's swell below it is hidden."""
    if not _has(body, "bowl"):
        return outline_of(body)
    return projection([p for p in body.parts if p.name != "bowl"])


def measured_as(body: Body, ring: Array, u95: float = 0.05) -> Measurement:
    x, y = ring.T
    join, nut = body.stations["body join"], body.stations["nut"]
    part = np.where(x < join, "body", np.where(x < nut + 2, "neck", "headstock")).astype("<U9")
    plain = _plan(body, "headstock", "pegbox", "scroll", "nut")
    far = shapely.distance(shapely.points(ring), plain) > 0.3
    part[far & (x > nut + 2)] = "tuners"
    # a bowl's swell is hidden: what a photo shows beyond the rim is the button
    tail = _plan(body, *(name for name in BODY if name != "bowl"))
    part[(shapely.distance(shapely.points(ring), tail) > 0.3) & (x < 30)] = "button"
    length, width = np.ptp(x), np.ptp(y)
    return Measurement(
        outline=ring,
        outline_u95=np.full(len(ring), u95),
        outline_part=tuple(map(str, part)),
        doubtful=(),
        length=Quantity(float(length), u95),
        width=Quantity(float(width), u95),
        height=Quantity(float(max(p.points[:, 2].max() for p in body.parts)), 0.5),
        widths={"nut": Quantity(40.0, 1.0, x=float(nut))},
        box=(Quantity(float(length), u95), Quantity(float(width), u95)),
        area=missing("not taken"),
        heights=(),
        frame=Frame2D(0.0, (0.0, 0.0)),
        symmetric=True,
    )


BODY = ("binding", "sides", "bowl", "top", "back", "ribs")


def _plan(body: Body, *names: str) -> shapely.Polygon:
    return projection([p for p in body.parts if p.name in names])


def gauge(body: Body, x: float, rng: np.random.Generator | None) -> Section:
    """A cut through neck and fingerboard: as it is, or as a gauge's needles and a rule show it."""
    hull = shapely.Polygon(np.array(section(body.parts, x, ("neck", "fingerboard"))))
    if rng is not None:
        return _pressed(hull, x, rng)
    y0, _, y1, face = hull.bounds
    ys = np.concatenate([[y0], np.arange(y0 + 0.01, y1, 0.02), [y1]])
    z = _undersides(hull, ys) - face
    points = np.vstack([[y0, 0.0], np.column_stack([ys, z]), [y1, 0.0]])
    return Section(
        f"neck at {x:.0f} mm",
        float(x),
        points,
        Quantity(float(y1 - y0), 0.2),
        Quantity(float(-z.min()), 0.2),
        missing("not taken"),
        np.full(len(points), 0.2),
        Quantity(float(face), 0.3),
        "gauge",
    )


def _undersides(hull: shapely.Polygon, ys: Array) -> Array:
    ends = np.full(len(ys), 1e3)
    lines = shapely.linestrings(np.stack([[ys, -ends], [ys, ends]]).transpose(2, 0, 1))
    return shapely.bounds(shapely.intersection(hull, lines))[:, 1]


def _pressed(hull: shapely.Polygon, x: float, rng: np.random.Generator) -> Section:
    """What the program makes of needles pressed on, calipers and a rule below the neck."""
    y0, low, y1, face = hull.bounds
    fine = np.arange(y0 + 0.005, y1, 0.01)
    under = _undersides(hull, fine)
    r = 0.93 * PITCH_MM / 2
    at = (np.arange(72) - 35.5) * PITCH_MM + rng.uniform(-0.5, 0.5) * PITCH_MM
    ends = np.full(len(at), face + 5.0)
    for k, u in enumerate(at):
        met = np.abs(fine - u) < r
        if met.any():
            rise = r - np.sqrt(r**2 - (fine[met] - u) ** 2)
            ends[k] = float((under[met] + rise).min())
    ends += rng.normal(0.0, 0.05, len(at))
    tips = Tips(at, ends, ends - 80.0, PITCH_MM, 0.05, 0.15, 0.001)
    depth = face - low + rng.normal(0.0, 0.05)
    found = section_from_back(
        back_from_tips(tips, "round", False, "gauge"),
        Taken(
            f"neck at {x:.0f} mm", float(x + rng.normal(0.0, 0.25)),
            Quantity(float(y1 - y0 + rng.normal(0.0, 0.05)), 0.2), True, float(y0 + y1) / 2,
            Quantity(float(depth), 0.1), missing("below"), True, "gauge", "gauge", "",
        ),
        (),
    )  # fmt: skip
    deep = -float(found.points[:, 1].min())
    return replace(found, face_height=Quantity(low + deep + rng.normal(0.0, 0.15), 0.3))


def head_of(body: Body, rng: np.random.Generator | None) -> HeadShape | None:
    """Lowest point, tilt and thickness of a flat headstock; of a carved scroll its lowest point."""
    parts = [p for p in body.parts if p.name == "headstock"]
    if not parts:
        carved = [p for p in body.parts if p.name in ("pegbox", "scroll", "peg", "peg head")]
        lowest = min((float(p.points[:, 2].min()) for p in carved), default=None)
        if lowest is None:
            return None
        lowest += 0.0 if rng is None else rng.normal(0.0, 0.25)
        return HeadShape(lowest, 0.0, 0.0, 0.5, carved=True)
    head = parts[0]
    up = head.normals[:, 2]
    face = head.points[up > 0.95]
    back = head.points[up < -0.95]
    slope = np.polyfit(back[:, 0], back[:, 1 + 1], 1)
    over = np.polyfit(face[:, 0], face[:, 2], 1)
    tilt = float(np.degrees(np.arctan(-slope[0])))
    x = float(back[:, 0].mean())
    thick = float(np.polyval(over, x) - np.polyval(slope, x)) * np.cos(np.radians(tilt))
    lowest = float(head.points[:, 2].min())  # where a rule from the bench meets it
    tuner = [
        p.points[:, 2] for p in body.parts if p.name == "button" and p.points[:, 0].min() > 100
    ]
    middle = float(np.mean([(z.min() + z.max()) / 2 for z in tuner])) if tuner else None
    if rng is not None:
        lowest += rng.normal(0.0, 0.25)
        tilt += rng.normal(0.0, 0.1)
        thick += rng.normal(0.0, 0.1)
    # the studio rounds the edges of its headstocks to 1 mm; gauges go by quarters of a mm
    edge, edge_u95 = (1.0, 0.0) if rng is None else (1.0 + rng.uniform(-0.125, 0.125), 0.5)
    return HeadShape(lowest, tilt, float(thick), 0.5, middle, edge=float(edge), edge_u95=edge_u95)


def button_of(body: Body, rng: np.random.Generator | None) -> ButtonShape | None:
    """The strap button at the tail."""
    found = [p for p in body.parts if p.name == "button" and p.points[:, 0].max() < 40]
    if not found:
        return None
    points = found[0].points
    tail = min(p.points[:, 0].min() for p in body.parts if p.name in BODY)
    y0, y1 = points[:, 1].min(), points[:, 1].max()
    z0, z1 = points[:, 2].min(), points[:, 2].max()
    error = np.zeros(3) if rng is None else rng.normal(0.0, 0.15, 3)
    middle = np.array([(y0 + y1) / 2, (z0 + z1) / 2])
    radius = np.hypot(*(points[:, 1:] - middle).T)
    # its mesh is made of rings, one after the other
    ends = np.flatnonzero(np.abs(np.diff(radius)) > 0.25) + 1
    rings = [r for r in np.split(np.arange(len(points)), ends) if len(r) > 30]
    profile = sorted(
        (float(tail - points[r, 0].mean()), float(radius[r].mean()))
        for r in rings
        if points[r, 0].mean() < tail
    )
    if rng is not None:
        profile = _with_calipers(profile, rng)
    return ButtonShape(
        2 * max(r for _, r in profile),
        profile[-1][0],
        float((z0 + z1) / 2 + error[2]),
        float((y0 + y1) / 2),
        tuple(profile),
        u95=0.0 if rng is None else 0.4,
    )


#: between two readings of a strap button, mm
BUTTON_STEP_MM = 2.0


def _with_calipers(
    profile: list[tuple[float, float]], rng: np.random.Generator
) -> list[tuple[float, float]]:
    """Foot, stem, flange and end, and every `BUTTON_STEP_MM` between them, as calipers read them:
    that is how the program asks for it."""
    out, radius = np.array(profile).T
    flange = int(np.argmax(radius))
    stem = int(np.argmin(radius[: flange + 1]))
    # jaws are too thick to read nearer to the wood
    at = [1.0, out[stem], (out[stem] + out[flange]) / 2, out[flange], out[-1] - 0.5, out[-1]]
    at = sorted({round(float(a), 3) for a in at if a >= 1.0})
    for a, b in pairwise(list(at)):
        more = int(np.ceil((b - a) / BUTTON_STEP_MM))
        at += [float(v) for v in np.linspace(a, b, more + 1)[1:-1]]
    at = sorted(at)
    read = np.interp(at, out, radius) + rng.normal(0.0, 0.05, len(at))
    places = np.array(at) + rng.normal(0.0, 0.1, len(at))
    turned = [(float(a), float(r)) for a, r in sorted(zip(places, read, strict=True))]
    return [(0.0, turned[0][1]), *turned]


def sides_of(body: Body, rng: np.random.Generator | None = None, square: bool = True) -> BodySides:
    """The side's lower and upper edge at tail and neck, off the true rims."""

    def line(pick: Sequence[tuple[float, float, float]]) -> HeightLine:
        return HeightLine(tuple(pick))

    bowl = _has(body, "bowl")
    if bowl and square:
        bulge = bulge_at(body, rng)
        return BodySides(bulge.low, bulge.high, bulge=bulge)
    lower = ("binding",) if bowl else ("sides", "top", "back")
    outline = outline_of(body)

    def near(names: Sequence[str]) -> Array:
        outer = np.vstack([p.points for p in body.parts if p.name in names])
        away = shapely.distance(shapely.points(outer[:, :2]), outline.exterior)
        # an arched plate falls away from its very edge
        return outer[away < (1.4 if _has(body, "ribs") else 5.0)]

    down, up = near([n for n in lower if _has(body, n)]), near(_rims(body))
    join = body.stations["body join"]
    low, high = [], []
    for a, b in ((0.0, 40.0), (join - 45.0, join - 5.0)):
        x = (a + b) / 2
        under, over = (q[(q[:, 0] > a) & (q[:, 0] < b)] for q in (down, up))
        low.append((x, float(under[:, 2].min()), 0.5))
        # the highest point of a slope lies at its end
        i = int(np.argmax(over[:, 2]))
        high.append((float(over[i, 0]), float(over[i, 2]), 0.5))
    if _has(body, "ribs"):  # plates over ribs
        return BodySides(line(low), line(high), 3.0, 4.2, 0.9, straight=True)
    return BodySides(line(low), line(high), straight=square)


#: where a square stands against a bowl: beside the tail's middle, and this share along the body
BESIDE_TAIL_MM, SHOULDER = 20.0, 0.72


def bulge_at(body: Body, rng: np.random.Generator | None) -> Bulge:
    """How far the bowl stands away from a square's blade, beside the tail and at the shoulder."""
    import open3d as o3d

    scene = o3d.t.geometry.RaycastingScene()
    for p in body.parts:
        if p.name in ("bowl", "binding"):
            scene.add_triangles(
                o3d.core.Tensor(p.points.astype(np.float32)),
                o3d.core.Tensor(p.faces.astype(np.uint32)),
            )
    join = body.stations["body join"]
    ring = np.asarray(seen_of(body).exterior.coords)[:-1]
    stands = []
    for x in (None, SHOULDER * join):
        if x is None:
            low = ring[ring[:, 0] < join / 2]
            at = low[np.argmin(np.abs(low[:, 1] - BESIDE_TAIL_MM))]
        else:
            left = ring[ring[:, 1] > 0]
            at = left[np.argmin(np.abs(left[:, 0] - x))]
        i = int(np.argmin(np.hypot(*(ring - at).T)))
        along = ring[(i + 3) % len(ring)] - ring[i - 3]
        inward = np.array([-along[1], along[0]]) / np.hypot(*along)
        heights = np.arange(10.0, body_top(body) + 1.0, 0.5)
        start = at - 100.0 * inward
        rays = np.array([[*start, z, *inward, 0.0] for z in heights], dtype=np.float32)
        hit = scene.cast_rays(o3d.core.Tensor(rays))["t_hit"].numpy()
        met = hit < 160.0  # farther away is the other side, above the rim
        z, depth = heights[met], hit[met] - hit[met].min()
        # up to the binding's broken edge
        top = float(z.max()) - 1.0
        read_at = np.arange(top, 12.0, -2.0)[::-1] if rng is None else np.linspace(12.0, top, 7)
        error = np.zeros(len(read_at)) if rng is None else rng.normal(0.0, 0.15, len(read_at))
        away = np.maximum(np.interp(read_at, z, depth) + error, 0.0)
        stands.append((0.0 if x is None else x, list(zip(read_at, away, strict=True))))
    return bulge_of(
        [(x, [(float(z), float(w)) for z, w in read]) for x, read in stands],
        0.0 if rng is None else 0.4,
    )


def body_top(body: Body) -> float:
    return float(max(p.points[:, 2].max() for p in body.parts if p.name in ("bowl", "binding")))


def _rims(body: Body) -> list[str]:
    """The binding of a flat top; the edges of an arched plate."""
    return ["binding"] if _has(body, "binding") else ["top"]


def _has(body: Body, name: str) -> bool:
    return any(p.name == name for p in body.parts)
