"""Which part of a traced curve is the back, and where its face is.

A face is straight. In an open curve it joins the two ends; where both ends run on along the same
straight line, as beside a notch or a traced gauge, it spans the mouth between them. In a closed
curve it is the longest straight side, or the mouth of its one deep notch.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.errors import OutlineError
from profiler.geometry.curves import evenly_spaced, signed_area
from profiler.instrument.hooks import without_hooks
from profiler.instrument.profile import along, resampled
from profiler.instrument.traced import SeenBack

Array = NDArray[np.float64]

#: off the face's line by no more than this is on it, mm
_ON_FACE_MM = 0.6
#: a stretch along the face's line is longer than this, mm
_ALONG_MM = 2.5
#: a notch is at least so deep and so wide, a straight side so long, mm
_NOTCH_MM, _MOUTH_MM, _SIDE_MM = 5.0, 15.0, 12.0
#: no neck is wider than its face by more than this on a side, mm (common practice, no source)
_WIDER_MM = 4.0
#: lips beside a notch lie this near to the line over it, mm
_LIP_MM = 2.0
#: a side of a card leaves its line beside a print for no longer and by no more than this, mm
_DETOUR_MM, _ASIDE_MM = 6.0, 1.2
#: a hand and a pencil, scissors: standard, mm; where the face is, standard, mm
_HAND_MM, _FACE_MM = 0.15, 0.3
#: along the curve a hand's waver below this is smoothed, mm
_STEP_MM = 0.3
#: from a corner on an edge is seen rounded off over this, mm (a guess: a photo's blur and the
#: smoothing of its edge)
_CORNER_MM = 1.2


class NoProfile(OutlineError):
    """A curve that is no neck's profile."""

    def __init__(self, photo: str, why: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: the curve seen there is no neck's profile: {why}. Draw one line round the"
            " back from edge to edge of the fingerboard's top, on pale paper, or cut a card to it."
        )


def back_from_curve(
    curve: Array,
    closed: bool,
    sigma: float,
    scale_u: float,
    what: str,
    photo: str,
    u_corner: float = 0.0,
) -> SeenBack:
    """The back in a traced curve, put under its face.

    Args:
        curve: (N, 2) mm, seen from above, in order.
        closed: it comes back to its start.
        sigma: mm, standard uncertainty across it, besides the hand's.
        scale_u: relative standard uncertainty of all lengths.
        what: in words, as 'the tracing'.
        photo: for messages.
        u_corner: mm, standard, by which corners may lie elsewhere than where the curve carried on
            meets the face.

    Raises:
        NoProfile: see there.
    """
    path = _of_closed(curve, photo) if closed else _of_open(without_hooks(curve), photo)
    left, right = path[0], path[-1]
    mouth = float(np.hypot(*(right - left)))
    if mouth < _MOUTH_MM:
        raise NoProfile(photo, f"its face would be {mouth:.0f} mm wide")
    across = (right - left) / mouth
    up = np.array([-across[1], across[0]])
    local = (path - (left + right) / 2) @ np.column_stack([across, up])
    if local[:, 1].mean() > 0:  # the face belongs on top
        local = -local[::-1]
        local = local if local[0, 0] < local[-1, 0] else local[::-1]
    if local[:, 1].min() > -_NOTCH_MM:
        raise NoProfile(photo, "it is all but straight")
    over = float(np.abs(local[:, 0]).max()) - mouth / 2
    if over > _WIDER_MM:
        raise NoProfile(
            photo,
            f"it is {over:.0f} mm wider on one side than the straight line that would be its face;"
            " where a print lies under the face's edge, lay it beside the print",
        )
    local, _ = resampled(local, np.zeros(len(local)))
    spread = np.sqrt(
        sigma**2 + _HAND_MM**2 + (scale_u * np.hypot(*(local - local.mean(axis=0)).T)) ** 2
    )
    edge = float(np.sqrt(sigma**2 + _HAND_MM**2 + u_corner**2))
    return SeenBack(
        local,
        spread,
        (float(local[0, 0]), float(local[-1, 0])),
        edge,
        edge / float(np.sqrt(2)),
        0.0,
        float(np.sqrt(sigma**2 + _HAND_MM**2 + _FACE_MM**2)),
        what,
    )


