"""The case pulled apart and seen from above, front and head: what goes where, at one glance.

Pieces are prisms along the axes, so one hides another only from one side; they are painted from
the farthest to the nearest. Lines are cut where something nearer hides them, so that files without
filled areas show the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from profiler.casework.pieces import Triple
from profiler.casework.plan import CasePlan
from profiler.drawing.model import FILL, Area, Point
from profiler.plates.case.pencil import Pencil, View
from profiler.plates.case.storeys import Solid, point_of, storeys

#: where the eye stands: turned from the front towards the head, and up, degrees
TURN, RISE = 28.0, 32.0
LIGHT = {"z": 1.0, "y": 0.86, "x": 0.74}
LINE_MM = 0.13
#: a face hides lines only this far inside its rim, mm, so that its own rim stays
INSIDE_MM = 0.02
#: facets of a curve overlap by this, mm, so that no white shows between them
SEAM_MM = 0.3
#: sides shorter than this belong to a curve, mm
CHORD_MM = 6.0


@dataclass(frozen=True)
class Face:
    """One visible face: its shape as the eye sees it, and the edges that are drawn.

    `is_facet` tells a chord's face of a curved side.
    """

    shape: shapely.Polygon
    colour: str
    edges: tuple[tuple[Point, ...], ...]
    is_facet: bool = False


@dataclass(frozen=True)
class Scene:
    """Faces from far to near, the visible lines, and a spot for each letter with its radius."""

    faces: tuple[Face, ...]
    lines: tuple[tuple[Point, ...], ...]
    letters: tuple[tuple[str, Point, float], ...]


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
    made: list[Scene] = []

    def draw(p: Pencil) -> None:
        if not made:  # the same for every scale
            made.append(_scene(plan))
        scene = made[0]
        for face in scene.faces:
            shape = face.shape.buffer(SEAM_MM, join_style="mitre") if face.is_facet else face.shape
            rings = [shape.exterior, *shape.interiors]
            p.add(FILL, Area(tuple(_points(r) for r in rings), face.colour))
        for chain in scene.lines:
            p.line("wood", chain, LINE_MM)
        for mark, at, radius in scene.letters:
            if radius >= p.paper(1.8):
                p.badge(at, mark, 2.5)

    return draw


def _scene(plan: CasePlan) -> Scene:
    painted = [(s, _faces(s)) for s in _from_far_to_near(storeys(plan))]
    hidden = shapely.Polygon()
    lines: list[shapely.LineString] = []
    letters = []
    for solid, faces in reversed(painted):
        seen = shapely.union_all([f.shape for f in faces])
        if solid.mark:
            parts = shapely.get_parts(seen.difference(hidden))
            if len(parts):
                biggest = max(parts, key=lambda g: g.area)
                if biggest.area > 1.0:
                    spot = shapely.maximum_inscribed_circle(biggest, tolerance=1.0)
                    x, y = spot.coords[0]
                    letters.append((solid.mark, (float(x), float(y)), float(spot.length)))
        own = shapely.Polygon()  # what the piece hides of itself
        for face in reversed(faces):
            edges = shapely.MultiLineString([e for e in face.edges if len(e) > 1])
            free = edges.difference(own).difference(hidden)
            lines += shapely.get_parts(free).tolist()
            own = own.union(face.shape.buffer(-INSIDE_MM))
        hidden = hidden.union(own)
    joined = shapely.line_merge(shapely.union_all([g for g in lines if g.length > 0.05]))
    chains = tuple(_points(g) for g in shapely.get_parts(joined))
    return Scene(tuple(f for _, faces in painted for f in faces), chains, tuple(letters))


def _points(ring: shapely.LineString) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in ring.coords)


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


def _faces(s: Solid) -> list[Face]:
    """Sides that the eye sees, far ones first, then the cap."""
    cap = s.low if s.axis == "y" else s.high  # the eye sees the front, the head and the top
    profile = shapely.Polygon(s.profile.exterior, s.profile.interiors).normalize()
    sides: list[tuple[float, Face]] = []
    for number, ring in enumerate((profile.exterior, *profile.interiors)):
        # an instrument, a finger hole: curves, made of many short chords
        smooth = not s.mark or number > 0
        for (a0, b0), (a1, b1) in pairwise(np.asarray(ring.coords)):
            # outward normal in the profile's plane; exteriors run clockwise after normalize
            facet = smooth or (s.curved and math.hypot(a1 - a0, b1 - b0) < CHORD_MM)
            normal = point_of(s.axis, -(b1 - b0), a1 - a0, 0.0)
            if _towards_eye(normal) <= 1e-9:
                continue
            corners = [
                point_of(s.axis, a0, b0, s.low),
                point_of(s.axis, a1, b1, s.low),
                point_of(s.axis, a1, b1, s.high),
                point_of(s.axis, a0, b0, s.high),
            ]
            near = float(np.mean([_towards_eye(c) for c in corners]))
            seen = tuple(to_paper(c) for c in corners)
            # a curved side shows its rims, not the facets it is made of
            edges = (seen[:2], seen[2:]) if facet else ((*seen, seen[0]),)
            colour = _shade(s.colour, normal)
            sides.append((near, Face(shapely.Polygon(seen), colour, edges, facet)))
    rings = [
        [to_paper(point_of(s.axis, a, b, cap)) for a, b in np.asarray(r.coords)]
        for r in (profile.exterior, *profile.interiors)
    ]
    front = {"x": (1.0, 0.0, 0.0), "y": (0.0, -1.0, 0.0), "z": (0.0, 0.0, 1.0)}[s.axis]
    top = Face(
        shapely.Polygon(rings[0], rings[1:]),
        _shade(s.colour, front),
        tuple(tuple(r) for r in rings),
    )
    return [*(f for _, f in sorted(sides, key=lambda q: q[0])), top]


def _towards_eye(v: Triple) -> float:
    a, e = math.radians(TURN), math.radians(RISE)
    return v[0] * math.sin(a) * math.cos(e) - v[1] * math.cos(a) * math.cos(e) + v[2] * math.sin(e)


def _shade(colour: str, normal: Triple) -> str:
    n = np.abs(normal) / (np.linalg.norm(normal) or 1.0)
    light = n[0] * LIGHT["x"] + n[1] * LIGHT["y"] + n[2] * LIGHT["z"]
    light = min(1.0, float(light / max(n.sum(), 1e-9)))
    parts = [int(int(colour[i : i + 2], 16) * light) for i in (1, 3, 5)]
    return "#" + "".join(f"{v:02x}" for v in parts)
