"""The plan outline, as a view from the side needs it: how far away along a ray is what?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.outline.heights import EdgeHeight
from profiler.outline.side_button import SIDE_BUTTON

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: the plan outline may be off by this, mm
_PLAN_SLACK_MM = 1.5
#: a ray past the body keeps so far off it, mm
_CLEAR_MM = 1.0


@dataclass(frozen=True)
class PlanView:
    """The plan outline as a side view needs it; instrument frame, mm.

    Attributes:
        outline: (M, 2) closed.
        part: (M,) which part each point belongs to.
        rim: the body's upper rim.
        flat_back: the back's edge lies on the bench, so far as the photos from above tell.
        half_neck: half the width over which strings and bridge spread.
    """

    outline: Array
    part: NDArray[np.str_]
    rim: EdgeHeight
    flat_back: bool
    half_neck: float

    def reach(self, part: str) -> tuple[float, float]:
        """From and to, along x; empty (inf, -inf) where there is no such part."""
        mine = self.outline[self.part == part, 0]
        return (float(mine.min()), float(mine.max())) if len(mine) else (np.inf, -np.inf)

    def core(self) -> shapely.Polygon:
        """The outline without tuners and strap button."""
        sides = []
        solid = ~np.isin(self.part, ("tuners", "button", SIDE_BUTTON))
        # no further than the body: beside a strap button there is no rim
        x = np.arange(self.outline[solid, 0].min(), self.outline[solid, 0].max(), 1.0)
        middle = np.median(self.outline[:, 1])
        for low in (True, False):
            mine = solid & ((self.outline[:, 1] < middle) == low)
            at, y = self.outline[mine, 0], self.outline[mine, 1]
            bins = np.round(at).astype(int)
            keys = np.unique(bins)
            edge = np.array([(y[bins == k].min() if low else y[bins == k].max()) for k in keys])
            sides.append(np.column_stack([x, np.interp(x, keys, edge)]))
        ring = np.concatenate([sides[0], sides[1][::-1]])
        return sound(shapely.Polygon(ring))


def whole(plan: PlanView) -> shapely.Polygon:
    """All of it, as far out as it may be."""
    return sound(shapely.Polygon(plan.outline)).buffer(_PLAN_SLACK_MM)


def over_plan(points: Array, sigma: Array, centre: Array, plan: PlanView) -> tuple[Array, Array]:
    """The points that the plan has something for."""
    meets = shares(points, centre, whole(plan))[2]
    return points[meets], sigma[meets]


def parts_at(x: Array, plan: PlanView) -> NDArray[np.str_]:
    """(N,) the part over the centreline at each x."""
    kind = np.full(len(x), "body", dtype="<U9")
    body, neck, head = plan.reach("body"), plan.reach("neck"), plan.reach("headstock")
    kind[(x < body[0]) & (plan.reach("button")[1] > -np.inf)] = "button"
    if np.isfinite(neck[0]):
        kind[x > max(body[1], neck[0])] = "neck"
    if np.isfinite(head[0]):
        kind[x > head[0]] = "headstock"
    return kind


def shares(points: Array, centre: Array, plan: shapely.Polygon) -> tuple[Array, Array, Mask]:
    """Where each ray's horizontal direction enters and leaves a plan: distance over that of the
    centreline; 1 and 1, and False, where it misses it."""
    near, far = np.ones(len(points)), np.ones(len(points))
    meets = np.zeros(len(points), dtype=bool)
    start = centre[:2]
    ways = np.column_stack([points[:, 0], np.zeros(len(points))]) - start
    lines = shapely.linestrings(np.stack([np.broadcast_to(start, ways.shape), start + 2 * ways], 1))
    for i, cut in enumerate(shapely.intersection(lines, plan)):
        if cut.is_empty:
            continue
        at = shapely.get_coordinates(cut)
        along = (at - start) @ ways[i] / float(ways[i] @ ways[i])
        near[i], far[i], meets[i] = along.min(), along.max(), True
    return near, far, meets


def past_the_body(points: Array, centre: Array, plan: PlanView) -> Mask:
    """(N,) whether the ray to each place in the plane through the centreline keeps off the body."""
    return ~shares(points, centre, plan.core().buffer(_CLEAR_MM))[2]


def sound(polygon: shapely.Polygon) -> shapely.Polygon:
    """The polygon, or the largest valid piece of one that crosses itself."""
    if polygon.is_valid:
        return polygon
    fixed = polygon.buffer(0)
    return max(fixed.geoms, key=lambda g: g.area) if fixed.geom_type != "Polygon" else fixed
