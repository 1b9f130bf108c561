"""The pieces of a case as prisms, moved apart in storeys: what the exploded view shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from profiler.casework.pieces import Piece, Place, Triple
from profiler.casework.plan import CasePlan

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
        curved: some of its sides are curves, made of short chords.
    """

    profile: shapely.Polygon
    axis: str
    low: float
    high: float
    colour: str
    mark: str
    curved: bool = False

    @property
    def hull(self) -> tuple[Triple, Triple]:
        a0, b0, a1, b1 = self.profile.bounds
        return point_of(self.axis, a0, b0, self.low), point_of(self.axis, a1, b1, self.high)


def point_of(axis: str, a: float, b: float, c: float) -> Triple:
    if axis == "x":
        return c, a, b
    if axis == "y":
        return a, c, b
    return a, b, c


def storeys(plan: CasePlan) -> list[Solid]:
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
    if piece.profile:
        corners = np.array([place.to_case((u, v, 0.0)) for u, v in piece.profile])
        if place.axes[2][1] == "x":
            shape = shapely.Polygon(corners[:, 1:] + np.array([0.0, dz])).simplify(0.05)
            return Solid(shape, "x", x0, x1, colour, piece.mark, curved=True)
        shape = shapely.Polygon(corners[:, :2]).simplify(0.05)
        return Solid(shape, "z", z0 + dz, z1 + dz, colour, piece.mark, curved=True)
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
