"""Which part of the instrument each outline point belongs to: body, neck, head, tuners, button.

The split looks only at the outline's shape, so it works before any height is known.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter
from scipy.spatial import cKDTree

from profiler.geometry.curves import extent_at, runs_of, straight_through
from profiler.geometry.frames import Frame2D
from profiler.outline.bump import bump_at_tail
from profiler.outline.opened import opened

Array = NDArray[np.float64]

#: raster for the shape operations, mm
_CELL = 0.5
#: narrower than this part of the widest width cannot be body
_NECK_FRACTION = 0.42
#: shapes narrower than twice this stick out of a headstock or body: tuners, strap button, mm
_STICKS_OUT_RADIUS = 8.5
#: a head may be parted by a waist no narrower than twice this, mm: a pegbox; what lies on the axis,
#: so near, is no tuner, mm
_WAIST_RADIUS, _ON_AXIS_MM = 4.5, 4.0
#: a tuner stands out of the head by this at least, mm
_LEAST_OUT_MM = 2.0
_LEAST_NECK_MM = 60.0
#: a straight run of this part of the longest is a long one; and the least that is one, mm
_LONG_RUN, _LEAST_RUN_MM = 0.6, 25
#: a fifth string's peg stands on the side of the neck: no longer than this, and at least so much
#: bare neck behind it, mm
_PEG_MM, _GOES_ON_MM = 25, 60
#: a neck tapers by no more than this, mm a mm, and its width lies on a line give or take so many mm
_STEEPEST_TAPER, _OFF_THE_TAPER_MM, _TRIED_EVERY_MM = 0.15, 1.2, 12
#: pieces of a straight run are no shorter than this, and what parts them no longer, mm
_LEAST_PIECE_MM, _NICK_MM = 4, 6
#: a bay where a neck's edge was lost is no longer than this, and the neck to either side no shorter
_BAY_MM, _BESIDE_A_BAY_MM = 60, 30
#: tuners are beyond this part of what follows the body
_HEAD_SHARE = 0.45
#: a line that is left for so many mm is left for good
_FOR_GOOD_MM = 10
#: the body's edge beside the neck: further off the neck's straight side than this, mm, and no more
#: points than this, else it is a horn
_OFF_THE_NECK_MM, _LONGEST_SHOULDER = 1.0, 45
#: between two horns, or past one, a neck's side is seen further down than its join, by no more
#: points than this (common practice, no source)
_FARTHEST_ON = 160
#: no more points than this that go on along the neck are the corner between it and the body
_CORNER_POINTS = 6
#: so far behind the join a neck is as broad as its fretboard at the body, mm
_PAST_THE_JOIN_MM = 20.0
#: what a hand moved by less than this is still the same part, mm
_SAME_PART_MM = 12.0


@dataclass(frozen=True)
class Parts:
    """The split, in a rough frame: x from the tail towards the head, y to the left.

    Attributes:
        frame: rough frame on the mat.
        length: mm, of the whole outline along x.
        join: x where the body ends; the length where there is no neck.
        nut: x where the headstock begins; the length where there is none.
        labels: (N,) part of each outline point.
        half_width: mm at each whole millimetre of x from 0, of the shape without tuners.
        tuners_middle: x half way along the tuners; None where there are none.
        cornered: whether the body has the violin family's corners; `split` does not look for them.
    """

    frame: Frame2D
    length: float
    join: float
    nut: float
    labels: NDArray[np.str_]
    half_width: Array
    tuners_middle: float | None = None
    cornered: bool = False

    def members(self, part: str) -> NDArray[np.intp]:
        """Indices of a part's outline points."""
        return self._members.get(part, np.zeros(0, dtype=np.intp))

    @cached_property
    def _members(self) -> dict[str, NDArray[np.intp]]:
        # asked for thousands of times while heights and scene are moved about
        return {str(part): np.flatnonzero(self.labels == part) for part in np.unique(self.labels)}

    def part_at(self, x: float) -> str:
        """The part that a place on the instrument belongs to."""
        return "body" if x < self.join else "neck" if x < self.nut else "headstock"

    @property
    def board_half_width(self) -> float:
        """mm, half the fretboard's width where it reaches over the body: as broad as the neck a
        little behind the join."""
        return float(self.half_width_at(np.array([self.join + _PAST_THE_JOIN_MM]))[0])

    def half_width_at(self, x: Array) -> Array:
        index = np.clip(np.rint(x).astype(int), 0, len(self.half_width) - 1)
        taken: Array = self.half_width[index]
        return taken


