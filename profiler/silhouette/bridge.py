"""Runs of an edge that print hides, carried across between their measured ends; and when not to.

And notches that white print cuts into what is white itself: a nut, a binding's end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.geometry.curves import heading, hermite_at, outward_normals, runs_of
from profiler.geometry.offset import parts_of
from profiler.optics.camera import Camera
from profiler.optics.light import sample_linear
from profiler.silhouette.inked import PRINT_DARK, Divisor

Array = NDArray[np.float64]

#: points: a longer run without a measured edge is not carried across
_LONGEST_BRIDGE = 65
#: a bridge further from the rough contour cuts off what is there, mm: a binding is narrower
_FARTHEST_BRIDGE_MM = 3.2
#: and one further outside of it fills more than a bite of black print out of black wood, mm: a
#: guess, a tag's frame is 3 to 4 wide
_DEEPEST_BITE_MM = 5.0
#: what a bridge cuts off is looked at if it is as wide as this, mm; and it is no ground if it is
#: unlike the ground beside it by more than this: log light, the print divided out
_CUTS_OFF_MM, _UNLIKE_GROUND = 1.2, 0.35
#: so many places must be seen to say so, half as many of each ink; bare tint is print that differs
#: from it by less than this share of its light, and black has less light than that
_ENOUGH_SEEN, _BARE, _BLACK = 8, 0.15, 0.3
#: what is thinner than this is no part of an instrument, mm, and a sliver has such an area, mm²;
#: what an opening rounds away besides. Shafts are 4 thick, gut strings 1
_THIN_MM, _SLIVER_MM2, _LEFT_MM = 2.2, 3.0, 0.2
#: the edge goes on beside a notch along its mouth, by the cosine, told by so many points; and no
#: more points are in it. Guesses, tried on rendered photos
_GOES_ON, _BESIDE, _LONGEST_NOTCH = 0.85, 5, 40


@dataclass(frozen=True)
class _Notch:
    """A notch's mouth is no wider, its depth no less, mm, nor less than a share of the mouth."""

    mouth: float
    deep: float
    share: float


# Guesses, tried on rendered photos: nuts are 4 to 6 mm wide, frets 2 to 3.
_NUT, _SLIT = _Notch(8.0, 3.0, 0.8), _Notch(5.0, 5.0, 1.5)


def carried_across(curve: Array, measured: NDArray[np.bool_]) -> tuple[Array, NDArray[np.bool_]]:
    """A closed curve (N, 2), mm, points about a mm apart, its unmeasured runs redrawn smoothly
    between their measured ends, and (N,) where.

    Longer runs and runs that turn a corner keep their rough shape: there is more in them than
    a straight stretch that crosses a printed line.
    """
    n = len(curve)
    if measured.all() or measured.sum() < 0.3 * n:
        return curve, np.zeros(n, dtype=bool)
    bridged = curve.copy()
    carried = np.zeros(n, dtype=bool)
    at = np.flatnonzero(measured)
    for i, (a, b) in enumerate(zip(at, np.roll(at, -1), strict=True)):
        gap = int((b - a) % n)
        if gap < 2:
            continue
        leave, arrive = heading(curve, at, i, -1), heading(curve, at, (i + 1) % len(at), +1)
        chord = float(np.hypot(*(curve[b] - curve[a])))
        bend = float(leave @ arrive)
        if gap > _LONGEST_BRIDGE or bend <= 0.8 or chord < 0.75 * gap:
            continue
        t = np.arange(1, gap) / gap
        inner = (a + np.arange(1, gap)) % n
        bridge = hermite_at(curve[a], curve[b], leave, arrive, t)
        # on the way anticlockwise outward lies to the right
        ahead = (curve[b] - curve[a]) / chord
        outward = (bridge - curve[inner]) @ np.array([ahead[1], -ahead[0]])
        if outward.min() < -_FARTHEST_BRIDGE_MM or outward.max() > _DEEPEST_BITE_MM:
            continue
        bridged[inner] = bridge
        carried[inner] = True
    return bridged, carried


