"""From the heights that a side view shows to the numbers that a case needs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.lines import robust_line
from profiler.instrument.record import Quantity, SideProfile, missing
from profiler.instrument.strings import ALIKE_STATIONS, straighten
from profiler.outline.elevation import Seen
from profiler.outline.heights import EdgeHeight
from profiler.outline.planview import PlanView

Array = NDArray[np.float64]

#: coverage factor for 95 % (JCGM 100:2008, 6.3.3, many degrees of freedom)
_K95 = 2.0
#: distance of the stations along the profile, mm
STEP_MM = 2.0
#: a station is known if something was seen this near to it, mm
_REACH_MM = 1.6
#: where an edge lies is seen a little differently under each light, mm (seen on rendered photos)
_EDGE_MM = 0.15
#: of one kind more than a slip is seen at a station, points and part of all there
_LEAST_OF_KIND, _SHARE_OF_KIND = 2, 0.25
#: the thickest place counts if so many stations about it agree with it, mm
_AGREE_MM, _LEAST_AGREEING = 1.5, 2
#: the nut's top is looked for so far before the headstock, mm
_NUT_MM = 15.0
#: what is told of the upper and the lower edge. The rest (a bridge's place along the instrument,
#: posts and strings over a headstock, its back among its tuners, where the back lies on the bench)
#: was off by more than its ± on rendered photos, and is left out until it is seen well
_TOLD_ABOVE = frozenset({"strings", "neck", "rim"})
_TOLD_BELOW = frozenset({"neck"})
_NOT_YET = (
    "a gap of a millimetre or two under the back looks like its shadow: slide a slip of paper under"
    " it to find where it rests"
)
_NO_BACK = (
    "the back's edge was not seen on the bench from the side: a round back touches it out of sight"
)
#: a gap under the back that looks like its shadow, mm, standard (a guess from rendered photos);
#: stations that have to show the back's edge
_GAP_MM, _LEAST_ON_BENCH = 1.25, 20
_NO_FACE = "the side view shows no bare line of a headstock's face: lay a card on it"
_NO_BUTTON = (
    "no strap button is seen clear of the body. If there is one, add a photo from beside the tail,"
    " at the height of the strings"
)
#: wood is planed this flat and a face's edge rounded this evenly, degrees, standard (a guess)
_PLANED_DEG = 0.3
#: where the axis of a turned button lies between its edges, mm, standard (a guess)
_TURNED_MM = 0.3
#: how far strings in their slots stand from the nut's top (common practice, no source), mm
_IN_SLOT_MM = 0.4


@dataclass(frozen=True)
class Doubted:
    """One side of the silhouette, and how sure the camera's place makes it.

    Attributes:
        seen: see there.
        place: (N,) mm, standard uncertainty of z from camera, lens and sheets.
        steps: (K, N) mm, what each independent doubt of these does to z, as far as it tilts things.
        along: mm, standard uncertainty of x from camera, lens and sheets, at most.
    """

    seen: Seen
    place: Array
    steps: Array = field(default_factory=lambda: np.zeros((0, 0)))
    along: float = 0.0

    @property
    def u(self) -> Array:
        """(N,) mm, standard uncertainty of z."""
        total: Array = np.sqrt(self.place**2 + self.seen.depth**2 + self.seen.edge**2 + _EDGE_MM**2)
        return total


def side_profile(
    photo: str,
    upper: Doubted,
    lower: Doubted,
    plan: PlanView,
    face: Doubted | None = None,
    button: Doubted | None = None,
) -> SideProfile:
    """The profile along the centreline and what follows from it.

    Args:
        photo: name of the side view.
        upper, lower: of the silhouette, ordered along x.
        plan: the plan outline.
        face: bare places of the headstock's face, None where none were seen.
        button: axis of the strap button's end, None where it was not seen.
    """
    x = np.arange(
        STEP_MM * np.floor(plan.outline[:, 0].min() / STEP_MM),
        plan.outline[:, 0].max() + STEP_MM / 2,
        STEP_MM,
    )
    top, top_u, top_along, top_of = _stations(x, upper, highest=True)
    low, low_u, low_along, low_of = _stations(x, lower, highest=False)
    # how high the highest is does not depend on where along the instrument it stands
    straighten(x, top, top_u, top_of, plan.reach("headstock")[0])
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
        rest=_rest(lower, photo),
        tilt=missing(_NO_FACE) if face is None else _tilt(face, photo),
        face=missing(_NO_FACE) if face is None else _face(face, photo),
        button=missing(_NO_BUTTON) if button is None else _button(button, photo),
    )


def _rest(lower: Doubted, photo: str) -> Quantity:
    """How high the back's edge is seen above the bench, over all of it that looks to lie on it."""
    on_bench = lower.seen.kind == "bench"
    if on_bench.sum() < _LEAST_ON_BENCH:
        return missing(_NO_BACK)
    u = float(_K95 * np.hypot(np.median(lower.u[on_bench]), _GAP_MM))
    return Quantity(
        float(np.median(lower.seen.z[on_bench])), u, mostly=f"the shadow under it in {photo}"
    )


def _tilt(face: Doubted, photo: str) -> Quantity:
    """How far a face falls away; what tilts the camera tilts it as well."""
    x, z = face.seen.x, face.seen.z
    arm = x - x.mean()
    slope = float(arm @ z / (arm @ arm))
    scatter = float(np.std(z - z.mean() - slope * arm))
    own = scatter * np.sqrt(ALIKE_STATIONS / (arm @ arm))
    leant = face.steps @ arm / (arm @ arm) if len(face.steps) else np.zeros(1)
    u = float(np.degrees(np.hypot(own, np.sqrt((leant**2).sum())) / (1 + slope**2)))
    return Quantity(
        -float(np.degrees(np.arctan(slope))),
        float(_K95 * np.hypot(u, _PLANED_DEG)),
        mostly=f"the side view {photo}",
    )


