"""Stretches where the silhouette does not show the rim, mended by seeking the rim itself.

Good points, where an edge was measured beside bare tint and its rim is told, are trusted. What
lies between them is expected to go on smoothly in the plan; along the way the rim is sought in
the photo by its look. Where it is found, it stands in for the silhouette.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import binary_opening, gaussian_filter1d, median_filter
from scipy.spatial import cKDTree
from shapely import LineString, distance, points

from profiler.cores import on_cores
from profiler.geometry.curves import outward_normals
from profiler.optics.camera import Camera
from profiler.outline.gaps import Gap, beside_drawn, gaps_of, on_to, ways_across
from profiler.outline.heights import PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.mirrored import Mirror
from profiler.outline.rims import LOWER, UPPER
from profiler.outline.rounding import edge_radius
from profiler.outline.splice import Rimmed, Stretch, spliced
from profiler.silhouette.edge import Edge
from profiler.silhouette.looks import NEIGHBOURS, look_inward, unlike_either, usual_looks
from profiler.silhouette.seek import DEPTHS_MM, LOOK_U_MM, Sought, seek_rim

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: parts whose rim has one look, and how much of a stretch has to be found
_FOUND_SHARE = {"body": 0.6, "headstock": 0.85}
#: with so much found, what was found shows the way, smoothed over so many mm
_SHOWS_THE_WAY, _WAY_MM = 0.3, 3.0
#: with so much found no other way across need be tried
_AS_GOOD_AS_WHOLE = 0.95
#: told so clearly that the silhouette is trusted to be the lower rim
_TOLD = 0.85
#: a stretch is not sought anew where so much of it is shown for what it is, strange as it looks: a
#: lamp's gloss on a rounded edge is no reason to look for the rim further in
_MOSTLY_SHOWN = 0.5
#: shorter runs of good points are chance
_GOOD_RUN = 7
#: as unlike its neighbours as this, in times the usual: not the rim; and the least that is usual,
#: log light
_STRANGE, _LEAST_SPREAD = 3.0, 0.02
#: the rim is sought so far from where it is expected: mm, as a share of the stretch, and at most
_REACH_MM, _REACH_SHARE, _FARTHEST_MM = 1.5, 0.12, 10.0
#: a face ends where it is so much more unlike, in times the usual, over a strip at least so broad,
#: mm; where the strip is looked at, as shares of its breadth
_SOMETHING_ELSE, _APART_MM = 4.0, 1.0
_BETWEEN = -np.array([0.3, 0.5, 0.7])
#: where the face goes on behind a line that was found for longer than this, mm, the line is grain
_GRAIN_MM = 30.0
#: of the same hue, and a gloss, if its log light differs by less and by more than this; guesses
#: between rendered ones
_SAME_HUE, _GLOSS = 0.3, 0.1
#: depths of a look that are its outermost and its innermost
_OUTERMOST, _INNERMOST = 3, 5
#: a stretch that differs less from what was there is left alone, mm
_DIFFERS_MM = 0.4
#: standard uncertainty of places where nothing was found between others that were, mm
_BETWEEN_U_MM = 0.6
#: a rim is carried on no further than this to where another part begins, mm: across a cutaway's
#: pocket it would be a line over nothing
_FARTHEST_ON_MM = 45
#: what each mm that a rim is carried on adds to its standard uncertainty, mm
_BEYOND_U_SHARE = 0.05
#: in a stretch no longer than this, what stands out of the rim this far may be a strap button; one
#: is usually within so much of the tail's middle, mm
_KNOB_MM, _STICKS_OUT_MM, _TAIL_MM = 25.0, 1.0, 20.0
#: edges rounder than this are seen to be round, mm
_ROUNDED_MM = 2.0
#: a foot of the wall that was measured beside bare tint on so much of a stretch is believed if it
#: is told so well on the whole, and rules out a rim that lies further in than it by more than this,
#: mm
_MOSTLY_CLEAR, _BY_AND_LARGE, _BEHIND_MM = 0.7, 0.55, 1.5
#: what was seen goes on from where the rim is no longer found, if it is as near as this, mm
_GOES_ON_MM = 1.5
#: and if so much of what goes on was measured
_LEADS_ON = 0.7
#: two sides are parted where what they differ by grows by so much, mm, and is more than doubled
_PARTED_MM = 1.5
#: points on either side of a stretch that it may touch
_BESIDE_POINTS = 3


def mended(
    photo: NDArray[np.uint8],
    camera: Camera,
    seen: Rimmed,
    heights: Mapping[str, PartEdges],
    mirror: Mirror | None = None,
) -> Rimmed:
    """The edge, its rim sought where it is not shown.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        seen: the silhouette's edge.
        heights: by part.
        mirror: of the body, where it may be alike on both sides.
    """
    plan = lift_points(seen.edge.pixels, camera, seen.rim, seen.parts, heights)
    good = _good(seen)
    radius, _ = edge_radius(seen.parts, heights)
    rims = [_learnt(photo, camera, seen, good, part, radius) for part in _FOUND_SHARE]
    drawn = np.zeros(len(plan), dtype=bool) if seen.edge.drawn is None else seen.edge.drawn
    shown = _shown(seen)
    asked = [
        (rim, left)
        for rim in rims
        if rim is not None
        for gap in gaps_of(rim.trusted, seen.parts.labels == rim.part, rim.part == "body")
        for left in beside_drawn(gap, drawn)
        if shown[left.between].mean() < _MOSTLY_SHOWN
    ]

    def best_across(rim: _Rim, gap: Gap) -> Stretch | None:
        best: Stretch | None = None
        height_at = heights[rim.part].upper.at
        for way in ways_across(plan, rim.trusted, gap):
            tried = _across(photo, camera, seen, plan, rim, gap, way, height_at)
            if tried and _runs_into(tried, seen.edge.on_mat):
                continue
            if tried and (best is None or tried.measured.sum() > best.measured.sum()):
                best = tried
            if best and best.measured.mean() > _AS_GOOD_AS_WHOLE and gap.begins and gap.ends:
                break
        return best

    found = on_cores(lambda one: best_across(*one), asked)
    stretches = [stretch for stretch in found if stretch]
    if stretches and mirror is not None:
        stretches = _alike_still(stretches, seen, camera, heights, mirror)
    return spliced(seen, camera, stretches) if stretches else seen


def _alike_still(
    stretches: Sequence[Stretch],
    seen: Rimmed,
    camera: Camera,
    heights: Mapping[str, PartEdges],
    mirror: Mirror,
) -> list[Stretch]:
    """Stretches without those of the body that part its sides, which were alike before: what was
    found there is a line inside the face, or the wall's foot. The worst goes first, for another may
    only have been held against that."""

    def plan_of(edge: Rimmed) -> tuple[Array, NDArray[np.bool_]]:
        plan = lift_points(edge.edge.pixels, camera, edge.rim, edge.parts, heights)
        return plan, edge.parts.labels == "body"

    plan, mine = plan_of(seen)
    kept = list(stretches)
    if not mirror.alike(plan[mine]):
        return kept
    tree = cKDTree(plan)
    parted: list[tuple[Stretch, Array, float]] = []
    for stretch in kept:
        alone, body = plan_of(spliced(seen, camera, [stretch]))
        new = alone[body & (tree.query(alone)[0] > _DIFFERS_MM)]
        old = plan[_between(stretch, len(plan))]
        if stretch.part == "body" and len(new) and len(old):
            parted.append((stretch, new, float(np.median(mirror.apart(old, plan[mine])))))
    while parted:
        after, body = plan_of(spliced(seen, camera, kept))
        by = [
            float(np.median(mirror.apart(new, after[body]))) - was - max(was, _PARTED_MM)
            for _, new, was in parted
        ]
        worst = int(np.argmax(by))
        if by[worst] < 0:
            break
        kept = [stretch for stretch in kept if stretch is not parted[worst][0]]
        del parted[worst]
    return kept


def _between(stretch: Stretch, count: int) -> Indices:
    """Points of an edge of so many that a stretch replaces."""
    return (stretch.first + np.arange(1, (stretch.last - stretch.first) % count)) % count


@dataclass(frozen=True)
class _Rim:
    """What is known of a part's upper rim.

    Attributes:
        part: its name.
        trusted: indices of the edge's points that are trusted, whichever rim they are.
        known: those of them that are the upper rim.
        looks: (K, D, 3) of the known ones.
        spread: how unlike the look is to itself along the edge.
        rounded: whether its edges are rounded by so much that the face bends away before them.
    """

    part: str
    trusted: Indices
    known: Indices
    looks: Array
    spread: float
    rounded: bool

    def beside(self, gap: Gap) -> tuple[Array, Array]:
        """Looks before and behind a gap; where another part is there, those of the other side."""
        place = int(np.searchsorted(self.known, gap.first if gap.begins else gap.last))
        count = len(self.known)
        before = self.looks[(place + np.arange(-NEIGHBOURS, 0)) % count]
        behind = self.looks[(place + np.arange(NEIGHBOURS)) % count]
        return before if gap.begins else behind, behind if gap.ends else before


def _shown(seen: Rimmed) -> NDArray[np.bool_]:
    """(N,) where the silhouette was measured beside bare tint and can be nothing but the upper rim:
    the wall faces away."""
    shown = seen.edge.measured & seen.sure & (seen.rim == UPPER)
    return np.asarray(shown if seen.edge.plain is None else shown & seen.edge.plain)


def _good(seen: Rimmed) -> NDArray[np.bool_]:
    edge = seen.edge
    lower = edge.measured & (seen.rim == LOWER) & (seen.told > _TOLD)
    good = _shown(seen) | (lower if edge.plain is None else lower & edge.plain)
    if edge.drawn is not None:
        good &= ~edge.drawn
    return _without_short_runs(good)


def _without_short_runs(good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(N,) round a closed curve."""
    n = len(good)
    lapped = binary_opening(np.concatenate([good, good, good]), np.ones(_GOOD_RUN))
    return np.asarray(lapped[n : 2 * n], dtype=bool)


