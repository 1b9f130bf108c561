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

#: faces from which joining by area pays off
MANY = 4000


def shadow(part: Part) -> shapely.Geometry:
    """The vertical projection of one part."""
    corners = part.points[part.faces][:, :, :2]
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = np.abs(e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0])
    if len(corners) > MANY:
        quick = _height_field(corners)
        if quick is not None:
            return quick
    keep = corners[area > 1e-9]
    return shapely.union_all(_triangles(keep), grid_size=SNAP)


def _triangles(corners: Array) -> NDArray[np.object_]:
    closed = np.concatenate([corners, corners[:, :1]], axis=1)
    return np.asarray(shapely.polygons(closed), dtype=object)


def _height_field(corners: Array) -> shapely.Geometry | None:
    """The same for a large mesh whose upward faces do not overlap; None if they do.

    Where they do not, they cover all that the closed mesh covers, and joining them is quick.
    """
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    signed = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    up = corners[signed > 1e-9]
    try:
        joined = shapely.coverage_union_all(_triangles(up))
    except shapely.errors.GEOSException:  # faces that overlap
        return None
    if not joined.is_valid or abs(joined.area - signed[signed > 1e-9].sum() / 2) > 1e-3:
        return None
    return joined


def projection(parts: Sequence[Part]) -> shapely.Polygon:
    """The whole instrument's vertical projection, without holes.

    Raises:
        ValueError: the parts do not touch.
    """
    whole = shapely.union_all([shadow(p) for p in parts], grid_size=SNAP)
    if whole.geom_type != "Polygon":
        pieces = sorted(whole.geoms, key=lambda g: -g.area)
        if sum(p.area for p in pieces[1:]) > 0.5:
            raise ValueError(f"the projection has pieces of {[p.area for p in pieces[:4]]} mm²")
        whole = pieces[0]
    ring = shapely.Polygon(whole.exterior).simplify(SIMPLIFY)
    return shapely.orient_polygons(ring)


@lru_cache(maxsize=2)
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
