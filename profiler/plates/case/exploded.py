"""The case pulled apart and seen from above, front and head: what goes where, at one glance.

Pieces are prisms along the axes, so one hides another only from one side; they are painted from
the farthest to the nearest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from profiler.casework.pieces import Piece, Place, Triple
from profiler.casework.plan import CasePlan
from profiler.drawing.model import Area, Item, Line, Point, Stroke
from profiler.plates.case.pencil import Pencil, View

#: where the eye stands: turned from the front towards the head, and up, degrees
TURN, RISE = 28.0, 32.0
LIGHT = {"z": 1.0, "y": 0.86, "x": 0.74}
WOOD, PLY, WALL, COVER, BODY = "#f0deb8", "#e9d3a6", "#d9bd8a", "#f7ecd2", "#a8bedb"


@dataclass(frozen=True)
class Solid:
    """A prism: a profile in two axes of the case, from `low` to `high` along the third.

    Attributes:
        profile: in the other two axes, in the order of the alphabet, mm.
        axis: 'x', 'y' or 'z'.
        low, high: mm.
        colour: of its faces.
        mark: of its piece, '' for none.
    """

    profile: shapely.Polygon
    axis: str
    low: float
    high: float
    colour: str
    mark: str

    @property
    def hull(self) -> tuple[Triple, Triple]:
        a0, b0, a1, b1 = self.profile.bounds
        return _point(self.axis, a0, b0, self.low), _point(self.axis, a1, b1, self.high)


def _point(axis: str, a: float, b: float, c: float) -> Triple:
    if axis == "x":
        return c, a, b
    if axis == "y":
        return a, c, b
    return a, b, c


def to_paper(point: Triple) -> Point:
    """Where the eye sees a point of the case."""
    a, e = math.radians(TURN), math.radians(RISE)
    x, y, z = point
    return (
        x * math.cos(a) + y * math.sin(a),
        (-x * math.sin(a) + y * math.cos(a)) * math.sin(e) + z * math.cos(e),
    )


def exploded_view(plan: CasePlan) -> View:
    """The whole case, pulled apart."""

    def draw(p: Pencil) -> None:
        painted = []
        for solid in _from_far_to_near(_solids(plan)):
            items = _painted(solid, p)
            p.add("wood", *items)
            faces = [shapely.Polygon(r) for i in items if isinstance(i, Area) for r in i.rings[:1]]
            painted.append((solid, shapely.union_all([f.buffer(0) for f in faces])))
        _badges(p, painted)

    return draw


def _solids(plan: CasePlan) -> list[Solid]:
    """Every piece, moved apart."""
    apart = max(45.0, 0.09 * plan.inside.along.mm)
    high = plan.fingers.line.mm
    thick = 0.55 * plan.body.height
    # Storeys from below: boards, walls lifted out of them, covers, the instrument, the lid.
    up_walls = 0.7 * high + 20.0
    up_cover = up_walls + 40.0
    walls = plan.wall_height.mm if plan.wall_height is not None else 0.0
    up_body = walls + up_cover + 50.0 if plan.rooms else 0.7 * high + 20.0
    up_lid = plan.rabbet.depth.mm + up_body + thick + 50.0 - high
    up_lid += 0.25 * plan.inside.across.mm  # a wide lid hides more of what lies below it
    found = []
    for piece in plan.pieces:
        colour = {"panels": PLY, "walls": WALL}.get(piece.use, WOOD)
        for place in piece.places:
            if piece.use == "boards" and place.part == "both":
                side = {"front": (0, -apart), "back": (0, apart), "tail": (-apart, 0)}
                dx, dy = side.get(piece.name.split()[0], (apart, 0))
                for part, dz in (("base", 0.0), ("lid", up_lid)):
                    found.append(_board(piece, place, plan, part, (dx, dy, dz)))
                continue
            dz = -60.0 if piece.name == "bottom panel" else up_walls
            if piece.name == "cover":
                dz, colour = up_cover, COVER
            elif place.part == "lid":
                dz = up_lid + (60.0 if piece.name == "top panel" else 0.0)
                if piece.name.startswith("filler"):
                    continue  # too small to see, and hidden in the grooves
            found.append(_block(piece, place, colour, dz))
    shape = plan.outline.simplify(0.3)
    z = plan.rabbet.depth.mm + up_body
    found.append(Solid(shape, "z", z, z + thick, BODY, ""))
    return found


def _block(piece: Piece, place: Place, colour: str, dz: float) -> Solid:
    x0, y0, z0, x1, y1, z1 = place.box_to_case(piece.box)
    profile = shapely.box(x0, y0, x1, y1)
    for cut in piece.cuts:
        if cut.kind == "hole":
            a = place.box_to_case(cut.box)
            hole = shapely.Point((a[0] + a[3]) / 2, (a[1] + a[4]) / 2).buffer((a[3] - a[0]) / 2)
            profile = profile.difference(hole)
    return Solid(profile, "z", z0 + dz, z1 + dz, colour, piece.mark)


def _board(piece: Piece, place: Place, plan: CasePlan, part: str, by: Triple) -> Solid:
    """A board of base or lid, with its fingers."""
    line, kerf = plan.fingers.line.mm, plan.fingers.kerf
    low, high = (0.0, line) if part == "base" else (line + kerf, piece.width.mm)
    profile = shapely.box(0.0, low, piece.length.mm, high)
    for cut in piece.cuts:
        if cut.kind == "socket":
            u0, v0, _, u1, v1, _ = cut.box
            profile = profile.difference(shapely.box(u0, v0, u1, v1))
    # u runs along x or y; v is z
    axis = "y" if place.axes[0][1] == "x" else "x"
    start = place.origin[0] if axis == "y" else place.origin[1]
    shift = by[0] if axis == "y" else by[1]
    moved = shapely.transform(profile, lambda q: q + np.array([start + shift, by[2]]))
    box = place.box_to_case(piece.box)
    across = (box[1] + by[1], box[4] + by[1]) if axis == "y" else (box[0] + by[0], box[3] + by[0])
    return Solid(moved, axis, across[0], across[1], WOOD, piece.mark)


def _from_far_to_near(solids: list[Solid]) -> list[Solid]:
    """Painting order: a piece after all that it may hide."""
    hulls = [s.hull for s in solids]
    left = set(range(len(solids)))
    # behind[i]: pieces that must be painted before i
    behind = {i: {j for j in left if j != i and _hides(hulls[i], hulls[j])} for i in left}
    order = []
    while left:
        free = [i for i in left if not behind[i] & left]
        # a ring of pieces hiding each other cannot be solved; take the lowest and go on
        pick = free or [min(left, key=lambda i: hulls[i][0][2])]
        order += pick
        left -= set(pick)
    return [solids[i] for i in order]


def _hides(a: tuple[Triple, Triple], b: tuple[Triple, Triple]) -> bool:
    """Whether a lies before b for an eye at +x, −y, +z."""
    if a[0][0] >= b[1][0] - 1e-6:  # a further to the head
        return not (b[0][2] >= a[1][2] - 1e-6 or b[1][1] <= a[0][1] + 1e-6)
    if a[1][1] <= b[0][1] + 1e-6:  # a further to the front
        return not (b[0][2] >= a[1][2] - 1e-6 or b[0][0] >= a[1][0] - 1e-6)
    if a[0][2] >= b[1][2] - 1e-6:  # a higher
        return not (b[0][0] >= a[1][0] - 1e-6 or b[1][1] <= a[0][1] + 1e-6)
    return False


def _painted(s: Solid, p: Pencil) -> list[Item]:
    """Sides that the eye sees, far ones first, then the cap."""
    pen = Stroke(p.paper(0.13))
    items: list[Item] = []
    sides = []
    cap = s.low if s.axis == "y" else s.high  # the eye sees the front, the head and the top
    smooth = not s.mark
    profile = shapely.Polygon(s.profile.exterior, s.profile.interiors).normalize()
    rings = [profile.exterior, *profile.interiors]
    for ring in rings:
        points = np.asarray(ring.coords)
        for (a0, b0), (a1, b1) in pairwise(points):
            # outward normal in the profile's plane; exteriors run clockwise after normalize
            na, nb = -(b1 - b0), a1 - a0
            normal = _point(s.axis, na, nb, 0.0)
            if _towards_eye(normal) <= 1e-9:
                continue
            corners = [
                _point(s.axis, a0, b0, s.low),
                _point(s.axis, a1, b1, s.low),
                _point(s.axis, a1, b1, s.high),
                _point(s.axis, a0, b0, s.high),
            ]
            middle = np.mean(corners, axis=0)
            sides.append((_towards_eye(tuple(middle)), corners, _shade(s.colour, normal)))
    for _, corners, colour in sorted(sides, key=lambda q: q[0]):
        ring = tuple(to_paper(c) for c in corners)
        items.append(Area((ring,), colour))
        if smooth:  # a curved side shows its rims, not the facets it is made of
            items += [Line(ring[:2], pen), Line(ring[2:], pen)]
        else:
            items.append(Line(ring, pen, closed=True))
    caps = tuple(
        tuple(to_paper(_point(s.axis, a, b, cap)) for a, b in np.asarray(r.coords)[:-1])
        for r in rings
    )
    face = {"x": (1.0, 0.0, 0.0), "y": (0.0, -1.0, 0.0), "z": (0.0, 0.0, 1.0)}[s.axis]
    items.append(Area(caps, _shade(s.colour, face)))
    items += [Line(ring, pen, closed=True) for ring in caps]
    return items


def _towards_eye(v: Triple) -> float:
    a, e = math.radians(TURN), math.radians(RISE)
    return v[0] * math.sin(a) * math.cos(e) - v[1] * math.cos(a) * math.cos(e) + v[2] * math.sin(e)


def _shade(colour: str, normal: Triple) -> str:
    n = np.abs(normal) / (np.linalg.norm(normal) or 1.0)
    light = n[0] * LIGHT["x"] + n[1] * LIGHT["y"] + n[2] * LIGHT["z"]
    light = min(1.0, float(light / max(n.sum(), 1e-9)))
    parts = [int(int(colour[i : i + 2], 16) * light) for i in (1, 3, 5)]
    return "#" + "".join(f"{v:02x}" for v in parts)


def _badges(p: Pencil, painted: list[tuple[Solid, shapely.Polygon]]) -> None:
    """Each piece's letter once for each part of it that shows enough."""
    least = p.paper(3.6)
    hidden = shapely.Polygon()
    for solid, seen in reversed(painted):
        if solid.mark:
            free = seen.difference(hidden)
            parts = [g for g in shapely.get_parts(free) if g.area > least * least / 4]
            if parts:
                biggest = max(parts, key=lambda g: g.area)
                spot = shapely.maximum_inscribed_circle(biggest, tolerance=p.paper(0.5))
                if spot.length >= least / 2:
                    at = spot.coords[0]
                    p.badge((float(at[0]), float(at[1])), solid.mark, 2.5)
        hidden = hidden.union(seen)