def _learnt(
    photo: NDArray[np.uint8],
    camera: Camera,
    seen: Rimmed,
    good: NDArray[np.bool_],
    part: str,
    radius: Array,
) -> _Rim | None:
    """What the good points of a part tell of its rim, edges rounded by (N,) mm; None where they are
    too few."""
    mine, edge = good & (seen.parts.labels == part), seen.edge
    known = np.flatnonzero(mine & (seen.rim == UPPER))
    if len(known) < NEIGHBOURS:
        return None
    normals = outward_normals(edge.on_mat, 2.5)
    looks = look_inward(photo, camera, edge.on_mat[known], normals[known], DEPTHS_MM)
    each = np.arange(len(known))
    unlike = unlike_either(looks, usual_looks(looks, each, each))
    spread = max(float(np.median(unlike)), _LEAST_SPREAD)
    # what does not look like the rim is not trusted to be it: a mirrored print, another's edge
    strange = median_filter((unlike > _STRANGE * spread).astype(np.uint8), size=5, mode="wrap") > 0
    mine[known[strange]] = False
    mine = _without_short_runs(mine)
    trusted, use = np.flatnonzero(mine), mine[known]
    if use.sum() < NEIGHBOURS or len(trusted) < 2 * NEIGHBOURS:
        return None
    rounded = float(np.median(radius[known])) > _ROUNDED_MM
    return _Rim(part, trusted, known[use], looks[use], spread, rounded)


