"""Where the mat's print itself is seen, whatever the shade and the colour of the light on it.

Deep in a pocket of shadow, in light that bounced off a bright wall, neither shade nor hue of the
ground says that it is ground. But its print is known: where the photo is the print times one light,
as linear regression through the origin tells, the print is what is seen, and the slope is that
light. A mirror shows the print at another place, and turned over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.cores import on_cores
from profiler.optics.light import channels
from profiler.silhouette.ground import TARGET, TINT, UNSURE, WHITE, Lighting, Plan, print_light
from profiler.silhouette.pieces import disc

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: mm, sigma of the place that is compared: a print's squares are some 3 mm wide
_NEAR_MM = 1.3
#: the print has to vary by this there, where tint is 1: white and black are 1 apart
_SPREAD = 0.25
#: share of the photo's variance there that the print has to explain; a guess between what is seen
#: in shadow (above 0.95) and beside an edge
_EXPLAINED = 0.85
#: mm, sigma: so near paper and tint are compared; so much of each has to be near
_SEAM_MM, _SEAM_SHARE = 4.0, 0.02
#: log light: only what is darker is asked, for a shadow's edge may lie on a seam, and tape is pale
_SHADED = -0.7
#: mm, sigma: so near is the tint on either side of white paper; light of departed tint and of the
#: paper beside it may differ by this, log light, if one thing is to cover both; it is no tape if it
#: is so large, mm²
_STRIP_MM, _ONE_COLOUR, _NO_TAPE_MM2 = 5.0, 0.15, 6000.0
#: linear light over the lit tint's below which nothing is told
_LEAST_LIGHT = 0.01


@dataclass(frozen=True)
class Shown:
    """Where the print is seen.

    Attributes:
        there: (H, W) cells round which it is.
        light: (H, W, 3) log light of bare tint there, over the lit tint's; 0 elsewhere.
    """

    there: Mask
    light: Image


def shown_print(plan: Plan, lighting: Lighting) -> Shown:
    """Where the photo is the print of targets in one light."""
    there = np.zeros(plan.printed.shape, dtype=bool)
    light = np.zeros(plan.light.shape, dtype=np.float32)
    asked = ((plan.printed & TARGET) > 0) & ((plan.printed & UNSURE) == 0) & plan.seen
    if not asked.any():
        return Shown(there, light)
    rows, columns = np.flatnonzero(asked.any(axis=1)), np.flatnonzero(asked.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    inks = zip(lighting.white, lighting.black, strict=True)
    own = [print_light(plan, float(white), float(black))[box] for white, black in inks]
    seen = [
        np.asarray(a / np.maximum(b, 1e-5), dtype=np.float32)
        for a, b in zip(channels(plan.light[box]), channels(lighting.lit[box]), strict=True)
    ]
    colours = list(zip(own, seen, strict=True))
    told = on_cores(lambda pair: _regression(*pair, _NEAR_MM / plan.cell), colours)
    slopes, left, varies, spread = zip(*told, strict=True)
    explained = 1 - _sum(left) / np.maximum(_sum(varies), 1e-9)
    found = asked[box] & (explained > _EXPLAINED) & (_sum(spread) / 3 > _SPREAD**2)
    found &= np.minimum.reduce(slopes) > _LEAST_LIGHT
    there[box] = found
    for channel, slope in enumerate(slopes):
        light[box][..., channel] = np.where(found, np.log(np.maximum(slope, _LEAST_LIGHT)), 0)
    return Shown(there, light)


def _regression(own: Image, seen: Image, size: float) -> tuple[Image, Image, Image, Image]:
    """(h, w) each, round each cell: slope of what is seen on the print, through the origin.

    And the mean square that it leaves, variance of what is seen, variance of the print.
    """

    def near(layer: Image) -> Image:
        return np.asarray(cv2.GaussianBlur(layer, (0, 0), size), dtype=np.float32)

    both, square = near(own * seen), near(own * own)
    slope = np.asarray(both / np.maximum(square, np.float32(1e-6)), dtype=np.float32)
    mean, mean_square = near(seen), near(seen * seen)
    left = np.maximum(mean_square - slope * both, np.float32(0))
    return slope, left, mean_square - mean * mean, square - near(own) ** 2


def _sum(layers: Sequence[Image]) -> Image:
    blue, green, red = layers
    return np.asarray(blue + green + red, dtype=np.float32)


def unexpected(shown: Shown, covered: Mask, cell: float) -> Shown:
    """The same at prints where it says something new: where some of it was taken for covered.

    At the others the tint beside the print knows its light better.

    Args:
        shown: where the print is seen.
        covered: (H, W) where it is thought not to be, by its shade and hue.
        cell: mm.
    """
    new = cv2.morphologyEx((shown.there & covered).astype(np.uint8), cv2.MORPH_OPEN, disc(1 / cell))
    if not new.any():
        return Shown(new > 0, shown.light)
    _, prints = cv2.connectedComponents(shown.there.astype(np.uint8), connectivity=8)
    asked = np.unique(prints[new > 0])
    there = np.isin(prints, asked[asked > 0])
    return Shown(there, np.where(there[..., None], shown.light, np.float32(0)))


def light_round(shown: Shown, cell: float, reach: float) -> tuple[Image, Image]:
    """(H, W, 3) log light that the print shows near each cell, and (H, W) how much of it is near.

    Args:
        shown: where it is seen.
        cell: mm.
        reach: mm, sigma.
    """
    weight = cv2.GaussianBlur(shown.there.astype(np.float32), (0, 0), reach / cell)
    planes = [cv2.GaussianBlur(plane, (0, 0), reach / cell) for plane in channels(shown.light)]
    some = np.maximum(weight, np.float32(1e-5))
    return np.dstack([plane / some for plane in planes]).astype(np.float32), np.asarray(weight)


def paper_unseen(plan: Plan, lighting: Lighting, shade: Image, hue: tuple[Image, Image]) -> Mask:
    """(H, W): dark cells of seams round which white paper does not differ from the tint beside it.

    A shadow leaves paper as much paler than tint as it was; a dark fingerboard hides both.

    Args:
        plan: the photo laid flat.
        lighting: of the ground.
        shade: (H, W) log light over the lit tint's, its mean.
        hue: (H, W) what blue and red have more than that.
    """
    dark = plan.seen & (shade < _SHADED)
    paper, tint = dark & (plan.printed == WHITE), dark & (plan.printed == TINT)
    asked = dark & ((plan.printed & WHITE) > 0) & ((plan.printed & TARGET) == 0)
    none = np.zeros(plan.printed.shape, dtype=bool)
    rows, columns = np.flatnonzero(asked.any(axis=1)), np.flatnonzero(asked.any(axis=0))
    if not len(rows) or not paper.any():
        return none
    by = round(3 * _SEAM_MM / plan.cell)
    box = np.s_[
        max(rows[0] - by, 0) : rows[-1] + by + 1, max(columns[0] - by, 0) : columns[-1] + by + 1
    ]

    def near(layer: Image) -> Image:
        return np.asarray(cv2.GaussianBlur(layer, (0, 0), _SEAM_MM / plan.cell), dtype=np.float32)

    of_paper, of_tint = (mask[box].astype(np.float32) for mask in (paper, tint))
    much = [near(weight) for weight in (of_paper, of_tint)]
    expected = np.log(np.maximum(lighting.white, 1e-3))
    seen = np.zeros(of_paper.shape, dtype=np.float32)
    blue, red = hue[0][box], hue[1][box]
    for more, differs in zip((blue, -blue - red, red), expected, strict=True):
        light = shade[box] + more
        means = [
            near(weight * light) / np.maximum(share, np.float32(1e-5))
            for weight, share in zip((of_paper, of_tint), much, strict=True)
        ]
        seen += np.float32(differs) * (means[0] - means[1])
    # nearer to no difference than to the print's
    missing = seen < 0.5 * float(expected @ expected)
    missing &= (much[0] > _SEAM_SHARE) & (much[1] > _SEAM_SHARE)
    none[box] = missing & asked[box]
    return none


def tint_unseen(
    plan: Plan, shade: Image, hue: tuple[Image, Image], departed: Mask, ground: Mask
) -> Mask:
    """(H, W): cells of seams beside which no tint is seen, but what has the paper's own colour.

    White paper is where a white instrument cannot be told from it. But a seam runs between tint and
    tint: where both are hidden by something of one colour with it, it is hidden as well.

    Args:
        plan: the photo laid flat.
        shade, hue: as for `paper_unseen`.
        departed, ground: (H, W) what is surely no ground, and what is surely ground.
    """
    none = np.zeros(plan.printed.shape, dtype=bool)
    asked = plan.seen & ((plan.printed & WHITE) > 0) & ((plan.printed & TARGET) == 0)
    tint = plan.seen & (plan.printed == TINT)
    if not asked.any():
        return none

    def near(layer: Mask | Image) -> Image:
        soft = cv2.GaussianBlur(layer.astype(np.float32), (0, 0), _STRIP_MM / plan.cell)
        return np.asarray(soft, dtype=np.float32)

    hidden = tint & departed
    weight, bare = near(hidden), near(tint & ground)
    covered = asked & ~departed & (weight > bare) & (weight > _SEAM_SHARE)
    if not covered.any():
        return none
    some = np.maximum(weight, np.float32(1e-5))
    for plane in (shade, *hue):
        covered &= np.abs(plane - near(np.where(hidden, plane, 0)) / some) < _ONE_COLOUR
    _, pieces, stats, _ = cv2.connectedComponentsWithStats(
        (departed | covered).astype(np.uint8), connectivity=8
    )
    large = stats[:, cv2.CC_STAT_AREA] * plan.cell**2 > _NO_TAPE_MM2
    large[0] = False
    return np.asarray(covered & large[pieces])
