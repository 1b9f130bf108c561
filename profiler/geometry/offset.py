"""True offsets of plane shapes, what a shape sweeps on its way up, what a round cutter reaches."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]
Shape = Any  # a shapely polygon or several

#: chords to a quarter turn of a rounded corner: 0.001 mm off the arc at 20 mm
QUARTER_CHORDS = 64
#: no point of an offset moves more than this when needless ones are dropped, mm
THINNING_MM = 0.0002
#: leftovers of rounding are smaller than this, mm²
CRUMB_MM2 = 1e-6


def grown(shape: Shape, mm: float) -> Shape:
    """Every point within `mm` of the shape: its true offset, round at corners; below 0 inwards."""
    if abs(mm) <= THINNING_MM:
        return shape
    wide = shape.buffer(mm, quad_segs=QUARTER_CHORDS, join_style="round")
    return wide.simplify(THINNING_MM, preserve_topology=True)


def parts_of(shape: Shape) -> list[shapely.Polygon]:
    """Its polygons, the largest first, without crumbs."""
    parts = [
        p for p in shapely.get_parts(shape) if isinstance(p, shapely.Polygon) and p.area > CRUMB_MM2
    ]
    return sorted(parts, key=lambda p: -p.area)


def swept_up(shape: Shape, top: float) -> Shape:
    """What the shape passes through when it is lifted straight up (along the second axis) to `top`.

    Nothing of it overhangs: above each of its points all is free.
    """
    quads = []
    for part in parts_of(shape):
        ring = np.asarray(shapely.orient_polygons(part).exterior.coords)
        a, b = ring[:-1], ring[1:]
        lower = b[:, 0] - a[:, 0] > 1e-12  # anticlockwise: the underside runs to the right
        a, b = a[lower], b[lower]
        up = np.full(len(a), top)
        corners = np.stack(
            [a, b, np.column_stack([b[:, 0], up]), np.column_stack([a[:, 0], up])], axis=1
        )
        quads += list(shapely.polygons(corners))
    return shapely.union_all(quads) if quads else shapely.Polygon()


def opened_for(void: Shape, radius: float) -> tuple[Shape, Shape]:
    """A void that a round cutter can make, holding all of the wanted one.

    Inside corners tighter than the cutter are opened into the wood beside them.

    Args:
        void: open at the top, far above what is cut.
        radius: of the cutter, mm.

    Returns:
        the void as it is cut; what of the wanted one no cutter of that radius can reach, empty
        where all is well.
    """
    if radius <= THINNING_MM:
        return void, shapely.Polygon()
    # the cutter comes in from above, where all is free
    x0, _, x1, sky = (float(v) for v in void.bounds)
    above = shapely.box(x0 - 9 * radius, sky - 2.0, x1 + 9 * radius, sky + 9 * radius)
    core = void.union(above).buffer(-radius, quad_segs=QUARTER_CHORDS)
    made = core.buffer(radius, quad_segs=QUARTER_CHORDS)
    # rounding of the two steps leaves slivers along the whole edge
    corners = parts_of(void.difference(above).difference(made.buffer(0.01)))
    reliefs, missed = [], []
    for corner in corners:
        if corner.area < 1e-3:
            continue
        circle = shapely.minimum_bounding_circle(corner)
        reach = float(shapely.minimum_bounding_radius(corner))
        if reach > radius:
            missed.append(corner)
            continue
        # the disc is pushed towards the void until it only just covers the corner
        middle = np.asarray(circle.centroid.coords[0])
        inner = np.asarray(shapely.shortest_line(core, circle.centroid).coords[0])
        way = inner - middle
        far = float(np.hypot(*way))
        shift = min(far, radius - reach)
        at = middle + (way / far * shift if far > 1e-9 else 0.0)
        reliefs.append(shapely.Point(at).buffer(radius, quad_segs=QUARTER_CHORDS))
    # the wanted void is kept point for point where the cutter follows it
    return shapely.union_all([void, *reliefs]), shapely.union_all(missed)