def filled_notches(
    curve: Array, on_white: NDArray[np.bool_], on_print: NDArray[np.bool_]
) -> tuple[Array, NDArray[np.bool_]]:
    """A closed curve with its narrow notches over print closed, and (N,) where.

    A white nut over a white seam is told from it by nothing: what is left is a notch as wide as the
    nut, in an edge that goes on behind it as if nothing were there; a fret over a tag leaves
    a slit.

    Args:
        curve: (N, 2) mm, anticlockwise, points about a mm apart.
        on_white: (N,) where nothing but white is printed.
        on_print: (N,) where anything is.
    """
    n = len(curve)
    filled = np.zeros(n, dtype=bool)
    closed = curve.copy()
    asked = [(run, _NUT) for run in runs_of(on_white)] + [(run, _SLIT) for run in runs_of(on_print)]
    for run, shape in asked:
        wide = np.concatenate([[run[0] - 1], run, [run[-1] + 1]]) % n
        gap = np.arange(len(wide))[None, :] - np.arange(len(wide))[:, None]
        chord = np.hypot(*(curve[wide][:, None] - curve[wide][None]).transpose(2, 0, 1))
        narrow = (chord < shape.mouth) & (gap > chord + shape.deep) & (gap <= _LONGEST_NOTCH)
        # the longest way first: it holds all of the notch
        for i, j in sorted(np.argwhere(narrow).tolist(), key=lambda ij: ij[0] - ij[1]):
            a, b = wide[i], wide[j]
            inner = wide[i + 1 : j]
            if filled[inner].any() or not _is_notch(curve, a, b, inner, shape):
                continue
            share = np.arange(1, j - i)[:, None] / (j - i)
            closed[inner] = curve[a] + share * (curve[b] - curve[a])
            filled[inner] = True
    return closed, filled


def _is_notch(curve: Array, a: int, b: int, inner: NDArray[np.intp], shape: _Notch) -> bool:
    """Whether the way from a to b goes straight into the curve's inside and out again."""
    mouth = curve[b] - curve[a]
    width = float(np.hypot(*mouth))
    if width < 1e-6:
        return False
    ahead = mouth / width
    # on the way anticlockwise the inside lies to the left
    depth = (curve[inner] - curve[a]) @ np.array([-ahead[1], ahead[0]])
    if depth.max() < max(shape.deep, shape.share * width) or depth.min() < 0:
        return False
    n = len(curve)
    for before, behind in ((a - _BESIDE, a), (b, b + _BESIDE)):
        way = curve[behind % n] - curve[before % n]
        if float(way @ ahead) < _GOES_ON * float(np.hypot(*way)):
            return False
    return True


def without_slivers(contour: Array) -> Array:
    """A closed contour (N, 2) mm, anticlockwise, without what is too thin to be part of it.

    A lit edge along the foot of a wall that mirrors the mat is told from the ground, the wall is
    not: what hangs on it by one end is no outline. What ties two things together is left.
    """
    # a contour that touches itself is several areas
    whole = parts_of(shapely.make_valid(shapely.Polygon(contour)))[0]
    thick = whole.buffer(-_THIN_MM / 2).buffer(_THIN_MM / 2 + _LEFT_MM)
    thin = [p for p in shapely.get_parts(whole.difference(thick)) if p.area > _SLIVER_MM2]
    for sliver in thin:
        cut = sliver.buffer(_LEFT_MM)
        largest = parts_of(whole.difference(cut))[0]
        if whole.area - largest.area < 2 * cut.area:
            whole = largest
    if not thin:
        return contour
    ring = shapely.orient_polygons(shapely.Polygon(whole.exterior)).exterior
    return np.asarray(shapely.get_coordinates(ring)[:-1])


def cuts_off_more_than_ground(
    photo: NDArray[np.uint8],
    camera: Camera,
    curve: Array,
    normals: Array,
    cut_off: Array,
    divisor: Divisor,
) -> NDArray[np.bool_]:
    """(N,) where a bridge would cut off something that is not the printed ground.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        curve: (N, 2) mm, mat plane, closed: the rough contour.
        normals: (N, 2) outward.
        cut_off: (N,) mm: how far inside the contour the bridge lies, nought beside bridges.
        divisor: the light of the print, to divide it out.
    """
    told = np.zeros(len(curve), dtype=bool)
    deep = [run for run in runs_of(cut_off > 0.0) if cut_off[run].max() > _CUTS_OFF_MM]
    if not deep:
        return told
    at = np.concatenate([run[cut_off[run] > _CUTS_OFF_MM / 2] for run in deep])
    inside = -cut_off[at, None] * np.linspace(0.25, 0.75, 5)
    outside = np.broadcast_to(np.linspace(0.8, 2.4, 5), inside.shape)
    seen = []
    for t in (inside, outside):
        places = curve[at, None] + t[..., None] * normals[at, None]
        left, _ = _print_divided_out(photo, camera, places, divisor)
        seen.append(left)
    which = np.concatenate(
        [np.full((cut_off[r] > _CUTS_OFF_MM / 2).sum(), k) for k, r in enumerate(deep)]
    )
    for k, run in enumerate(deep):
        mine = which == k
        sides = [s[mine].reshape(-1, 3) for s in seen]
        sides = [side[~np.isnan(side).any(axis=1)] for side in sides]
        if all(len(side) for side in sides):
            apart = np.median(sides[0], axis=0) - np.median(sides[1], axis=0)
            told[run] = bool(np.abs(apart).max() > _UNLIKE_GROUND)
    return told