def split(outline: Array) -> Parts:
    """Split an outline into parts; strap buttons on the side are told once it is lifted.

    Args:
        outline: (N, 2) mm, mat frame, closed, anticlockwise.
    """
    frame = rough_frame(outline)
    points = frame.from_mat(outline)
    length = float(points[:, 0].max())
    x = np.arange(0.5, length, 1.0)
    low, high = extent_at(points, x)
    full = np.nan_to_num(high - low)
    trunk = _without_protrusions(points)
    trunk_width = _widths(trunk, len(x))
    join, nut = _join_and_nut(full, trunk_width)
    labels = np.where(
        points[:, 0] < join, "body", np.where(points[:, 0] < nut, "neck", "headstock")
    ).astype("<U11")
    out = _sticking_out(points, trunk)
    labels[out & (points[:, 0] > nut - 6.0)] = "tuners"
    _give_back_head(labels, points)
    near_tail = (points[:, 0] < 35.0) & (np.abs(points[:, 1]) < 30.0)
    labels[(out & near_tail) | bump_at_tail(points)] = "button"
    _give_back_horns(labels)
    _give_back_shoulders(labels, points, join)
    _carry_on_neck(labels, points, join)
    half = np.where(trunk_width > 0, trunk_width / 2, full / 2)
    tuners = points[labels == "tuners", 0]
    along = float(tuners.min() + tuners.max()) / 2 if len(tuners) else None
    return Parts(frame, length, join, nut, labels, half, along)


def labels_kept(
    parts: Parts, drawn: NDArray[np.bool_], points: Array, seen: Array, before: NDArray[np.str_]
) -> Parts:
    """Parts in which what a hand drew near the edge stays part of what was there.

    A point pulled out a little is not a strap button, whose height would be another one; what
    stands out far may be one that was not seen before.

    Args:
        parts: split of the corrected edge.
        drawn: (N,) by hand.
        points: (N, 2) mm, mat plane: the corrected edge.
        seen: (M, 2) mm: the edge before the correction.
        before: (M,) the parts of that edge, from `split`.
    """
    labels = parts.labels.copy()
    away, nearest = cKDTree(seen).query(points[drawn])
    labels[drawn] = np.where(away < _SAME_PART_MM, before[nearest], labels[drawn])
    return replace(parts, labels=labels)


def _give_back_head(labels: NDArray[np.str_], points: Array) -> None:
    """What stands out along the axis, on both sides of it, is the head's own tip: tuners stand out
    to the sides. What hardly stands out is a corner of the head, where its lower rim begins."""
    for run in runs_of(labels == "tuners"):
        on_axis = points[run, 1].min() < 0 < points[run, 1].max()
        if on_axis or _stands_out_by(points[run]) < _LEAST_OUT_MM:
            labels[run] = "headstock"


def _stands_out_by(run: Array) -> float:
    """mm, how far points (N, 2) leave the line from the first to the last of them."""
    along = run[-1] - run[0]
    across = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-9)
    return float(np.abs((run - run[0]) @ across).max())


def _give_back_horns(labels: NDArray[np.str_]) -> None:
    """What lies beside the neck but between stretches of body is a horn of the body."""
    starts = np.flatnonzero(labels != np.roll(labels, 1))
    for k, start in enumerate(starts):
        end = starts[(k + 1) % len(starts)]
        if labels[start] == "neck" and labels[start - 1] == labels[end] == "body":
            size = (end - start) % len(labels)
            labels[(start + np.arange(size)) % len(labels)] = "body"


