"""How high each point of a side view's silhouette lies: how far away is it?

A ray that grazes the silhouette says nothing of distance. The plan outline does: over each place
along the instrument it tells where the near and the far edge stand. What is seen along a ray's
horizontal direction lies between where that direction enters the plan and where it leaves it.

- Looking down on a flat top, its far rim shows highest; looking up at it, the near one.
- What stands above the rim (bridge, strings, fretboard, an arch) stands over the centreline.
- Looking down, the near lower edge shows lowest: of a flat back, of a headstock.
- A neck is rounder than the view is steep: its back shows over the centreline (the tangent lies
  a fraction of a millimetre beside it).
- A round back touches the sight somewhere between its near edge and the centreline, in its own
  shadow: nothing is said of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.geometry.lines import robust_line
from profiler.outline.heights import EdgeHeight
from profiler.outline.planview import PlanView, over_plan, parts_at, shares, sound, whole
from profiler.outline.tail_aside import FLOOR_MM, at_the_tail

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: a thing stands above the rim if it is seen higher by this, mm, or by this many of its doubts
_ABOVE_RIM_MM, _ABOVE_RIM_U = 0.9, 2.5
#: a flat back's near edge is on the bench within this, mm
_ON_BENCH_MM = 1.5
#: the rim's line: as many points, this near to it, mm, and no steeper
_LEAST_RIM_POINTS, _RIM_SLACK_MM, _STEEPEST_RIM = 20, 0.4, 0.1
#: a neck with its heel is no wider than this to either side, part of the nut's half width
_HEEL = 2.0
#: how near to a shoulder of the body a ray may be said to pass it, mm
_BESIDE_MM = 5.0
#: what hangs under a headstock (gears, bushes, a shadow) may be taken for its back: a guess, mm
_UNDER_HEAD_MM = 1.2
#: what stands over the centreline is this wide to either side, part of the nut's half width:
#: strings spread towards the bridge (common practice, no source)
_SPREAD = 1.4


@dataclass(frozen=True)
class Seen:
    """One side of the silhouette with its heights, ordered along x.

    Attributes:
        x: (N,) mm, instrument frame, where on the instrument it is.
        z: (N,) mm above the bench.
        depth: (N,) standard uncertainty of z from not knowing how far away it is, mm.
        edge: (N,) the same from the edge in the photo.
        along: (N,) mm, standard uncertainty of x from not knowing how far away it is.
        kind: (N,) 'rim', 'over', 'neck', 'head', 'tuners', 'button', 'back' or 'bench'.
        at: (N, 2) mm, the silhouette's point in the plane through the centreline.
        share: (N,) its distance from the camera over that of the centreline.
    """

    x: Array
    z: Array
    depth: Array
    edge: Array
    along: Array
    kind: NDArray[np.str_]
    at: Array
    share: Array


def floor_under(plan: PlanView, centre: Array, x: Array) -> Array:
    """(N,) mm, plane through the centreline: where the bench under the plan's near edge is seen.

    Nothing of an instrument that lies on the bench is seen below that. inf beside the plan, but for
    the place at the tail where a strap button may stand that no photo from above shows.
    """
    points = np.column_stack([x, np.zeros(len(x))])
    near, _, meets = shares(points, centre, whole(plan))
    low: Array = np.where(meets, centre[2] - centre[2] / np.maximum(near, 1e-6), np.inf)
    if not (plan.part == "button").any():
        low[~meets & at_the_tail(x, plan)] = FLOOR_MM
    return low


def upper_and_lower(
    contour: Array, sound: Mask, sigma: Array, step: float = 1.0
) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """The silhouette's highest and lowest sound point in each column.

    Args:
        contour: (N, 2) mm, plane through the centreline: x along, z up.
        sound: (N,) the edge was measured there, with a known print behind it.
        sigma: (N,) mm.

    Returns:
        upper and lower, each ((M, 2) points, (M,) sigma).
    """
    bins = np.floor(contour[:, 0] / step).astype(int)
    upper, lower = [], []
    for column in np.unique(bins):
        mine = np.flatnonzero(bins == column)
        middle = 0.5 * (contour[mine, 1].min() + contour[mine, 1].max())
        top = mine[np.argmax(contour[mine, 1])]
        low = mine[np.argmin(contour[mine, 1])]
        if sound[top] and contour[top, 1] > middle:
            upper.append(top)
        if sound[low] and contour[low, 1] < middle:
            lower.append(low)
    pick = [np.array(side, dtype=np.intp) for side in (upper, lower)]
    return (contour[pick[0]], sigma[pick[0]]), (contour[pick[1]], sigma[pick[1]])


def lifted_upper(points: Array, sigma: Array, centre: Array, plan: PlanView) -> Seen:
    """Heights of the upper silhouette.

    Args:
        points: (N, 2) mm, in the plane through the centreline.
        sigma: (N,) mm, of the edge there.
        centre: (3,) mm, instrument frame: the camera.
    """
    points, sigma = over_plan(points, sigma, centre, plan)
    looks_down = points[:, 1] < centre[2]
    near, far, _ = shares(points, centre, plan.core())
    share = np.clip(1.0, near, far)
    depth = np.zeros(len(points))
    kind = parts_at(_x_at(points, centre, share), plan)
    fall = points[:, 1] - centre[2]
    # per unit of share, the height changes by the ray's fall
    away = float(abs(centre[1]))
    beside = np.abs(fall) * _SPREAD * plan.half_neck / away
    edge_share = np.where(looks_down, far, near)
    on_rim_x = centre[0] + edge_share * (points[:, 0] - centre[0])
    seen_z = centre[2] + edge_share * fall
    body = kind == "body"
    rim_edge = _rim_seen(on_rim_x[body], seen_z[body], plan.rim)
    rim_z = rim_edge.at(on_rim_x)
    slack = np.maximum(_ABOVE_RIM_MM, _ABOVE_RIM_U * rim_edge.u_at(on_rim_x))
    rim = (kind == "body") & (seen_z < rim_z + slack)
    share[rim] = edge_share[rim]
    over = (kind == "body") & ~rim
    # the strings' or the bridge's far side shows from above, its near side from below
    half = 0.5 * _SPREAD * plan.half_neck / away
    share[over] += np.where(looks_down, half, -half)[over]
    loose = np.zeros(len(points))
    loose[over] = 2.0 * plan.half_neck / away / np.sqrt(3.0)
    depth[over] = beside[over] / np.sqrt(12.0)
    neck = kind == "neck"
    # seen from above a flat fretboard shows the strings on its far side, a round one its middle
    across = 0.5 * plan.half_neck / away
    share[neck] += np.where(looks_down, across, -across)[neck]
    depth[neck] = (np.abs(fall) * 2 * across)[neck] / np.sqrt(12.0)
    head = kind == "headstock"
    # posts, tuners and the face's edge take turns: anything between the centreline and the edge
    share[head] = (0.5 * (1.0 + edge_share))[head]
    depth[head] = (0.5 * np.abs(edge_share - 1.0) * np.abs(fall))[head]
    loose[head] = (0.5 * np.abs(edge_share - 1.0))[head]
    words = np.select(
        [rim, over, neck, head, kind == "button"], ["rim", "over", "neck", "head", "button"], "over"
    )
    return seen_at(points, sigma, centre, share, (depth, loose), words.astype(np.str_))


def lifted_lower(points: Array, sigma: Array, centre: Array, plan: PlanView) -> Seen:
    """Heights of the lower silhouette; arguments as for `lifted_upper`."""
    points, sigma = over_plan(points, sigma, centre, plan)
    near, far, _ = shares(points, centre, plan.core())
    outer_near, outer_far, _ = shares(points, centre, sound(shapely.Polygon(plan.outline)))
    looks_down = points[:, 1] < centre[2]
    fall = points[:, 1] - centre[2]
    edge_share = np.where(looks_down, near, far)
    outer = np.where(looks_down, outer_near, outer_far)
    share = np.clip(1.0, near, far)
    kind = parts_at(_x_at(points, centre, share), plan)
    depth = np.zeros(len(points))
    words = np.full(len(points), "back", dtype="<U8")
    body = kind == "body"
    on_edge = centre[2] + edge_share * fall
    bench = body & (np.abs(on_edge) < _ON_BENCH_MM)
    share[bench] = edge_share[bench]
    words[bench] = "bench"
    round_ = body & ~bench
    share[round_] = (0.5 * (1.0 + edge_share))[round_]
    depth[round_] = (0.5 * np.abs(edge_share - 1.0) * np.abs(fall))[round_] / np.sqrt(3.0)
    words[kind == "neck"] = "neck"
    head = kind == "headstock"
    tuner = head & (np.abs(outer - edge_share) * float(abs(centre[1])) > 2.0)
    share[head] = edge_share[head]
    share[tuner] = (0.5 * (outer + edge_share))[tuner]
    depth[tuner] = (0.5 * np.abs(outer - edge_share) * np.abs(fall))[tuner] / np.sqrt(3.0)
    loose = np.zeros(len(points))
    loose[tuner] = (0.5 * np.abs(outer - edge_share))[tuner] / np.sqrt(3.0)
    depth[head] = np.hypot(depth[head], _UNDER_HEAD_MM)
    words[head], words[tuner] = "head", "tuners"
    words[kind == "button"] = "button"
    # a ray past a shoulder of the body shows the body, not the neck that is over the centreline
    enters, leaves, _ = shares(points, centre, plan.core().buffer(_BESIDE_MM))
    aside = np.maximum(1.0 - enters, leaves - 1.0) * float(abs(centre[1]))
    shown = (kind != "neck") | (aside < _HEEL * plan.half_neck)
    points, sigma, share, words, body = (v[shown] for v in (points, sigma, share, words, body))
    depth, loose = depth[shown], loose[shown]
    if not plan.flat_back:  # between a round back and the bench it is too dark to tell
        lit = ~body
        points, sigma, share, words = (v[lit] for v in (points, sigma, share, words))
        depth, loose = depth[lit], loose[lit]
    return seen_at(points, sigma, centre, share, (depth, loose), words.astype(np.str_))


def _x_at(points: Array, centre: Array, share: Array) -> Array:
    """(N,) mm along the instrument, at a share of the distance to the centreline."""
    at: Array = centre[0] + share * (points[:, 0] - centre[0])
    return at


def _rim_seen(x: Array, z: Array, rim: EdgeHeight) -> EdgeHeight:
    """The rim's line as most of the body's columns show it, near to what was known from above.

    From above one height is known best, not how the rim falls along the body. Bridge and strings
    make lines too; they lie too far above it.
    """
    if len(x) < _LEAST_RIM_POINTS:
        return rim
    room = max(_ABOVE_RIM_MM, 2.0 * rim.u)
    slope, _, near = robust_line(x, z, _RIM_SLACK_MM, -1, (rim.x0, rim.z0, room))
    if near.sum() < _LEAST_RIM_POINTS or abs(slope) > _STEEPEST_RIM:
        return rim
    x0 = float(x[near].mean())
    return replace(rim, x0=x0, z0=float(z[near].mean()), slope=slope, u=0.3, u_slope=0.001)


def seen_at(
    points: Array,
    sigma: Array,
    centre: Array,
    share: Array,
    doubt: tuple[Array, Array],
    words: NDArray[np.str_],
) -> Seen:
    """With heights; `doubt` is that of the height, mm, and that of the share."""
    x = _x_at(points, centre, share)
    z = centre[2] + share * (points[:, 1] - centre[2])
    order = np.argsort(x, kind="stable")
    return Seen(
        x[order], z[order], doubt[0][order], (sigma * share)[order],
        (doubt[1] * np.abs(points[:, 0] - centre[0]))[order], words[order], points[order],
        share[order],
    )  # fmt: skip
