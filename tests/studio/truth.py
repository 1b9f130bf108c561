"""Exact truth from the meshes: the vertical projection and what can be read off it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from tests.studio.bodies.body import Body
from tests.studio.meshes import Part

Array = NDArray[np.float64]

#: the union snaps to this grid, mm: far below anything that matters, and it keeps slivers away
SNAP = 1e-4
#: points that are this close to the line between their neighbours are left out, mm
SIMPLIFY = 0.002

#: faces from which joining faces as a coverage pays off
MANY = 4000
#: upward part of the normal below which a face is steep: steep faces overlap in the plan
STEEP = 0.2


def shadow(part: Part) -> shapely.Geometry:
    """The vertical projection of one part."""
    corners = part.points[part.faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    up = cross[:, 2] / np.maximum(np.linalg.norm(cross, axis=1), 1e-30)
    plan, signed = corners[:, :, :2], cross[:, 2] / 2
    seen = np.abs(signed) > 5e-10
    if len(plan) < MANY:
        return _joined(plan[seen])
    pieces = []
    for side in (1.0, -1.0):
        flat = seen & (side * up > STEEP)
        quick = _coverage(plan[flat], float(np.abs(signed[flat]).sum()))
        pieces.append(_joined(plan[flat]) if quick is None else quick)
    pieces.append(_joined(plan[seen & (np.abs(up) <= STEEP)]))
    return shapely.union_all(pieces, grid_size=SNAP)


def _triangles(corners: Array) -> NDArray[np.object_]:
    closed = np.concatenate([corners, corners[:, :1]], axis=1)
    return np.asarray(shapely.polygons(closed), dtype=object)


def _joined(corners: Array) -> shapely.Geometry:
    return shapely.union_all(_triangles(corners), grid_size=SNAP)


def _coverage(corners: Array, area: float) -> shapely.Geometry | None:
    """Triangles that lie edge to edge, joined quickly; None if some overlap."""
    try:
        joined = shapely.coverage_union_all(_triangles(corners))
    except shapely.errors.GEOSException:
        return None
    if not joined.is_valid or abs(joined.area - area) > 1e-3:
        return None
    return joined


def projection(parts: Sequence[Part]) -> shapely.Polygon:
    """The whole instrument's vertical projection, without holes.

    Raises:
        ValueError: the parts do not touch.
    """
    whole = shapely.Polygon()
    hulls = {id(p): shapely.MultiPoint(p.points[:, :2]).convex_hull for p in parts}
    for p in sorted(parts, key=lambda p: -hulls[id(p)].area):
        shapely.prepare(whole)
        if not shapely.contains_properly(whole, hulls[id(p)]):  # a dot or a fret adds nothing
            whole = shapely.union_all([whole, shadow(p)], grid_size=SNAP)
    if whole.geom_type != "Polygon":
        pieces = sorted(whole.geoms, key=lambda g: -g.area)
        if sum(p.area for p in pieces[1:]) > 0.5:
            raise ValueError(f"the projection has pieces of {[p.area for p in pieces[:4]]} mm²")
        whole = pieces[0]
    ring = shapely.Polygon(whole.exterior).simplify(SIMPLIFY)
    return shapely.orient_polygons(ring)


@lru_cache(maxsize=8)
def outline_of(body: Body) -> shapely.Polygon:
    """`projection` of a whole instrument; the union takes seconds, so it is kept."""
    return projection(body.parts)


def width_at(outline: shapely.Polygon, x: float) -> float:
    """Extent across the centreline at a station, mm."""
    low, high = outline.bounds[1] - 1, outline.bounds[3] + 1
    cut = shapely.intersection(outline, shapely.LineString([(x, low), (x, high)]))
    return float(cut.bounds[3] - cut.bounds[1])


def extreme_width(outline: shapely.Polygon, x0: float, x1: float, widest: bool) -> dict[str, float]:
    """The widest or narrowest station between two, in steps of 0.25 mm."""
    xs = np.arange(x0, x1, 0.25)
    widths = np.array([width_at(outline, x) for x in xs])
    k = int(np.argmax(widths) if widest else np.argmin(widths))
    return {"x": round(float(xs[k]), 3), "width": round(float(widths[k]), 4)}


def section(parts: Sequence[Part], x: float, names: Sequence[str]) -> list[list[float]]:
    """Cross-profile of the named parts at a station: convex outline of the cut, (y, z) mm."""
    points = []
    for p in parts:
        if p.name not in names:
            continue
        v = p.points[p.faces]
        for i in range(3):
            a, b = v[:, i], v[:, (i + 1) % 3]
            hit = (a[:, 0] - x) * (b[:, 0] - x) < 0
            t = ((x - a[hit, 0]) / (b[hit, 0] - a[hit, 0]))[:, None]
            points.append((a[hit] + t * (b[hit] - a[hit]))[:, 1:])
    if not points or not sum(len(p) for p in points):
        return []
    hull = shapely.MultiPoint(np.vstack(points)).convex_hull
    return [[round(float(y), 3), round(float(z), 3)] for y, z in hull.exterior.coords[:-1]]


def measured(body: Body) -> dict[str, object]:
    """Everything that truth states about the instrument, mm, in its own frame."""
    outline = outline_of(body)
    tail = outline.bounds[0]
    if abs(tail) > 0.01:
        raise ValueError(f"the tail is at {tail}, not 0")
    ring = np.array(outline.exterior.coords)[:-1]
    high = max(p.points[:, 2].max() for p in body.parts)
    s = body.stations
    widths: dict[str, dict[str, float]] = {}
    if "waist" in s:
        waist = extreme_width(outline, s["lower bout"], s["upper bout"], False)
        widths["lower bout"] = extreme_width(outline, 5.0, waist["x"], True)
        widths["waist"] = waist
        widths["upper bout"] = extreme_width(outline, waist["x"], s["body join"], True)
    else:  # a pear has one bout
        widths["lower bout"] = extreme_width(outline, 5.0, s["body join"], True)
    widths |= {
        "nut": {"x": round(s["nut"], 3), "width": round(width_at(outline, s["nut"]), 4)},
        "headstock": extreme_width(outline, s["nut"] + 5, outline.bounds[2], True),
    }
    return {
        "outline": [[round(float(x), 4), round(float(y), 4)] for x, y in ring],
        "length": round(float(outline.bounds[2] - outline.bounds[0]), 4),
        "width": round(float(outline.bounds[3] - outline.bounds[1]), 4),
        "height": round(float(high), 4),
        "area": round(float(outline.area), 3),
        "widths": widths,
        "heights": {
            p.name: [round(float(p.points[:, 2].min()), 3), round(float(p.points[:, 2].max()), 3)]
            for p in body.parts
            if p.name not in {"string", "post", "bush", "shaft", "collar"}
        },
        "facts": body.facts,
    }