def _face(face: Doubted, photo: str) -> Quantity:
    """Its height where most of it was seen."""
    u = float(_K95 * np.median(face.u))
    return Quantity(
        float(face.seen.z.mean()), u, mostly=f"the side view {photo}", x=float(face.seen.x.mean())
    )


def _button(axis: Doubted, photo: str) -> Quantity:
    u = float(_K95 * np.hypot(np.median(axis.u), _TURNED_MM))
    return Quantity(
        float(np.median(axis.seen.z)),
        u,
        mostly=f"the side view {photo}",
        x=float(axis.seen.x.min()),
    )


def joined(first: SideProfile, other: SideProfile) -> SideProfile:
    """One profile of two photos: what the first does not tell is taken from the other, and of a
    tilt or a button that both tell the surer."""
    above = np.isnan(first.upper)
    below = np.isnan(first.lower)
    tilt = _the_surer(first.tilt, other.tilt)
    return replace(
        first,
        upper=np.where(above, other.upper, first.upper),
        upper_u95=np.where(above, other.upper_u95, first.upper_u95),
        upper_of=tuple(np.where(above, other.upper_of, first.upper_of).tolist()),
        lower=np.where(below, other.lower, first.lower),
        lower_u95=np.where(below, other.lower_u95, first.lower_u95),
        lower_of=tuple(np.where(below, other.lower_of, first.lower_of).tolist()),
        # the highest place of a part is no more than a lower bound: the whole view's goes first
        thickest=first.thickest or other.thickest,
        rest=_the_surer(first.rest, other.rest),
        tilt=tilt,
        face=other.face if tilt is other.tilt else first.face,
        button=_the_surer(first.button, other.button),
        also=(*first.also, other.photo),
    )


def _the_surer(one: Quantity, two: Quantity) -> Quantity:
    if one.u95 is None or two.u95 is None:
        return one or two
    return two if two.u95 < one.u95 else one


def at_odds(first: SideProfile, other: SideProfile) -> tuple[str, ...]:
    """What two photos tell so differently that both ± together do not hold it, in words."""
    told = {
        "the headstock's tilt": (first.tilt, other.tilt),
        "the strap button's height": (first.button, other.button),
    }
    return tuple(
        what
        for what, (one, two) in told.items()
        if one.value is not None
        and two.value is not None
        and abs(one.value - two.value) > np.hypot(one.u95 or 0.0, two.u95 or 0.0)
    )


def face_edge(side: SideProfile) -> EdgeHeight | None:
    """The headstock's face as an edge along the instrument; None where it was not seen."""
    tilt, face = side.tilt, side.face
    if tilt.value is None or face.value is None or face.x is None:
        return None
    slope = -float(np.tan(np.radians(tilt.value)))
    u_slope = float(np.radians(tilt.u95 or 0.0)) * (1 + slope**2) / _K95
    u = (face.u95 or 0.0) / _K95
    source = f"the side view {side.photo}"
    return EdgeHeight(face.x, face.value, slope, u, u_slope, source, True)


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
        near = _outermost_kind(near, seen, highest)
        order = near[np.argsort(seen.z[near])]
        middle = order[len(order) // 2 if highest else (len(order) - 1) // 2]
        # how far along it stands is not sure either: what is beside it may be here
        about = np.abs(seen.x - at) < _REACH_MM + _K95 * seen.along[middle]
        z[i], beside[i] = seen.z[middle], float(np.ptp(seen.z[about])) / 4
        u[i] = float(np.hypot(doubt[middle], np.ptp(seen.z[near]) / 6))
        of[i] = str(seen.kind[middle])
    return z, u, beside, of


def _outermost_kind(near: NDArray[np.intp], seen: Seen, highest: bool) -> NDArray[np.intp]:
    """Of points about a station those of the kind that reaches furthest up, or down.

    A bridge hides the rim behind it, but not what is nearer to the camera or further from it: rim
    on either side of it is told to lie at the same stations.
    """
    kinds = seen.kind[near]
    there, counts = np.unique(kinds, return_counts=True)
    there = there[counts >= max(_LEAST_OF_KIND, _SHARE_OF_KIND * len(near))]
    if len(there) < 2:
        return near
    middles = [float(np.median(seen.z[near[kinds == kind]])) for kind in there]
    furthest = there[int(np.argmax(middles) if highest else np.argmin(middles))]
    mine: NDArray[np.intp] = near[kinds == furthest]
    return mine


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


def as_edges(side: SideProfile, upper: Doubted, flat_back: bool) -> dict[str, EdgeHeight]:
    """What the profile says of the heights that the outline is lifted to.

    Returns:
        'body' to its edge, where it was seen well and the back is flat; 'headstock' to its face;
        'button' to the middle of its end.
    """
    edges: dict[str, EdgeHeight] = {}
    source = f"the side view {side.photo}"
    if side.button.value is not None and side.button.u95 is not None:
        u = side.button.u95 / _K95
        edges["button"] = EdgeHeight(0.0, side.button.value, 0.0, u, 0.0, source, True)
    if (face := face_edge(side)) is not None:
        edges["headstock"] = face
    if not flat_back:
        return edges
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
            edges["body"] = EdgeHeight(x0, z0, slope, float(np.median(u)), u_slope, source, True)
    return edges
