"""A line drawn on a pale paper that lies on the mat: found, followed, measured across itself."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates
from skimage.morphology import skeletonize

from profiler.silhouette.level import Level

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: from the paper's own edge nothing is looked at, mm
_RIM_MM = 3.0
#: the paper's light is the brightest within this, mm
_PAPER_MM = 5.0
#: part of the paper's light that a line takes away: surely, and where it hangs on to that
_DARK, _FAINT = 0.30, 0.15
#: what is shorter is writing or a speck, mm
_LEAST_MM = 25.0
#: an end nearer than this to where the paper ends is cut off there, mm
_CUT_MM = 0.6
#: a hollow in a paper is paper too if this part of it is as light and of its colour, as a logarithm
#: (a guess)
_MOSTLY, _PALE = 0.6, 0.25
#: a second line so long beside the longest is another profile
_RIVAL = 0.6
#: what a closed line goes round is at least so large, mm²
_LEAST_HOLE_MM2 = 100.0
#: cells at a skeleton's end that may turn aside
_CROOKED = 6
#: across the line it is looked so far, mm
_ACROSS_MM = 1.6


@dataclass(frozen=True)
class DrawnLine:
    """Attributes:
    points: (N, 2) mm, mat frame, along the middle of the line.
    closed: it comes back to its start; the first point is not repeated.
    width: mm, of the line.
    rival: length of the next longest line over this one's.
    cut: an end of it lies where the paper, or what was taken for it, ends.
    """

    points: Array
    closed: bool
    width: float
    rival: float
    cut: bool = False


def find_line(level: Level) -> DrawnLine | None:
    """The longest line drawn on what the level picture's mask covers, None where there is none."""
    cell = level.cell
    rim = max(3, 2 * round(_RIM_MM / cell) + 1)
    inner = cv2.erode(_paper(level).astype(np.uint8), np.ones((rim, rim), np.uint8)) > 0
    if inner.sum() * cell**2 < 200.0:
        return None
    gray = level.light.mean(axis=2)
    dark = _darkness(gray, inner, cell)
    sure, faint = (dark > _DARK) & inner, (dark > _FAINT) & inner
    _, numbered = cv2.connectedComponents(faint.astype(np.uint8), connectivity=8)
    held = np.unique(numbered[sure])
    lines = np.isin(numbered, held[held > 0])
    bones = skeletonize(lines)
    count, pieces = cv2.connectedComponents(bones.astype(np.uint8), connectivity=8)
    sizes = np.bincount(pieces.ravel(), minlength=count)[1:] * cell
    if not len(sizes) or sizes.max() < _LEAST_MM:
        return None
    main = int(np.argmax(sizes)) + 1
    rest = np.sort(sizes)[::-1]
    rival = float(rest[1] / rest[0]) if len(rest) > 1 else 0.0
    whole = cv2.connectedComponents(lines.astype(np.uint8), connectivity=8)[1]
    ring = _ring(whole == whole[pieces == main][0], cell)
    closed = ring is not None
    path = _path(pieces == main) if ring is None else ring
    if len(path) * cell < _LEAST_MM:
        return None
    points, width = _centred(path, dark, closed, cell)
    uv = points * cell + level.corner
    within = cv2.distanceTransform(inner.astype(np.uint8), cv2.DIST_L2, 5)
    ends = np.rint(path[[0, -1]]).astype(np.intp)
    cut = not closed and bool((within[ends[:, 1], ends[:, 0]] * cell < _CUT_MM).any())
    return DrawnLine(level.to_mat(uv), closed, width, rival, cut)


def is_rival(line: DrawnLine) -> bool:
    """Whether a second line is so long that it may be meant as well."""
    return line.rival > _RIVAL


def _paper(level: Level) -> Mask:
    """(H, W) the whole paper: a white seam of the mat beside it may be missing in its mask.

    A paper has no hollows, so they are filled if they are as pale as it is, but for the line.
    """
    mask = level.mask.astype(np.uint8)
    rows, columns = np.nonzero(mask)
    hull = cv2.convexHull(np.column_stack([columns, rows]).astype(np.int32))
    whole = np.zeros_like(mask)
    cv2.fillConvexPoly(whole, hull, 1)
    added = (whole > 0) & ~level.mask
    if not added.any():
        return level.mask
    paper = np.median(level.light[level.mask], axis=0)
    off = np.abs(np.log(np.maximum(level.light, 1e-3) / paper))
    pale = added & (off < _PALE).all(axis=2)
    if pale.sum() < _MOSTLY * added.sum():
        return level.mask
    # the line itself is not pale
    over = max(3, 2 * round(_ACROSS_MM / level.cell) + 1)
    kernel = np.ones((over, over), np.uint8)
    filled = (level.mask | pale).astype(np.uint8)
    return np.asarray((cv2.morphologyEx(filled, cv2.MORPH_CLOSE, kernel) > 0) & (whole > 0))


