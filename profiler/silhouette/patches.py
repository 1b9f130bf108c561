"""Patches of a drifted hue: ground where they pass into sure ground smoothly."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.ground import TARGET, TINT, UNSURE, Plan

#: step of log light from cell to cell that no soft shadow makes
SHARP_STEP = 0.16
#: share of a patch's border that tells, below which its hue alone decides; share of it that must
#: then be of the ground's hue
_UNTOLD, _MOSTLY = 0.35, 0.7
#: cells over which an edge is blurred
_HALO = 3
#: cells across a photo's edge; what is as broad is a soft step
_EDGE = 5
#: a gap in a fence up to so many cells wide is none
_GAP = 5
#: cells round a place where a print is seen that still are of that print
_ROUND = 9
#: a target leads to no ground that is so much darker, log light, as what is seen beside the rest of
#: it: an instrument of the ground's hue lies half over it; so near is beside, cells
_PARTING, _BESIDE = 0.8, 9
#: shares of what is beside it that are no darker than its dark and its bright side
_SIDES = 0.1, 0.9
#: share of a patch's border that has to lie clear of other edges to speak for all of it
_OPEN = 0.3
#: a patch with a narrow mouth is ground if so much of the mouth shows no sharp step, and so much of
#: the patch lies clear of its rim: a fret is narrow all along
_CALM, _BROAD = 0.2, 0.3


def fenced_off(
    sure: NDArray[np.bool_],
    steps: NDArray[np.float32],
    shade: NDArray[np.float32],
    shown: NDArray[np.bool_],
    plan: Plan,
) -> NDArray[np.bool_]:
    """(H, W): sure cells of bare tint that sharp steps part from the rest of the ground.

    A glossy wall mirrors the mat, and its hue with it; but no soft shadow ends as sharply. What is
    fenced off need not be instrument: it may be a pocket between pegs.

    Args:
        sure: (H, W) cells of the ground's hue.
        steps: (H, W) change of log light from cell to cell.
        shade: (H, W) log light, where the bare ground's own is 0.
        shown: (H, W) cells round which a target's print is seen.
        plan: the photo laid flat.
    """
    bare, target = plan.printed == TINT, (plan.printed & TARGET) > 0
    # a target whose print is not seen is no gate
    near = cv2.dilate(shown.astype(np.uint8), np.ones((_ROUND, _ROUND), np.uint8)) > 0
    gate = target & (near | ((plan.printed & UNSURE) > 0))
    gate &= ~_parting(target, sure & bare, shade)
    # the print's own steps are no fence
    seam = cv2.dilate((~bare & (gate | ~target)).astype(np.uint8), np.ones((5, 5))) > 0
    # nor is a deep shadow's border, as steep as it may be: it is broader than a blurred edge
    narrow = cv2.morphologyEx(steps, cv2.MORPH_TOPHAT, np.ones((_EDGE, _EDGE), np.uint8))
    ridge = ((steps > SHARP_STEP) & (narrow > 0.5 * steps)).astype(np.uint8)
    fence = (steps > SHARP_STEP) & (cv2.dilate(ridge, np.ones((3, 3), np.uint8)) > 0) & ~seam
    open_ = (sure & ~fence) | gate
    # nor is a gap of a few cells a gate: there the step is lost in noise or beside a print
    round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_GAP, _GAP))
    broad = cv2.morphologyEx(open_.astype(np.uint8), cv2.MORPH_OPEN, round_)
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(broad, connectivity=4)
    if count < 2:
        return np.zeros_like(sure)
    most = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    reached = (pieces == most).astype(np.uint8)
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    for _ in range(_GAP // 2 + 1):
        reached = cv2.dilate(reached, cross) & open_.astype(np.uint8)
    reached = cv2.dilate(reached, np.ones((3, 3), np.uint8))
    return np.asarray(sure & bare & (reached == 0))


def _parting(
    target: NDArray[np.bool_], ground: NDArray[np.bool_], shade: NDArray[np.float32]
) -> NDArray[np.bool_]:
    """(H, W): cells of targets beside which what passes for ground is of two lights."""
    _, labels = cv2.connectedComponents(target.astype(np.uint8))
    numbers = labels.astype(np.float32)
    beside = cv2.dilate(numbers, np.ones((2 * _BESIDE + 1, 2 * _BESIDE + 1), np.uint8))
    cells = ground & (beside > 0)
    which, light = beside[cells].astype(np.intp), shade[cells]
    light = light[np.lexsort((light, which))]
    counts = np.bincount(which, minlength=int(labels.max()) + 1)
    first, some = np.cumsum(counts) - counts, counts > 0
    parting = np.zeros(len(counts), dtype=bool)
    low, high = (first[some] + (share * (counts[some] - 1)).astype(np.intp) for share in _SIDES)
    parting[some] = light[high] - light[low] > _PARTING
    return np.asarray(parting[labels])


def passes_into_ground(
    labels: NDArray[np.int32],
    steps: NDArray[np.float32],
    telling: NDArray[np.float64],
    tinted: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """By label: 1 is ground, 2 is not; a patch is where its border with ground is no sharp step.

    A patch that meets the ground at a printed edge only, shut in by it and by pegs, has no border
    that tells; it is ground if most of it is of the ground's hue. `telling` says how much each
    cell's step says about what lies on the mat, `tinted` which cells are of the ground's hue.
    """
    count = int(labels.max()) + 1
    border, sharpness, length = np.zeros(count), np.zeros(count), np.zeros(count)
    h, w = labels.shape
    ground = (labels == 1).astype(np.uint8)
    # the blurred edge of a third thing beside it says nothing about the border
    halo = np.ones((2 * _HALO + 1, 2 * _HALO + 1), np.uint8)
    clear = cv2.dilate((labels == 2).astype(np.uint8), halo) == 0
    open_, gentle, calm = np.zeros(count), np.zeros(count), np.zeros(count)
    beside = cv2.dilate(ground, cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))) > 0
    patches = labels > 2
    rows, columns = np.divmod(np.flatnonzero(beside & patches), w)
    for down, right in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        there = np.clip(rows + down, 0, h - 1), np.clip(columns + right, 0, w - 1)
        meets = ground[there] > 0  # a patch's cell at the rim meets itself, which is no ground
        here, there = (rows[meets], columns[meets]), (there[0][meets], there[1][meets])
        which = labels[here]
        step = np.maximum(steps[here], steps[there])
        say = np.minimum(telling[here], telling[there])
        border += np.bincount(which, weights=say, minlength=count)
        length += np.bincount(which, minlength=count)
        sharpness += np.bincount(which, weights=say * step, minlength=count)
        calm += np.bincount(which, weights=say * (step < SHARP_STEP), minlength=count)
        say = say * (clear[here] & clear[there])
        open_ += np.bincount(which, weights=say, minlength=count)
        gentle += np.bincount(which, weights=say * step, minlength=count)
    smooth = (border > 0) & (sharpness < 0.75 * SHARP_STEP * border)
    smooth |= (open_ > _OPEN * border) & (gentle < 0.75 * SHARP_STEP * open_)
    shut_in = (length > 0) & (border < _UNTOLD * length)
    narrow = ~shut_in & (open_ <= _OPEN * border) & (calm > _CALM * border)
    if shut_in[3:].any() or narrow[3:].any():
        which = labels[patches]
        area = np.bincount(which, minlength=count)
        alike = np.bincount(which[tinted[patches]], minlength=count)
        smooth |= shut_in & (alike > _MOSTLY * area)
        inner = np.bincount(which[_inner(labels)[patches]], minlength=count)
        smooth |= narrow & (alike > _MOSTLY * area) & (inner > _BROAD * area)
    smooth[:3] = (False, True, False)[:count]
    return smooth


def _inner(labels: NDArray[np.int32]) -> NDArray[np.bool_]:
    """(H, W): cells whose neighbours all bear their own label."""
    same = labels.astype(np.float32)
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    return np.asarray(cv2.dilate(same, cross) == cv2.erode(same, cross))
