"""A case put together as solids from its plan record alone, by a geometry kernel that knows no
carpentry: every piece is a block with blocks taken out of it, set where its place says.

Nothing here may import `profiler.casework`: what is checked is what the workshop gets.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, Manifold, OpType

Record = dict[str, Any]
Box = tuple[float, float, float, float, float, float]

#: mm³ that two solids may share by rounding of the record to 0.0001 mm
HAIR_MM3 = 0.5


@dataclass(frozen=True)
class Body:
    """One piece, or half of a sawn one, as it stands in the closed case."""

    name: str
    part: str
    solid: Manifold


def block(box: Box) -> Manifold:
    x0, y0, z0, x1, y1, z1 = box
    return Manifold.cube((x1 - x0, y1 - y0, z1 - z0)).translate((x0, y0, z0))


def placed(place: Record, box: Box) -> Box:
    """A box of the piece's frame in the case frame."""
    corners = []
    for point in (box[:3], box[3:]):
        at = list(place["origin"])
        for value, axis in zip(point, place["axes"], strict=True):
            at["xyz".index(axis[1])] += value if axis[0] == "+" else -value
        corners.append(at)
    low, high = np.min(corners, axis=0), np.max(corners, axis=0)
    return (*low.tolist(), *high.tolist())


def _taken(cut: Record, place: Record) -> Manifold:
    box = placed(place, tuple(cut["box"]))
    if cut["kind"] not in ("hole", "pocket"):
        return block(box)
    assert place["axes"][2][1] == "z", "round cuts stand upright in this case"
    x0, y0, z0, x1, y1, z1 = box
    round_ = Manifold.cylinder(z1 - z0, (x1 - x0) / 2, -1.0, 24)
    return round_.translate(((x0 + x1) / 2, (y0 + y1) / 2, z0))


def solids(plan: Record, sawn: bool = True, rabbets: bool = True) -> list[Body]:
    """Every piece; with `sawn`, the lid is sawn off and laid back on the base.

    Args:
        plan: `plan.json`.
        sawn: else the box as it was glued up, boards whole.
        rabbets: else the boards as they are before the rabbets are made.
    """
    low, high = plan["box"]["saw_cut"]
    drop = (0.0, 0.0, low - high)
    found = []
    for piece in plan["pieces"]:
        whole = (0.0, 0.0, 0.0, piece["length"], piece["width"], piece["thickness"])
        for place in piece["places"]:
            cuts = [
                _taken(c, place)
                for c in piece["cuts"]
                if c["kind"] != "saw" and (rabbets or c["kind"] != "rabbet")
            ]
            start = shaped(piece, place) if "profile" in piece else block(placed(place, whole))
            solid = Manifold.batch_boolean([start, *cuts], OpType.Subtract)
            if not sawn or place["part"] == "base":
                found.append(Body(piece["name"], place["part"], solid))
            elif place["part"] == "lid":
                found.append(Body(piece["name"], "lid", solid.translate(drop)))
            else:
                lid, rest = solid.split_by_plane((0, 0, 1), high)
                base = rest.split_by_plane((0, 0, -1), -low)[0]
                found.append(Body(piece["name"], "base", base))
                found.append(Body(piece["name"], "lid", lid.translate(drop)))
    return found


def shaped(piece: Record, place: Record) -> Manifold:
    """A piece with a profile: extruded through its thickness, set where its place says."""
    rings = [[(u, v) for u, v in piece["profile"]]]
    solid = Manifold.extrude(CrossSection(rings, FillRule.NonZero), piece["thickness"])
    matrix = np.zeros((3, 4))
    for column, axis in enumerate(place["axes"]):
        matrix["xyz".index(axis[1]), column] = 1.0 if axis[0] == "+" else -1.0
    matrix[:, 3] = place["origin"]
    return solid.transform(matrix)


def overlaps(bodies: list[Body]) -> list[str]:
    """Pairs that share more than a hair."""
    found = []
    for i, a in enumerate(bodies):
        for b in bodies[:i]:
            if apart(a.solid, b.solid):
                continue
            shared = (a.solid ^ b.solid).volume()
            if shared > HAIR_MM3:
                found.append(f"{a.name} and {b.name} share {shared:.2f} mm³")
    return found


def prism(shape: shapely.Polygon, low: float, high: float) -> Manifold:
    rings = [np.asarray(shape.exterior.coords)[:-1]]
    section = CrossSection([r.tolist() for r in rings])
    return Manifold.extrude(section, high - low).translate((0, 0, low))


def hits(solid: Manifold, bodies: list[Body]) -> list[str]:
    """What shares more than a hair with a solid."""
    found = []
    for body in bodies:
        if apart(body.solid, solid):
            continue
        shared = (body.solid ^ solid).volume()
        if shared > HAIR_MM3:
            found.append(f"{body.name} ({shared:.2f} mm³)")
    return found


def apart(a: Manifold, b: Manifold) -> bool:
    """Whether their upright boxes do not even meet, which is quick to see."""
    p, q = a.bounding_box(), b.bounding_box()
    return any(p[i] >= q[i + 3] - 1e-6 or q[i] >= p[i + 3] - 1e-6 for i in range(3))