def _of_open(curve: Array, photo: str) -> Array:
    """The curve without what runs along the line through its ends."""
    at = along(curve)
    for _ in range(3):
        a, b = curve[0], curve[-1]
        chord = float(np.hypot(*(b - a)))
        if chord < 1.0:
            raise NoProfile(photo, "its ends meet")
        off = np.abs(_off(curve, a, b))
        away = np.flatnonzero(off > _ON_FACE_MM)
        if not len(away):
            raise NoProfile(photo, "it is straight")
        # a side that leaves the face squarely is not a stretch along it
        first = int(away[0]) if at[away[0]] - at[0] > _ALONG_MM else 0
        last = int(away[-1]) if at[-1] - at[away[-1]] > _ALONG_MM else len(curve) - 1
        if first == 0 and last == len(curve) - 1:
            break
        curve, at = _to_line(curve[first : last + 1], a, b), at[first : last + 1]
        at = along(curve)
    return curve


def _off(points: Array, a: Array, b: Array) -> Array:
    """(N,) mm: distance from the line through a and b, to its left above zero."""
    chord = (b - a) / float(np.hypot(*(b - a)))
    off: Array = (points - a) @ np.array([-chord[1], chord[0]])
    return off


def _to_line(path: Array, a: Array, b: Array) -> Array:
    """A path carried on to a line in its own directions.

    Near a corner with the line a path is seen rounded off, by the photo's blur and by the pen, and
    bends away along the line: its directions are taken from before that.
    """
    chord = (b - a) / float(np.hypot(*(b - a)))
    ends = []
    kept = []
    for whole in (path, path[::-1]):
        at = along(whole)
        clear = int(np.searchsorted(at, _CORNER_MM))
        part = whole[clear : max(int(np.searchsorted(at, _CORNER_MM + _ALONG_MM)), clear + 3)]
        if len(part) < 3 or clear > len(whole) // 4:
            part, clear = whole[:5], 0
        end = part[0]
        middle, direction = _straight(part)
        direction = direction if (part[-1] - part[0]) @ direction < 0 else -direction
        end = middle + direction * float((end - middle) @ direction)
        here, step = float(_off(end[None], a, b)[0]), float(_off((end + direction)[None], a, b)[0])
        closer = step - here
        reach = -here / closer if abs(closer) > 1e-9 else 0.0
        # a path that runs along the line would meet it far away: then straight across
        if not 0 <= reach <= 3 * abs(here):
            ends.append(end - here * np.array([-chord[1], chord[0]]))
        else:
            ends.append(end + reach * direction)
        kept.append(clear)
    return np.vstack([ends[0], path[kept[0] : len(path) - kept[1]], ends[1]])


def _of_closed(curve: Array, photo: str) -> Array:
    """The back in a closed curve: its deep notch, or all but its longest straight side."""
    even = evenly_spaced(curve, _STEP_MM)
    if signed_area(even) < 0:
        even = even[::-1]
    notch = _notch(even)
    if notch is not None:
        return notch
    start, length = _carried_on(even, *_longest_side(even))
    n = len(even)
    if length * _STEP_MM < _SIDE_MM:
        raise NoProfile(photo, "no side of it is straight, so its face cannot be told")
    back = even[(start + length + np.arange(n - length + 1)) % n]
    middle, along_it = _straight(even[(start + np.arange(length + 1)) % n])
    return _to_line(back, middle, middle + along_it)


