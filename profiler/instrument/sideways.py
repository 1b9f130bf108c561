"""From the heights that a side view shows to the numbers that a case needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.instrument.record import Quantity, SideProfile, missing
from profiler.outline.elevation import PlanView, Seen, robust_line
from profiler.outline.heights import EdgeHeight

Array = NDArray[np.float64]

#: coverage factor for 95 % (JCGM 100:2008, 6.3.3, many degrees of freedom)
_K95 = 2.0
#: distance of the stations along the profile, mm
STEP_MM = 2.0
#: a station is known if something was seen this near to it, mm
_REACH_MM = 1.6
#: where an edge lies is seen a little differently under each light, mm (seen on rendered photos)
_EDGE_MM = 0.15
#: the thickest place counts if so many stations about it agree with it, mm
_AGREE_MM, _LEAST_AGREEING = 1.5, 2
#: the nut's top is looked for so far before the headstock, mm
_NUT_MM = 15.0
#: what is told of the upper and the lower edge. The rest (a bridge's place along the instrument,
#: the headstock's back among its tuners, the strap button, where the back lies on the bench) was
#: off by more than its ± on rendered photos, and is left out until it is seen well
_TOLD_ABOVE = frozenset({"strings", "neck", "head", "rim"})
_TOLD_BELOW = frozenset({"neck"})
_NOT_YET = "the side view does not tell it well enough: use calipers"
#: strings are looked for so far headward of the highest place, mm; stations that make a line, how
#: near they lie to it, mm, and how it may fall
_STRINGS_MM, _LEAST_ON_LINE, _STRING_SLACK_MM, _STEEPEST_STRING = 120.0, 12, 0.5, 0.2
#: a slip may lie this far before the line's first station, mm; more stations are none
_SLIP_MM, _MOST_SLIPS = 12.0, 6
#: so many stations along a string share their error
_ALIKE_STATIONS = 4.0
#: how far strings in their slots stand from the nut's top (common practice, no source), mm
_IN_SLOT_MM = 0.4


@dataclass(frozen=True)
class Doubted:
    """One side of the silhouette, and how sure the camera's place makes it.

    Attributes:
        seen: see there.
        place: (N,) mm, standard uncertainty of z from camera, lens and sheets.
    """

    seen: Seen
    place: Array

    @property
    def u(self) -> Array:
        """(N,) mm, standard uncertainty of z."""
        total: Array = np.sqrt(self.place**2 + self.seen.depth**2 + self.seen.edge**2 + _EDGE_MM**2)
        return total


def side_profile(photo: str, upper: Doubted, lower: Doubted, plan: PlanView) -> SideProfile:
    """The profile along the centreline and what follows from it.

    Args:
        photo: name of the side view.
        upper, lower: of the silhouette, ordered along x.
        plan: the plan outline.
    """
    x = np.arange(
        STEP_MM * np.floor(plan.outline[:, 0].min() / STEP_MM),
        plan.outline[:, 0].max() + STEP_MM / 2,
        STEP_MM,
    )
    top, top_u, top_along, top_of = _stations(x, upper, highest=True)
    low, low_u, low_along, low_of = _stations(x, lower, highest=False)
    # how high the highest is does not depend on where along the instrument it stands
    _outvote(x, top, top_u, top_of)
    thickest = _thickest(x, top, top_u)
    strings = _lay_strings(x, top, top_u, top_of, thickest, plan)
    top_u = np.hypot(top_u, np.where(strings, 0.0, top_along))
    low_u = np.hypot(low_u, low_along)
    _forget(top, top_u, top_of, _TOLD_ABOVE)
    first, last = plan.reach("body")
    for i in np.flatnonzero((x < first + _REACH_MM) | (x > last - _REACH_MM)):
        if top_of[i] == "rim":  # here it falls away: a hair's breadth along is all of its height
            top[i], top_u[i], top_of[i] = np.nan, np.nan, ""
    _forget(low, low_u, low_of, _TOLD_BELOW)
    return SideProfile(
        photo,
        x,
        top,
        _K95 * top_u,
        low,
        _K95 * low_u,
        tuple(top_of),
        tuple(low_of),
        thickest,
        rests_from=missing(_NOT_YET),
        rests_to=missing(_NOT_YET),
        rest=missing(_NOT_YET),
        tilt=missing(_NOT_YET),
        button=missing(_NOT_YET),
    )


def _forget(z: Array, u: Array, of: list[str], told: frozenset[str]) -> None:
    """Leave out what is seen too badly for its ± to be believed."""
    for i, what in enumerate(of):
        if what not in told:
            z[i], u[i], of[i] = np.nan, np.nan, ""


def _stations(x: Array, side: Doubted, highest: bool) -> tuple[Array, Array, Array, list[str]]:
    """At each station the middle one of what was seen about it: a single slip is outvoted.

    Returns:
        height, its standard uncertainty where it stands, what not knowing how far along it stands
        adds to that, and what it is.
    """
    z, u, beside = (np.full(len(x), np.nan) for _ in range(3))
    of = [""] * len(x)
    doubt = side.u
    seen = side.seen
    for i, at in enumerate(x):
        near = np.flatnonzero(np.abs(seen.x - at) < _REACH_MM)
        if len(near) < 2:
            continue
        order = near[np.argsort(seen.z[near])]
        middle = order[len(order) // 2 if highest else (len(order) - 1) // 2]
        # how far along it stands is not sure either: what is beside it may be here
        about = np.abs(seen.x - at) < _REACH_MM + _K95 * seen.along[middle]
        z[i], beside[i] = seen.z[middle], float(np.ptp(seen.z[about])) / 4
        u[i] = float(np.hypot(doubt[middle], np.ptp(seen.z[near]) / 6))
        of[i] = str(seen.kind[middle])
    return z, u, beside, of


def _outvote(x: Array, top: Array, u: Array, of: list[str]) -> None:
    """Where strings run straight on from a bridge, single slips above their line are left out.

    The thickest place is the highest of many that are each a little off, which is more than the
    truth; the line through all of them is not.
    """
    over = np.flatnonzero((np.array(of) == "over") & np.isfinite(top))
    if len(over) < _LEAST_ON_LINE:
        return
    start = over[int(np.argmax(top[over]))]
    strings = over[(x[over] >= x[start]) & (x[over] <= x[start] + _STRINGS_MM)]
    if len(strings) < _LEAST_ON_LINE:
        return
    slope, height, near = robust_line(x[strings], top[strings], _STRING_SLACK_MM)
    if near.sum() < max(_LEAST_ON_LINE, 0.5 * len(strings)) or not -_STEEPEST_STRING < slope <= 0:
        return
    # a bridge that truly stands above its strings does so on more than a few stations
    begins = x[strings[near]].min() - _SLIP_MM
    slips = over[(x[over] >= begins) & (x[over] <= x[strings[near]].max())]
    slips = slips[top[slips] > height + slope * x[slips] + _STRING_SLACK_MM / 2]
    if len(slips) <= _MOST_SLIPS:
        top[slips] = height + slope * x[slips]
        # the line is as sure as what all of its stations share, and what their scatter leaves of
        # itself; neighbours share theirs
        mine = strings[near]
        left = float(np.std(top[mine] - height - slope * x[mine]))
        shared = np.hypot(u[mine].min(), left / np.sqrt(max(len(mine) / _ALIKE_STATIONS, 1.0)))
        along = np.union1d(mine, slips)
        u[along] = np.minimum(u[along], shared)


def _thickest(x: Array, top: Array, u: Array) -> Quantity:
    known = np.isfinite(top)
    if known.sum() < 5:
        return missing("too little of the upper edge was seen from the side")
    for i in np.argsort(-np.where(known, top, -np.inf))[: int(known.sum())]:
        near = known & (np.abs(x - x[i]) <= 2 * STEP_MM)
        if (np.abs(top[near] - top[i]) < _AGREE_MM).sum() > _LEAST_AGREEING:
            return Quantity(
                float(top[i]),
                float(_K95 * u[i]),
                mostly="how high the side view's camera stood",
                x=float(x[i]),
            )
    return missing("the upper edge seen from the side is too ragged")


def _lay_strings(
    x: Array, top: Array, u: Array, of: list[str], thickest: Quantity, plan: PlanView
) -> NDArray[np.bool_]:
    """Strings run straight from the thickest place, where that is a bridge, to the nut.

    Thin as they are, they are not always seen; what lies below them is not what a case must clear.

    Returns:
        (N,) where they were laid.
    """
    laid = np.zeros(len(x), dtype=bool)
    head = plan.reach("headstock")[0]
    if thickest.value is None or thickest.x is None or not np.isfinite(head):
        return laid
    start = int(np.argmin(np.abs(x - thickest.x)))
    if of[start] != "over" or head - x[start] < 50.0:
        return laid
    about = np.flatnonzero((x > head - _NUT_MM) & (x < head + 4.0) & np.isfinite(top))
    between = np.flatnonzero((x > x[start]) & (x < head))
    if not len(about):
        for i in between:  # strings may run above the rim that is seen
            if of[i] == "rim":
                top[i], u[i], of[i] = np.nan, np.nan, ""
        return laid
    end = int(about[np.argmax(top[about])])
    for i in between:
        t = (x[i] - x[start]) / (x[end] - x[start])
        if t >= 1.0:
            continue
        line = float(top[start] * (1 - t) + top[end] * t)
        doubt = float(np.hypot(np.hypot((1 - t) * u[start], t * u[end]), t * _IN_SLOT_MM))
        if not top[i] > line:
            top[i], u[i], of[i], laid[i] = line, doubt, "strings", True
    return laid


def as_edges(side: SideProfile, upper: Doubted) -> dict[str, EdgeHeight]:
    """What the profile says of the heights that the outline is lifted to.

    Returns:
        'body' to its edge, where it was seen well.
    """
    edges: dict[str, EdgeHeight] = {}
    seen = upper.seen
    rim = seen.kind == "rim"
    if thickest_x := side.thickest.x:
        rim &= seen.x < thickest_x
    x, z = seen.x[rim], seen.z[rim]
    if len(x) > 25:
        x, z, u = x[::2], z[::2], upper.u[rim]
        slope, _, near = robust_line(x, z, 0.6)
        if near.sum() > 0.6 * len(x) and abs(slope) < 0.1:
            x0 = float(x[near].mean())
            z0 = float(z[near].mean())
            u_slope = 0.4 / max(float(np.ptp(x[near])), 1.0)
            edges["body"] = EdgeHeight(
                x0, z0, slope, float(np.median(u)), u_slope, f"the side view {side.photo}", True
            )
    return edges
