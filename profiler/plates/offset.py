"""The true offset of an outline, and which runs of it come from doubtful stretches."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.drawing.model import Point
from profiler.errors import OutlineError, RequestError
from profiler.geometry.offset import THINNING_MM, grown, parts_of
from profiler.instrument.record import Stretch

Array = NDArray[np.float64]

#: a clearance above this is a slip of the unit
LARGEST_MM = 100.0
#: longest step along the offset when doubtful runs are looked for, mm
STEP_MM = 1.0


@dataclass(frozen=True)
class Run:
    """A piece of the offset outline; `doubt` is the doubtful stretch from 0, None if sound."""

    points: tuple[Point, ...]
    doubt: int | None


def outline_polygon(outline: Array) -> shapely.Polygon:
    """(N, 2) mm, closed, to a valid polygon.

    Raises:
        OutlineError: it encloses nothing, or crosses itself so much that no one shape is left.
    """
    if len(outline) < 3 or not np.isfinite(outline).all():
        raise OutlineError("The measured outline has no shape. Measure the instrument again.")
    polygon = shapely.Polygon(outline)
    if not polygon.is_valid:
        parts = shapely.get_parts(shapely.make_valid(polygon))
        polygons = [p for p in parts if isinstance(p, shapely.Polygon)]
        whole = sum(p.area for p in polygons)
        polygon = max(polygons, key=lambda p: p.area, default=shapely.Polygon())
        if polygon.area < 0.99 * whole or polygon.is_empty:
            raise OutlineError("The measured outline crosses itself. Measure the instrument again.")
    if polygon.area < 1.0:
        raise OutlineError("The measured outline encloses nothing. Measure the instrument again.")
    return polygon


def offset_outline(outline: Array, clearance_mm: float) -> tuple[Point, ...]:
    """Every point at `clearance_mm` from the outline, on its outer side; round at corners.

    Args:
        outline: (N, 2) mm, closed, first point not repeated.
        clearance_mm: from 0.

    Returns:
        the ring, anticlockwise, first point not repeated. Places that the clearance closes off
        become solid.

    Raises:
        RequestError: a clearance that makes no sense.
        OutlineError: as `outline_polygon`.
    """
    if not 0.0 <= clearance_mm <= LARGEST_MM:
        raise RequestError(
            f"A clearance of {clearance_mm:g} mm makes no sense: give 0 to {LARGEST_MM:.0f} mm."
        )
    polygon = outline_polygon(outline)
    if clearance_mm > THINNING_MM:
        # One shape grown is one shape; a crumb beside it can only come of rounding.
        polygon = parts_of(grown(polygon, clearance_mm))[0]
    ring = shapely.Polygon(polygon.exterior).normalize().exterior
    points = np.asarray(ring.coords)[:-1]
    return as_points(points[::-1] if not ring.is_ccw else points)


def as_points(array: Array) -> tuple[Point, ...]:
    """(N, 2) as plain pairs."""
    return tuple((float(x), float(y)) for x, y in array)


def doubtful_runs(
    ring: tuple[Point, ...], outline: Array, stretches: tuple[Stretch, ...]
) -> list[Run]:
    """The ring cut where sound and doubtful parts of the outline meet.

    Args:
        ring: the offset, closed, first point not repeated, mm.
        outline: (N, 2) mm, what it was made from.
        stretches: runs of outline points.

    Returns:
        open chains that together go once round the ring; one closed chain (its first point
        repeated at the end) where there is nothing to tell apart.
    """
    closed = shapely.LineString([*ring, ring[0]])
    dense = np.asarray(closed.segmentize(STEP_MM).coords)
    marks = _doubt_of(dense[:-1], outline, stretches)
    if (marks == marks[0]).all():
        return [Run(as_points(dense), _name(int(marks[0])))]
    start = int(np.flatnonzero(marks != np.roll(marks, 1))[0])
    order = np.roll(np.arange(len(marks)), -start)
    runs = []
    for mark, group in groupby(order, key=lambda i: int(marks[i])):
        indices = list(group)
        indices.append((indices[-1] + 1) % len(marks))  # up to where the next run starts
        runs.append(Run(as_points(dense[indices]), _name(mark)))
    return runs


def _doubt_of(points: Array, outline: Array, stretches: tuple[Stretch, ...]) -> NDArray[np.intp]:
    """(M,) for each point, the stretch that the outline nearest to it belongs to, -1 for none."""
    count = len(outline)
    # (count,) the segment from outline point i to i + 1
    of_segment = np.full(count, -1, dtype=np.intp)
    if not stretches:
        return np.full(len(points), -1, dtype=np.intp)
    for number, stretch in enumerate(stretches):
        length = (stretch.end - stretch.start) % count
        of_segment[(stretch.start + np.arange(max(1, length))) % count] = number
    segments = shapely.linestrings(np.stack([outline, np.roll(outline, -1, axis=0)], axis=1))
    found: NDArray[np.intp] = of_segment[shapely.STRtree(segments).nearest(shapely.points(points))]
    return found


def _name(mark: int) -> int | None:
    return None if mark < 0 else mark