def _across(
    photo: NDArray[np.uint8],
    camera: Camera,
    seen: Rimmed,
    plan: Array,
    rim: _Rim,
    gap: Gap,
    way: Array,
    height_at: Callable[[Array], Array],
    again: bool = True,
) -> Stretch | None:
    """The rim along a gap, sought beside one way (M, 2) mm that its plan may go; None where it is
    not found, or is where the edge was. `again`: where half of it is found, that shows the way to
    the rest."""
    centre = camera.centre
    shrink = (1 - height_at(seen.parts.frame.from_mat(way)[:, 0]) / centre[2])[:, None]
    expected = centre[:2] + (way - centre[:2]) / shrink
    travel = np.gradient(expected, axis=0)
    travel /= np.maximum(np.hypot(*travel.T), 1e-9)[:, None]
    normals = np.column_stack([travel[:, 1], -travel[:, 0]])
    sought = seek_rim(
        photo,
        camera,
        expected,
        normals,
        *rim.beside(gap),
        rim.spread,
        min(_REACH_MM + _REACH_SHARE * len(way), _FARTHEST_MM),
        (gap.begins, gap.ends),
    )
    use = _found_part(sought, gap)
    found = sought.found[use]
    if len(use) < 3 or found.mean() <= _FOUND_SHARE[rim.part]:
        both = gap.begins and gap.ends
        if not again or not both or sought.found.mean() < _SHOWS_THE_WAY:
            return None
        better = _by_what_was_found(way, sought, shrink * normals)
        return _across(photo, camera, seen, plan, rim, gap, better, height_at, again=False)
    moved = way + sought.offsets[:, None] * shrink * normals
    there = LineString(plan[[gap.first, *gap.between.tolist(), gap.last]])
    if distance(points(moved[use][found]), there).max() < _DIFFERS_MM:
        return None
    if _may_be_a_button(seen, plan, gap, moved, normals):
        return None
    if rim.rounded and _foot_stands(seen, plan, gap, moved[use][found], normals[use][found]):
        return None
    at = (expected + sought.offsets[:, None] * normals)[use][found]
    if not _parted(photo, camera, at, normals[use][found], seen.edge.on_mat[gap.between], rim):
        return None
    sigma = np.where(sought.stepped, float(seen.edge.sigma.min()), LOOK_U_MM)
    sigma = np.where(sought.found, sigma, _BETWEEN_U_MM)
    on_mat, sigma = (expected + sought.offsets[:, None] * normals)[use], sigma[use]
    if not (gap.begins and gap.ends):
        turn = slice(None, None, 1 if gap.begins else -1)
        other = seen.edge.on_mat[gap.last if gap.begins else gap.first]
        more = on_to(on_mat[turn], other)
        if len(more) > _FARTHEST_ON_MM:
            return None
        on_mat = np.vstack([on_mat[turn], more])[turn]
        beyond = _BETWEEN_U_MM + _BEYOND_U_SHARE * np.arange(1, len(more) + 1)
        sigma = np.concatenate([sigma[turn], beyond])[turn]
        found = np.concatenate([found[turn], np.zeros(len(more), dtype=bool)])[turn]
    return Stretch(
        first=gap.first
        if gap.begins
        else _on_from(plan, seen.edge, gap.between[::-1], moved[use[0]], gap.first),
        last=gap.last
        if gap.ends
        else _on_from(plan, seen.edge, gap.between, moved[use[-1]], gap.last),
        part=rim.part,
        on_mat=on_mat,
        measured=found,
        sigma=sigma,
    )