def _ends_at_the_body(
    labels: NDArray[np.str_], points: Array, join: float
) -> Iterator[tuple[NDArray[np.intp], int]]:
    """The neck's sides, each from its end at the body on, and the step that leads past that end."""
    for run in runs_of(labels == "neck"):
        if len(run) < _LEAST_NECK_MM / 2:
            continue
        for ends, past in ((run, -1), (run[::-1], 1)):
            if points[ends[0], 0] <= join + _LEAST_NECK_MM / 2:
                yield ends, past


def _off_the_neck(points: Array, side: Array) -> NDArray[np.bool_]:
    """(N,) which points leave the straight line through a neck's side."""
    middle, along = straight_through(side)
    off = np.abs((points - middle) @ np.array([-along[1], along[0]]))
    return np.asarray(off > _OFF_THE_NECK_MM)


def _give_back_shoulders(labels: NDArray[np.str_], points: Array, join: float) -> None:
    """What leaves the neck's straight side at its end is the body's edge that comes up to it."""
    for ends, _ in _ends_at_the_body(labels, points, join):
        off = _off_the_neck(points[ends], points[ends])
        if off.all():
            continue
        shoulder = ends[: int(np.argmin(off))]
        if len(shoulder) < _LONGEST_SHOULDER:
            labels[shoulder] = "body"


def _carry_on_neck(labels: NDArray[np.str_], points: Array, join: float) -> None:
    """What goes on straight along the neck's side is the fretboard's edge: on one side it may be
    seen further down than on the other, past a cutaway or where the wall's foot lies open."""
    for ends, past in _ends_at_the_body(labels, points, join):
        ahead = (ends[0] + past * np.arange(1, _FARTHEST_ON + 1)) % len(labels)
        off = _off_the_neck(points[ahead], points[ends[: int(_LEAST_NECK_MM)]])
        off |= labels[ahead] != "body"
        on = int(np.argmax(off)) if off.any() else 0
        if on > _CORNER_POINTS:
            labels[ahead[:on]] = "neck"


def rough_frame(outline: Array) -> Frame2D:
    """Long axis of the area; the end with more area is the tail."""
    moments = cv2.moments(outline.astype(np.float32).reshape(-1, 1, 2))
    area = moments["m00"]
    centre = np.array([moments["m10"], moments["m01"]]) / area
    angle = 0.5 * float(np.arctan2(2 * moments["mu11"], moments["mu20"] - moments["mu02"]))
    for _ in range(2):
        frame = Frame2D(angle, (float(centre[0]), float(centre[1])))
        along = frame.from_mat(outline)[:, 0]
        if along.max() >= -along.min():  # the thin end reaches further from the centre of area
            break
        angle += np.pi
    origin = frame.to_mat(np.array([[along.min(), 0.0]]))[0]
    return Frame2D(angle, (float(origin[0]), float(origin[1])))


def _raster(points: Array) -> tuple[NDArray[np.uint8], Array]:
    margin = 14.0
    low = points.min(axis=0) - margin
    size = np.ceil((points.max(axis=0) + margin - low) / _CELL).astype(int) + 1
    image = np.zeros((int(size[1]), int(size[0])), dtype=np.uint8)
    cells = np.rint((points - low) / _CELL * 16).astype(np.int32)
    cv2.fillPoly(image, [cells.reshape(-1, 1, 2)], 1, shift=4)
    return image, low


