"""An instrument of the ground's own colour: where colour tells nothing, what is missing tells.

Pale wood on a pale tint has the tint's hue. But the mat's print is known, and where a target should
be seen and is not, something lies on it, whatever its colour; cards lie on the instrument; and a
target that is seen whole is bare. Between these the border is laid where the photo shows steps,
as short as it can be: a minimum cut (Boykov and Jolly 2001) on coarse cells, its border then
settled on the plan's own cells by a watershed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter
from skimage.segmentation import watershed

from profiler.optics.light import channels
from profiler.silhouette.cut import BESIDE, cheapest_border
from profiler.silhouette.pieces import disc

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: mm, side of the coarse cells: a binding is about as wide
_COARSE_MM = 2.0
#: a piece of missing print is a sure sign of a look-alike if it is most of a target (mm²; a
#: target's print is about 900), if so much of what surrounds it looks like ground, and if that is
#: as bright as it (log light)
_SURE_MM2, _SURE_SHARE, _SURE_SHADE = 500.0, 0.5, 0.1
#: where there is a sure sign, lesser ones count as well
_LEAST_MM2, _LEAST_SHARE, _LEAST_SHADE = 100.0, 0.2, 0.25
#: mm: so much round a piece is looked at
_ROUND_MM = 4.0
#: mm: missing print and departed cells count where they are broader than this
_BROAD_MM = 1.5
#: what it costs, per mm², to call cells of the ground's look instrument: where the instrument has
#: that look as well, and where it has not
_EITHER, _UNLIKE = 0.004, 0.1
#: the same for thin departed cells, a binding or noise, to be called ground
_THIN = 0.2
#: a border costs 1 per mm where nothing is seen; a step (log light) of this halves that, or one
#: that is so many times as large as the usual one within the instrument where it looks like the
#: ground: grain, noise; but no more than this, which is a step and no grain: frets over a fretboard
_STEP, _OF_GRAIN, _NO_GRAIN = 0.06, 2.5, 0.15
#: linear light below which proportions mean nothing
_DARK = 0.004
#: colours are compared in boxes of this size: log shade, log hue
_SHADE_BOX, _HUE_BOX = 0.1, 0.05
#: a colour is the instrument's too where so much of what was seen of it has that colour
_SHOWN = 0.002
#: mm: further outside the hull of what was found nothing of the instrument is looked for
_BEYOND_MM = 30.0
#: coarse cells on either side of the coarse border between which the fine one is sought
_BAND = 2
#: share of a coarse cell that is all of it
_ALL = 0.99


@dataclass(frozen=True)
class Look:
    """What is seen, (H, W) each.

    Attributes:
        shade, hue: log light over the lit tint's: its mean, and what each of two planes has more.
        light: (H, W, 3) linear.
        steps: change of log light from cell to cell.
        like_ground: no departure is seen: the colour may be that of what is printed.
        seam: a sheet may end there: its step of light says nothing about what lies on it.
    """

    shade: Image
    hue: tuple[Image, Image]
    light: Image
    steps: Image
    like_ground: Mask
    seam: Mask


def hidden_by_its_like(
    look: Look,
    departed: Mask,
    missing: Mask,
    cards: Mask,
    bare: Mask,
    on_mat: Mask,
    cell: float,
) -> Mask:
    """(H, W): cells of the ground's look that the instrument covers all the same.

    Args:
        look: of the cells.
        departed: (H, W) what has not the ground's look, as far as it is known.
        missing: (H, W) cells whose print is not seen.
        cards: (H, W) cells that a card lies on.
        bare: (H, W) cells of targets that are seen whole.
        on_mat: (H, W) where the mat is and the photo shows it.
        cell: mm.
    """
    none = np.zeros(departed.shape, dtype=bool)
    seeds = _lost(
        _opened(missing & look.like_ground, cell), look.shade, departed | cards, on_mat, cell
    )
    if not seeds.any():
        return none
    missed = seeds & missing & look.like_ground
    by = max(1, round(_COARSE_MM / cell))
    size = by * cell
    shown = _opened(departed | missing, cell) | seeds | cards
    sure, thin, whole, mat, alike = (
        _share(mask, by) for mask in (shown, departed, bare, on_mat, missed)
    )
    either = _alike([_pooled(plane, by) for plane in look.hue], alike)
    # what has the ground's look and no print missing is ground, cheaply or dearly
    area = np.float32(size**2)
    take = np.where(either, np.float32(_EITHER), np.float32(_UNLIKE)) * area
    keep = np.float32(_THIN) * thin * area
    light = np.dstack([_pooled(plane, by) for plane in channels(look.light)])
    borders = _borders(np.log(light + _DARK), _share(look.seam, by) > 0, alike > _ALL, size)
    certain = sure > 0.5
    open_cells = ~certain & (whole < 0.5) & (mat > 0.5) & _round(certain, size)
    took = cheapest_border(open_cells, certain, keep, take, borders)
    # it is asked for what surrounds missing print only: elsewhere colour tells
    _, parts = cv2.connectedComponents((took & (thin < 0.5)).astype(np.uint8), connectivity=4)
    round_ = cv2.dilate((_share(seeds, by) > 0).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    asked = np.unique(parts[round_])
    took &= np.isin(parts, asked[asked > 0])
    if not took.any():
        return none
    return _settled(took.astype(np.uint8), shown, look.steps, on_mat, by)


def _lost(evidence: Mask, shade: Image, departed: Mask, on_mat: Mask, cell: float) -> Mask:
    """(H, W): pieces of the evidence that the ground seems to surround, in their own shade."""
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(
        evidence.astype(np.uint8), connectivity=8
    )
    lost = np.zeros(count, dtype=bool)
    sure = False
    reach = max(2, round(_ROUND_MM / cell))
    kernel = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    areas = stats[:, cv2.CC_STAT_AREA] * cell**2
    for number in np.flatnonzero(areas[1:] > _LEAST_MM2) + 1:
        x, y, w, h = stats[number, :4]
        rows = slice(max(y - reach, 0), y + h + reach)
        columns = slice(max(x - reach, 0), x + w + reach)
        piece = (pieces[rows, columns] == number).astype(np.uint8)
        ring = (cv2.dilate(piece, kernel) > 0) & (piece == 0) & on_mat[rows, columns]
        ground = ring & ~departed[rows, columns]
        share = float(ground.sum()) / max(float(ring.sum()), 1.0)
        if share > _LEAST_SHARE:
            here = shade[rows, columns]
            apart = abs(float(np.median(here[piece > 0])) - float(np.median(here[ground])))
            lost[number] = apart < _LEAST_SHADE
            sure |= areas[number] > _SURE_MM2 and share > _SURE_SHARE and apart < _SURE_SHADE
    if not sure:
        lost[:] = False
    return np.asarray(lost[pieces])


def _alike(hue: Sequence[Image], missed: Image) -> Mask:
    """(h, w): cells of a hue that is seen where print is missed, in whatever shade."""
    most = 12
    boxes = [
        np.clip(np.rint(plane / _HUE_BOX), -most, most).astype(np.intp) + most for plane in hue
    ]
    side = 2 * most + 1
    index = boxes[0] * side + boxes[1]
    counts = np.bincount(index[missed > _ALL], minlength=side**2)
    # noise carries a colour into the boxes beside it
    near = maximum_filter(counts.reshape(side, side), size=3).ravel()
    return np.asarray(near[index] > _SHOWN * max(int(counts.sum()), 1))


def _opened(mask: Mask, cell: float) -> Mask:
    round_ = disc(_BROAD_MM / 2 / cell)
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, round_) > 0)


def _pooled(plane: Image, by: int) -> Image:
    """(H / by, W / by), rounded up: the mean of each block of cells."""
    h, w = plane.shape
    padded = cv2.copyMakeBorder(plane, 0, -h % by, 0, -w % by, cv2.BORDER_REPLICATE)
    size = (padded.shape[1] // by, padded.shape[0] // by)
    return np.asarray(cv2.resize(padded, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _share(mask: Mask, by: int) -> Image:
    return _pooled(mask.astype(np.float32), by)


def _round(certain: Mask, size: float) -> Mask:
    """(h, w): the hull of what is certain, and a little more."""
    points = cv2.findNonZero(certain.astype(np.uint8))
    hull = np.zeros(certain.shape, dtype=np.uint8)
    cv2.fillConvexPoly(hull, cv2.convexHull(points), 1)
    reach = 2 * round(_BEYOND_MM / size) + 1
    return np.asarray(cv2.dilate(hull, np.ones((reach, reach), np.uint8)) > 0)


def _borders(logs: Image, seam: Mask, missed: Mask, size: float) -> list[Image]:
    """(h, w - 1) and (h - 1, w) what a border costs between coarse cells.

    Args:
        logs: (h, w, 3) log light.
        seam: (h, w) cells in which a sheet may end.
        missed: (h, w) cells of the instrument that look like ground.
        size: mm, of a cell.
    """
    steps = [
        np.where(seam[here] | seam[there], 0.0, np.abs(logs[here] - logs[there]).max(axis=2))
        for here, there in BESIDE
    ]
    grain = np.concatenate(
        [
            step[missed[here] & missed[there]]
            for step, (here, there) in zip(steps, BESIDE, strict=True)
        ]
    )
    of_grain = min(_OF_GRAIN * float(np.median(grain)), _NO_GRAIN) if len(grain) else 0.0
    clear = max(_STEP, of_grain)
    return [np.asarray(size / (1 + (step / clear) ** 4), dtype=np.float32) for step in steps]


def _settled(taken: NDArray[np.uint8], shown: Mask, steps: Image, on_mat: Mask, by: int) -> Mask:
    """(H, W) the coarse border laid on the steps that it runs along."""
    h, w = shown.shape
    kernel = np.ones((2 * _BAND + 1, 2 * _BAND + 1), np.uint8)
    inner, outer = cv2.erode(taken, kernel), cv2.dilate(taken, kernel)
    fine = [
        np.repeat(np.repeat(m, by, axis=0), by, axis=1)[:h, :w] > 0 for m in (inner, outer, taken)
    ]
    markers = np.zeros((h, w), dtype=np.int32)
    markers[~fine[1]] = 1
    markers[fine[0] | (shown & fine[2])] = 2
    band = on_mat & fine[1] & ~fine[0]
    rim = cv2.dilate(band.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    laid = watershed(steps, np.where(rim, markers, 0), mask=rim)
    return np.asarray(on_mat & (fine[0] | ((laid == 2) & band)))