def _notch(even: Array) -> Array | None:
    """The deepest hollow of a closed curve, from lip to lip; None where none is deep."""
    hull = shapely.Polygon(even).convex_hull.exterior
    off = np.asarray(shapely.distance(shapely.points(even), hull))
    deepest = int(np.argmax(off))
    if off[deepest] < _NOTCH_MM:
        return None
    n = len(even)
    # the mouth's line: the hull's side over the notch, and then what lies along it on both lips; a
    # corner that was not seen well pulls at the hull, not at those
    turned = np.roll(even, n // 2 - deepest, axis=0)
    first, last = _around(np.roll(off, n // 2 - deepest) > _ON_FACE_MM)
    across = (turned[first] + turned[last]) / 2
    ring = np.asarray(hull.coords)
    side = int(
        np.argmin(
            [
                abs(float(_off(across[None], p, q)[0])) if _over(across, p, q) else np.inf
                for p, q in pairwise(ring)
            ]
        )
    )
    ends = ring[side], ring[side + 1]
    near = np.abs(_off(even, *ends)) < _LIP_MM
    if near.sum() * _STEP_MM < _SIDE_MM / 2:
        return None
    middle, along_it = _straight(even[near])
    below = np.abs(_off(even, middle, middle + along_it))
    first, last = _around(np.roll(below, n // 2 - deepest) > _ON_FACE_MM)
    if last - first > n - 3:
        return None
    path = _to_line(turned[first : last + 1], middle, middle + along_it)
    if float(np.hypot(*(path[-1] - path[0]))) < _MOUTH_MM:
        return None
    return np.asarray(path)


def _around(inside: NDArray[np.bool_]) -> tuple[int, int]:
    """First and last of the run of True round the middle."""
    first = last = len(inside) // 2
    while first > 0 and inside[first - 1]:
        first -= 1
    while last < len(inside) - 1 and inside[last + 1]:
        last += 1
    return first, last


def _over(point: Array, a: Array, b: Array) -> bool:
    """Whether a point lies beside a segment and not beyond its ends."""
    share = float((point - a) @ (b - a)) / max(float((b - a) @ (b - a)), 1e-12)
    return 0.0 <= share <= 1.0


def _carried_on(even: Array, start: int, length: int) -> tuple[int, int]:
    """A straight side with what still lies on its line at both ends.

    An edge that was not seen well beside a print leaves the line for some millimetres and comes
    back to it: that does not end the side. A corner never comes back. Each time the side has grown
    its line is laid anew through what lies on it (total least squares), for the longer it is the
    better it is known.
    """
    n = len(even)
    detour = round(_DETOUR_MM / _STEP_MM)
    for _ in range(4):
        side = even[(start + np.arange(length + 1)) % n]
        middle, along_it = _straight(side)
        off = np.abs((even - middle) @ np.array([-along_it[1], along_it[0]]))
        grown = False
        for step, at in ((-1, start), (1, start + length)):
            moved = 0
            while length + moved < n // 2:
                ahead = (at + step * (moved + 1 + np.arange(detour))) % n
                back = np.flatnonzero(off[ahead] < 0.7 * _ON_FACE_MM)
                if not len(back) or off[ahead[: back[0] + 1]].max() > _ASIDE_MM:
                    break
                moved += int(back[0]) + 1
            grown = grown or moved > 0
            start, length = (start - moved, length + moved) if step < 0 else (start, length + moved)
        if not grown:
            break
    return start % n, length


def _straight(points: Array) -> tuple[Array, Array]:
    """(2,) a point on the line through what lies nearest to it, and (2,) unit along it."""
    kept = points
    for _ in range(3):
        middle = kept.mean(axis=0)
        _, _, axes = np.linalg.svd(kept - middle)
        off = np.abs((points - middle) @ np.array([-axes[0, 1], axes[0, 0]]))
        kept = points[off <= max(2 * float(np.median(off)), 0.1)]
    return middle, axes[0]


def _longest_side(even: Array) -> tuple[int, int]:
    """First point and number of steps of the longest run that stays on its own chord."""
    n = len(even)
    double = np.vstack([even, even])
    best = (0, 0)
    end = 2
    for start in range(n):
        end = max(end, start + 2)
        while end - start < n - 2:
            a, b = double[start], double[end]
            chord = b - a
            size = float(np.hypot(*chord))
            run = double[start : end + 1] - a
            off = np.abs(run @ np.array([-chord[1], chord[0]])) / max(size, 1e-9)
            if off.max() > _ON_FACE_MM / 2 or size < 0.97 * (end - start) * _STEP_MM:
                break
            end += 1
        if end - 1 - start > best[1]:
            best = (start, end - 1 - start)
    return best