def _darkness(gray: NDArray[np.float32], inner: Mask, cell: float) -> NDArray[np.float32]:
    """(H, W) part of the paper's light that is missing; 0 outside."""
    paper = np.where(inner, gray, 0.0).astype(np.float32)
    reach = 2 * round(_PAPER_MM / cell) + 1
    soft = cv2.GaussianBlur(paper, (0, 0), 0.3 / cell)
    bright = cv2.dilate(soft, np.ones((reach, reach), np.uint8))
    bright = cv2.GaussianBlur(bright, (0, 0), _PAPER_MM / cell)
    return np.asarray(np.where(inner, 1.0 - gray / np.maximum(bright, 1e-4), 0.0), dtype=np.float32)


def _ring(line: Mask, cell: float) -> Array | None:
    """(N, 2) column, row round the inside of a line that closes on itself, else None."""
    contours, family = cv2.findContours(
        line.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE
    )
    rows, columns = np.nonzero(line)
    box = np.array([np.ptp(columns), np.ptp(rows)])
    best: Array | None = None
    for contour, (_, _, _, parent) in zip(contours, family[0], strict=True):
        inside = contour.reshape(-1, 2).astype(np.float64)
        if parent < 0 or cv2.contourArea(contour) * cell**2 < _LEAST_HOLE_MM2:
            continue
        if (np.ptp(inside, axis=0) > 0.6 * box).all() and (best is None or len(inside) > len(best)):
            best = inside
    return best


def _path(bones: Mask) -> Array:
    """(N, 2) column, row along the longest way through one skeleton.

    Short spurs are left aside by themselves: the longest shortest way does not enter them.
    """
    rows, columns = np.nonzero(bones)
    number = np.full(bones.shape, -1, dtype=np.intp)
    number[rows, columns] = np.arange(len(rows))
    padded = np.pad(number, 1, constant_values=-1)
    steps = [(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1) if (a, b) != (0, 0)]
    near = np.stack([padded[rows + 1 + a, columns + 1 + b] for a, b in steps], axis=1)

    def farthest(start: int) -> list[int]:
        before = np.full(len(rows), -2, dtype=np.intp)
        before[start] = -1
        queue, last = deque([start]), start
        while queue:
            last = queue.popleft()
            for neighbour in near[last]:
                if neighbour >= 0 and before[neighbour] == -2:
                    before[neighbour] = last
                    queue.append(int(neighbour))
        way = [last]
        while before[way[-1]] >= 0:
            way.append(int(before[way[-1]]))
        return way

    way = farthest(farthest(0)[0])
    return np.column_stack([columns[way], rows[way]]).astype(np.float64)


def _centred(
    path: Array, dark: NDArray[np.float32], closed: bool, cell: float
) -> tuple[Array, float]:
    """The path moved to the middle of the line's darkness across it, and the line's width, mm."""
    mode = "wrap" if closed else "nearest"
    smooth = gaussian_filter1d(path, 0.6 / cell, axis=0, mode=mode)
    if not closed:  # smoothing draws the ends in
        smooth[0], smooth[-1] = path[0], path[-1]
    tangent = np.gradient(smooth, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    half = round(_ACROSS_MM / cell)
    t = np.arange(-half, half + 1)
    where = smooth[:, None, :] + t[None, :, None] * normal[:, None, :]
    seen = map_coordinates(dark, [where[..., 1], where[..., 0]], order=1, mode="nearest")
    weight = np.clip(seen - 0.3 * seen.max(axis=1, keepdims=True), 0.0, None)
    # what lies beyond a gap is another line
    weight = np.where(np.abs(t)[None, :] <= half, weight, 0.0)
    shift = (weight * t).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-9)
    width = float(np.median(seen.clip(0).sum(axis=1) / np.maximum(seen.max(axis=1), 1e-6))) * cell
    moved = smooth + shift[:, None] * normal
    soft = gaussian_filter1d(moved, 0.3 / cell, axis=0, mode=mode)
    if closed:
        return soft, width
    first, last = (_end(dark, way, width / cell, cell) for way in (soft[::-1], soft))
    return np.vstack([first, soft[_CROOKED:-_CROOKED], last]), width


def _end(dark: NDArray[np.float32], way: Array, width: float, cell: float) -> Array:
    """(2,) column, row where a way along a line ends: half a pen's width before the ink does.

    A skeleton stops short of a line's end, by how much depends on how round that is.
    """
    start = way[-_CROOKED - 1]
    direction = start - way[-_CROOKED - 1 - round(1.5 / cell)]
    direction /= max(float(np.hypot(*direction)), 1e-9)
    steps = np.arange(0.0, 3.0 / cell, 0.25)
    where = start + steps[:, None] * direction
    seen = map_coordinates(dark, [where[:, 1], where[:, 0]], order=1, mode="nearest")
    ends = np.flatnonzero(seen < 0.5 * seen[:4].mean())
    reach = float(steps[ends[0]]) - width / 2 if len(ends) else 0.0
    return np.asarray(start + max(reach, 0.0) * direction)