def _without_protrusions(points: Array) -> tuple[NDArray[np.uint8], Array]:
    image, low = _raster(points)
    trunk = opened(image, round(_STICKS_OUT_RADIUS / _CELL))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(trunk, connectivity=8)
    if count < 2:
        return image, low
    main = int(np.argmax(stats[1:, cv2.CC_STAT_AREA])) + 1
    ends = stats[:, cv2.CC_STAT_LEFT] + stats[:, cv2.CC_STAT_WIDTH]
    axis = np.rint((np.array([-_ON_AXIS_MM, _ON_AXIS_MM]) - low[1]) / _CELL).astype(int)
    on_axis = np.unique(labels[axis[0] : axis[1], ends[main] :])
    on_axis = on_axis[on_axis > 0]
    kept = labels == main
    if len(on_axis):
        # a pegbox narrower than its scroll: the head goes on behind a waist of its own
        far = int(ends[on_axis].max())
        waist = opened(image, round(_WAIST_RADIUS / _CELL)) > 0
        waist[:, : max(ends[main] - round(_STICKS_OUT_RADIUS / _CELL), 0)] = False
        waist[:, far:] = False
        _, whole = cv2.connectedComponents((kept | waist).astype(np.uint8), connectivity=8)
        inside = np.unravel_index(int(np.argmax(kept)), kept.shape)
        kept = whole == whole[inside]
    return np.asarray(kept, dtype=np.uint8), low


def _widths(trunk: tuple[NDArray[np.uint8], Array], count: int) -> Array:
    """Width (mm) of a raster at x = 0.5, 1.5, …"""
    image, low = trunk
    filled = image > 0
    any_row = filled.any(axis=0)
    bottom = filled.argmax(axis=0)
    top = image.shape[0] - 1 - filled[::-1].argmax(axis=0)
    at = np.rint((np.arange(count) + 0.5 - low[0]) / _CELL).astype(int)
    widths: Array = np.where(any_row, (top - bottom + 1) * _CELL, 0.0)[
        np.clip(at, 0, image.shape[1] - 1)
    ]
    return widths


def _join_and_nut(full: Array, trunk: Array) -> tuple[float, float]:
    """x of the body's end and of the nut, both the length where there is no neck."""
    n = len(full)
    widest = int(np.argmax(trunk))
    narrow = np.flatnonzero(trunk[widest:] < _NECK_FRACTION * trunk.max())
    if len(narrow) == 0 or n - (widest + narrow[0]) < _LEAST_NECK_MM:
        return float(n), float(n)
    start = widest + int(narrow[0])
    # a median first: a nick in the edge is no nut
    trunk = median_filter(np.where(trunk > 0, trunk, full), size=17, mode="nearest")
    run = _neck_run(gaussian_filter1d(trunk, 3.0)[start:])
    if run is None:
        return float(start), float(n)
    first, last = start + run[0], start + run[1]
    inner = np.arange(first, last)
    line = np.polyfit(inner, trunk[first:last], 1)
    expected = np.polyval(line, np.arange(n))
    join = first
    while join > widest and trunk[join] < expected[join] + 6.0:
        join -= 1
    nut = last
    # tuners that stick out of something as narrow as the neck still tell where the head begins
    sticking = np.flatnonzero(full[first:] > expected[first:] + 12.0)
    sticking = sticking[sticking > _HEAD_SHARE * (n - first)]
    sticking = _without_a_peg_on_the_neck(sticking, last - first)
    if len(sticking):
        nut = min(nut, first + int(sticking[0]) - 8)
    if n - nut < 12:
        return float(join), float(n)
    return float(join), float(max(nut, join + 1))


def _without_a_peg_on_the_neck(sticking: NDArray[np.intp], straight: int) -> NDArray[np.intp]:
    """Where something sticks out of neck or head, without a lone peg behind which the neck goes on.

    Args:
        sticking: (K,) places, a mm apart, in order.
        straight: the place where neck and head leave the straight line.
    """
    if not len(sticking):
        return sticking
    first = np.split(sticking, np.flatnonzero(np.diff(sticking) > _GOES_ON_MM) + 1)[0]
    lone = first[-1] - first[0] < _PEG_MM and first[-1] + _GOES_ON_MM < straight
    return sticking[len(first) :] if lone else sticking