def _by_what_was_found(way: Array, sought: Sought, outward: Array) -> Array:
    """(M, 2) mm: a way across moved to where the rim was found on it, smoothly between."""
    at = np.arange(len(way))
    known = np.concatenate([[-1], at[sought.found], [len(way)]])
    off = np.concatenate([[0.0], sought.offsets[sought.found], [0.0]])
    even = gaussian_filter1d(PchipInterpolator(known, off)(at), _WAY_MM, mode="nearest")
    better: Array = way + even[:, None] * outward
    return better


def _runs_into(stretch: Stretch, on_mat: Array) -> bool:
    """Whether a stretch meets what of the edge (N, 2) mm it does not replace: then it has gone on
    from a spur of the silhouette, along the rim that it came by. What another stretch will replace
    counts as well: a spur may keep its neighbour from being mended."""
    n = len(on_mat)
    count = n - (stretch.last - stretch.first) % n - 2 * _BESIDE_POINTS
    if count < 2 or len(stretch.on_mat) < 2:
        return False
    rest = on_mat[(stretch.last + _BESIDE_POINTS + np.arange(count)) % n]
    return bool(LineString(rest).intersects(LineString(stretch.on_mat)))


def _parted(
    photo: NDArray[np.uint8], camera: Camera, at: Array, normals: Array, seen: Array, rim: _Rim
) -> bool:
    """Whether what lies between a rim that was found (M, 2) and what was seen outside of it
    (K, 2), mm on the mat plane, looks unlike the face within: grain is alike on both sides of any
    line, and the face does not end there; nor where that is so along a good part of it."""
    outside = ((seen[cKDTree(seen).query(at)[1]] - at) * normals).sum(axis=1)
    far = outside > _APART_MM
    if not far.any():
        return True
    at, normals, outside = at[far], normals[far], outside[far]
    within = look_inward(photo, camera, at, normals, DEPTHS_MM)
    between = look_inward(photo, camera, at, normals * outside[:, None], _BETWEEN).mean(axis=1)
    # just inside, and further in: a highlight or a purfling lies in the face
    differences = [
        between - face.mean(axis=1) for face in (within[:, :_OUTERMOST], within[:, -_INNERMOST:])
    ]
    alike = [np.abs(d).mean(axis=1) <= _SOMETHING_ELSE * rim.spread for d in differences]
    if any(a.mean() >= 0.5 or _longest(a) > _GRAIN_MM for a in alike):
        return False
    # what is of the face's hue and only brighter is the face: its gloss where it is rounded
    brighter = [d.mean(axis=1) for d in differences]
    hue = min(
        float(np.median(np.abs(d - b[:, None]).mean(axis=1)))
        for d, b in zip(differences, brighter, strict=True)
    )
    return hue > _SAME_HUE or min(float(np.median(b)) for b in brighter) < _GLOSS