def fills_bare_ground(
    photo: NDArray[np.uint8],
    camera: Camera,
    curve: Array,
    bridged: Array,
    carried: NDArray[np.bool_],
    divisor: Divisor,
) -> NDArray[np.bool_]:
    """(N,) where a bridge would fill what shows the bare tint, or several inks, as they lie beyond.

    Black print bites out of black wood, and white paper out of a white binding; neither does bare
    tint, nor do both inks at once.

    Args:
        photo, camera, divisor: as for `cuts_off_more_than_ground`.
        curve: (N, 2) mm, mat plane, closed, anticlockwise.
        bridged: (N, 2) mm, with its bridges.
        carried: (N,) where they are.
    """
    told = np.zeros(len(curve), dtype=bool)
    normals = outward_normals(bridged, 2.5)
    across = ((bridged - curve) * normals).sum(axis=1)
    for run in runs_of(carried & (across > 0)):
        deep = run[across[run] > _CUTS_OFF_MM / 2]
        if across[run].max() < _CUTS_OFF_MM:
            continue
        share = np.linspace(0.25, 0.9, 5)[None, :, None]
        filled = curve[deep, None] + share * (bridged[deep] - curve[deep])[:, None]
        beyond = bridged[deep, None] + np.linspace(0.8, 2.4, 5)[None, :, None] * normals[deep, None]
        inside, print_ = _print_divided_out(photo, camera, filled, divisor)
        told[run] = _is_ground((inside, print_), _print_divided_out(photo, camera, beyond, divisor))
    return told


def _is_ground(here: tuple[Array, Array], ground: tuple[Array, Array]) -> bool:
    """Whether bare tint has the light of the ground, or else several inks each what they have
    there; both from `_print_divided_out`."""
    ours, theirs = _by_ink(*here), _by_ink(*ground)
    beyond = ground[0][~np.isnan(ground[0]).any(axis=-1)]
    inks = [_alike(*ink, _ENOUGH_SEEN // 2) for ink in zip(ours, theirs, strict=True)]
    return _alike(ours[0], beyond, _ENOUGH_SEEN) or sum(inks) > 1


def _alike(one: Array, other: Array, enough: int) -> bool:
    """Whether log light (K, 3) seen at enough places is the same here and there."""
    if min(len(one), len(other)) < enough:
        return False
    apart = np.median(one, axis=0) - np.median(other, axis=0)
    return bool(np.abs(apart).max() < _UNLIKE_GROUND)


def _by_ink(left: Array, print_: Array) -> list[Array]:
    """(K, 3) of what is known of `left`, where nothing is printed on the tint, black, white."""
    known = ~np.isnan(left).any(axis=-1)
    bare = (np.abs(print_ - 1) < _BARE).all(axis=-1)
    black = (print_ < _BLACK).all(axis=-1)
    white = (print_ > 1 - _BARE).all(axis=-1) & ~bare
    return [left[known & ink] for ink in (bare, black, white)]


def _print_divided_out(
    photo: NDArray[np.uint8], camera: Camera, places: Array, divisor: Divisor
) -> tuple[Array, Array]:
    """(..., 3) log light at places (..., 2) mm, the print divided out, NaN where that is not known;
    and (..., 3) the light of the print, of which bare tint has 1."""
    shape = places.shape[:-1]
    pixels = camera.project(np.dstack([places, np.zeros(shape)]).reshape(-1, 3))
    light = sample_linear(photo, pixels.reshape(*shape, 2))
    print_, doubtful = divisor(places)
    left = np.log((light + PRINT_DARK) / (print_ + PRINT_DARK))
    return np.where(doubtful[..., None], np.nan, left), np.asarray(print_, dtype=np.float64)