def _neck_run(width: Array) -> tuple[int, int] | None:
    """Where the widths (N,), a mm apart, of what follows the body lie on one straight line.

    Lines through pairs of them are tried; the first of the long runs is the neck, for it comes
    before its headstock, whose sides may be straight too.
    """
    n = len(width)
    at = np.arange(0, n, _TRIED_EVERY_MM)
    i, j = (at[k] for k in np.triu_indices(len(at), 1))
    apart = j - i
    slope = (width[j] - width[i]) / np.maximum(apart, 1)
    some = (apart >= _LEAST_RUN_MM) & (np.abs(slope) < _STEEPEST_TAPER)
    i, slope = i[some], slope[some]
    if len(i) == 0:
        return None
    off = width - (width[i, None] + slope[:, None] * (np.arange(n) - i[:, None]))
    rows = np.abs(off) < _OFF_THE_TAPER_MM
    count, runs = rows.sum(axis=1), _longest_runs(rows, off <= -_OFF_THE_TAPER_MM)
    best: list[tuple[int, int]] = []
    longest_run = 0
    for which in np.argsort(-count, kind="stable"):
        if count[which] < _LONG_RUN * longest_run / 2:
            break  # too few are left for a long run
        start, stop = runs[which].tolist()
        if stop > start:
            longest_run = max(longest_run, stop - start)
            best.append((start, stop))
    length = longest_run
    if length < _LEAST_RUN_MM:
        return None
    long = [(start, stop) for start, stop in best if stop - start >= _LONG_RUN * length]
    earliest = min(start for start, _ in long)
    return max(
        (run for run in long if run[0] <= earliest + _LEAST_RUN_MM), key=lambda run: run[1] - run[0]
    )


def _longest_runs(rows: NDArray[np.bool_], narrower: NDArray[np.bool_]) -> NDArray[np.intp]:
    """(R, 2) first and behind the last place of the longest run in each row (R, N), 0 and 0 where
    there is none; a nick between two pieces of a run is passed over, and between two long ones a
    bay, where it is narrower (R, N): nothing else leaves a neck's taper and comes back to it."""
    found = np.zeros((len(rows), 2), dtype=np.intp)
    padded = np.pad(rows, ((0, 0), (1, 1)))
    turns = np.flatnonzero(padded[:, 1:] != padded[:, :-1])
    row, at = np.divmod(turns.reshape(-1, 2), rows.shape[1] + 1)
    pieces = at[:, 1] - at[:, 0] >= _LEAST_PIECE_MM
    row, starts, stops = row[pieces, 0], at[pieces, 0], at[pieces, 1]
    if not len(row):
        return found
    gap, long = starts[1:] - stops[:-1], stops - starts >= _BESIDE_A_BAY_MM
    less = np.pad(narrower.cumsum(axis=1), ((0, 0), (1, 0)))
    bay = less[row[1:], starts[1:]] - less[row[:-1], stops[:-1]] == gap
    bay &= (gap <= _BAY_MM) & long[1:] & long[:-1]
    parted = (np.diff(row) > 0) | ((gap > _NICK_MM) & ~bay)
    firsts = np.concatenate([[0], np.flatnonzero(parted) + 1])
    lasts = np.concatenate([firsts[1:], [len(row)]]) - 1
    runs = np.column_stack([starts[firsts], stops[lasts]])
    # of each row the longest, of equals the first
    order = np.lexsort((runs[:, 0] - runs[:, 1], row[firsts]))
    which, longest = np.unique(row[firsts][order], return_index=True)
    found[which] = runs[order][longest]
    return found


def _sticking_out(points: Array, trunk: tuple[NDArray[np.uint8], Array]) -> NDArray[np.bool_]:
    """Points on something that stands at least 3 mm off the trunk."""
    image, low = trunk
    distance = cv2.distanceTransform(1 - image, cv2.DIST_L2, 5) * _CELL
    cells = np.rint((points - low) / _CELL).astype(int)
    h, w = image.shape
    off = distance[np.clip(cells[:, 1], 0, h - 1), np.clip(cells[:, 0], 0, w - 1)]
    out = np.zeros(len(points), dtype=bool)
    # a protrusion is a run of points off the trunk that gets 3 mm away somewhere
    away = off > 0.8
    if away.all():
        return out
    for members in runs_of(away):
        if off[members].max() > 3.0:
            out[members] = True
    return out