def _longest(true: NDArray[np.bool_]) -> int:
    """How many points in a row, most of each few of them true."""
    settled = median_filter(true.astype(np.uint8), size=5, mode="nearest")
    steps = np.flatnonzero(np.diff(settled, prepend=0, append=0))
    return int((steps[1::2] - steps[::2]).max(initial=0))


def _found_part(sought: Sought, gap: Gap) -> Indices:
    """Where another part begins, the rim ends with the last place where it was found."""
    found = np.flatnonzero(sought.found)
    if not len(found):
        return found
    first, last = (0 if gap.begins else found[0]), len(sought.found) if gap.ends else found[-1] + 1
    return np.arange(first, last)


def _foot_stands(seen: Rimmed, plan: Array, gap: Gap, rim: Array, normals: Array) -> bool:
    """Whether the silhouette rather than a rim that was found (M, 2) mm tells where a body with
    rounded edges ends. What was found there is where the face bends away, before it is widest: no
    better than the wall's foot where that is told by and large, and wrong where it lies further in
    than the foot, which is as far in as a wall can be."""
    edge, between = seen.edge, gap.between
    clear = edge.measured[between] & (seen.rim[between] == LOWER)
    if edge.plain is not None:
        clear &= edge.plain[between]
    if clear.mean() < _MOSTLY_CLEAR:
        return False
    foot = between[clear]
    if float(seen.told[foot].mean()) > _BY_AND_LARGE:
        return True
    _, nearest = cKDTree(plan[foot]).query(rim)
    inside = ((plan[foot][nearest] - rim) * normals).sum(axis=1)
    return float(np.median(inside)) > _BEHIND_MM


def _may_be_a_button(seen: Rimmed, plan: Array, gap: Gap, rim: Array, normals: Array) -> bool:
    """Whether something small sticks out of the rim, measured beside bare tint or at the tail."""
    if not (gap.begins and gap.ends) or len(rim) >= _KNOB_MM:
        return False
    own = plan[gap.between]
    nearest = cKDTree(rim).query(own)[1]
    if ((own - rim[nearest]) * normals[nearest]).sum(axis=1).max() <= _STICKS_OUT_MM:
        return False
    edge = seen.edge
    clear = edge.measured if edge.plain is None else edge.measured & edge.plain
    x, y = seen.parts.frame.from_mat(own.mean(axis=0)[None])[0]
    return bool((x < _TAIL_MM and abs(y) < _TAIL_MM) or clear[gap.between].mean() > 0.5)


def _on_from(plan: Array, edge: Edge, ahead: Indices, end: Array, otherwise: int) -> int:
    """The seen point that goes on from a rim's end (2,), or else what is behind those ahead; also
    where what goes on was hardly measured: it is no edge that leads there."""
    away = np.hypot(*(plan[ahead] - end).T)
    k = int(np.argmin(away))
    goes_on = away[k] < _GOES_ON_MM and k + 1 < len(ahead)
    if goes_on and edge.measured[ahead[k + 1 :]].mean() < _LEADS_ON:
        goes_on = False
    return int(ahead[k + 1]) if goes_on else otherwise
