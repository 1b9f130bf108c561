"""The border where it winds, laid anew at the photo's own resolution.

A tuner's shaft is some ten pixels wide, and the mask's cells are two: its closings fill the corners
between shaft, button and head, and what is left of them is round. Here each pixel near such a
border is asked what explains it better: the print in the light of the ground beside it, or the look
of the instrument just inside. The border between them is a minimum cut, as in `silhouette.cut`,
which finds the thing; this finds its shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.measure import find_contours

from profiler.cores import on_cores
from profiler.geometry.curves import signed_area
from profiler.silhouette.closer import TIMES, Box, Closer, magnified, smoothly_magnified
from profiler.silhouette.cut import NOISE_LIGHT, border_costs, cheapest_border
from profiler.silhouette.ground import Lighting, Plan
from profiler.silhouette.inked import Divisor, print_divisor
from profiler.silhouette.pieces import disc, in_one_piece
from profiler.silhouette.winding import winding

Array = NDArray[np.float64]
Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: so far out and in from where it was the border may move, mm
_OUTWARD_MM, _INWARD_MM = 1.6, 2.0
#: and so far beside a slot, mm
_BESIDE_SLOT_MM = 0.8
#: so far round a place its pixels' neighbours are taken from, mm; longer ones are settled part by
#: part, mm
_MARGIN_MM, _LONGEST_MM = 5.0, 200.0
# What follows are guesses, tried on rendered photos; the result hardly changes where one is half as
# large again.
#: bare ground is ground no nearer than so far from the mask, mm, and no darker print than this
#: share of tint; its light is that of the ground so near, mm, sigma
_CLEAR_MM, _BRIGHT, _NEAR_MM = 0.9, 0.5, 2.0
#: further away it says as little as this beside what is near
_FARTHER, _FAR_SAYS = 4.0, 0.02
#: log light: a shade further off is none
_NO_SHADE = 1.5
#: added to all light, as a share of lit tint's: of black print little is known
_DARK = 0.3
#: log light with that added: a contact shadow may be darker by this than the ground beside it, and
#: a blurred print brighter; beyond that, shade and hue of ground stray by these (sigma)
_DARKER, _BRIGHTER, _SHADE_STRAYS, _HUE_STRAYS = 0.15, 0.05, 0.2, 0.1
#: what a pixel costs at most that is no ground, where the print is not known, and one that is no
#: instrument, in half squares of sigmas
_NO_GROUND, _UNKNOWN, _NO_INSTRUMENT = 4.0, 0.5, 1.0
#: what a border costs per pixel of this size where nothing is seen: pixels count by area, borders
#: by length
_BORDER, _BORDER_MM = 4.0, 0.35
#: the instrument's look is that of what lies deeper than this inside the mask, mm, so near, mm,
#: sigma; as log light with this share of tint's added it strays by at least this
_CORE_MM, _CORE_NEAR_MM, _CORE_DARK, _CORE_STRAYS = 1.0, 3.0, 0.1, 0.12
#: unlike the instrument's look from so many squared sigmas on; and what a pixel costs that is like
_UNLIKE, _LIKE_COST = 3.0, 0.1
#: px, sigma: the border's corners are rounded by this, and the mask's cells where it is left alone
_SOFT = 1.0


@dataclass(frozen=True)
class FineBorder:
    """A mask's outer border, finer where it winds.

    Attributes:
        contour: (N, 2) mm, mat frame, closed, anticlockwise.
        closely: (H, W) the plan's cells in which each of the photo's pixels was asked.
    """

    contour: Array
    closely: Mask


def fine_border(
    plan: Plan,
    lighting: Lighting,
    mask: Mask,
    closer: Closer,
    settled: Mask | None = None,
    slots: Mask | None = None,
) -> FineBorder:
    """The border of a mask, laid anew where it winds.

    Args:
        plan: the photo laid flat.
        lighting: of the ground.
        mask: (H, W) the instrument, in one piece.
        closer: a closer look at the photo.
        settled: (H, W) cells that are not asked again: what a person cut out, cards.
        slots: (H, W) cells of the mask that may be narrow slots, asked however deep.
    """
    out = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5) * plan.cell
    into = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5) * plan.cell
    closely = (out < _OUTWARD_MM) & (into < _INWARD_MM)
    if slots is not None and slots.any():
        closely |= cv2.dilate(slots.astype(np.uint8), disc(_BESIDE_SLOT_MM / plan.cell)) > 0
        into = cv2.distanceTransform((mask & ~slots).astype(np.uint8), cv2.DIST_L2, 5) * plan.cell
    closely &= winding(mask, plan.cell)
    closely &= plan.seen & (plan.printed > 0)
    if settled is not None:
        closely &= ~settled

    def anew(some: tuple[Box, Mask]) -> tuple[Box, Mask, Mask]:
        inner, cells = some
        box = _wider(inner, round(_MARGIN_MM / plan.cell), mask.shape)
        mine = np.zeros_like(closely[box])
        mine[_within(inner, box)] = cells
        asked = magnified(mine)
        near = closer(box)
        place = _Place(
            near,
            print_divisor(lighting, near),
            smoothly_magnified(lighting.lit[box]),
            smoothly_magnified(out[box]),
            smoothly_magnified(into[box]),
        )
        return box, asked, _settled(place, magnified(mask[box]), asked)

    was = magnified(mask)
    fine = was.copy()
    for box, asked, anew_there in on_cores(anew, _together(closely, plan.cell)):
        there = fine[_finer(box)]
        there[asked] = anew_there[asked]
    fine = in_one_piece(fine, was, plan.cell / TIMES)
    return FineBorder(_contour(plan, mask, fine, closely), closely)


def _together(closely: Mask, cell: float) -> list[tuple[Box, Mask]]:
    """What is settled together, the largest first: rows and columns, and which of their cells.
    Groups that lie side by side, and long ones in parts."""
    near = cv2.dilate(closely.astype(np.uint8), np.ones((5, 5), np.uint8))
    count, groups, stats, _ = cv2.connectedComponentsWithStats(near)
    longest = max(round(_LONGEST_MM / cell), 1)
    found = []
    for number in range(1, count):
        x, y, columns, rows, _ = stats[number].tolist()
        for top in range(y, y + rows, longest):
            for left in range(x, x + columns, longest):
                bottom, right = min(top + longest, y + rows), min(left + longest, x + columns)
                box = slice(top, bottom), slice(left, right)
                cells = closely[box] & (groups[box] == number)
                if cells.any():
                    found.append((box, cells))
    return sorted(found, key=lambda some: -some[1].size)


def _wider(box: Box, by: int, shape: tuple[int, ...]) -> Box:
    """A box with so many cells more on each side, as far as there are any."""
    rows, columns = (
        slice(max(side.start - by, 0), min(side.stop + by, size))
        for side, size in zip(box, shape, strict=True)
    )
    return rows, columns


def _finer(box: Box) -> Box:
    """The same place in the closer look's pixels."""
    rows, columns = (slice(side.start * TIMES, side.stop * TIMES) for side in box)
    return rows, columns


def _within(inner: Box, box: Box) -> Box:
    """The inner box, counted from where the other one begins."""
    rows, columns = (
        slice(a.start - b.start, a.stop - b.start) for a, b in zip(inner, box, strict=True)
    )
    return rows, columns


@dataclass(frozen=True)
class _Place:
    """A part of the photo, all (h, w).

    Attributes:
        near: the closer plan of it.
        divisor: of its print.
        lit: (h, w, 3) light of lit tint.
        out, into: mm from the mask's border, outside and inside.
    """

    near: Plan
    divisor: Divisor
    lit: Image
    out: Image
    into: Image


def _settled(place: _Place, was: Mask, asked: Mask) -> Mask:
    """(h, w) the mask with the pixels that are asked for settled."""
    share, unknown = _print(place, asked)
    floor = _DARK * place.lit
    seen = np.log(place.near.light + floor)
    bare = np.log(place.lit * share + floor)
    clear = (place.out > _CLEAR_MM) & place.near.seen & (place.near.printed > 0)
    clear &= ~unknown & (share.mean(axis=2) > _BRIGHT)
    light = _light_near(seen - bare, clear, place.near.cell)
    # a shadow takes the same share of what was added
    shaded = np.exp(light)
    floor = floor * np.minimum(shaded.mean(axis=2, keepdims=True), 1.0)
    seen = np.log(place.near.light + floor)
    ground = np.log(place.lit * share * shaded + floor)
    left = seen - ground
    shade = left.mean(axis=2)
    hue = ((left - shade[..., None]) ** 2).sum(axis=2)
    shade = shade - np.clip(shade, -_DARKER, _BRIGHTER)
    no_ground = 0.5 * ((shade / _SHADE_STRAYS) ** 2 + hue / _HUE_STRAYS**2)
    no_ground[unknown] = np.minimum(no_ground[unknown], _UNKNOWN)
    raw = np.log(place.near.light + NOISE_LIGHT)
    return cheapest_border(
        asked,
        was,
        np.minimum(no_ground, _NO_GROUND).astype(np.float32),
        _NO_INSTRUMENT * _unlike_inside(place),
        border_costs(raw, left, ground, _BORDER * _BORDER_MM / place.near.cell),
    )


def _print(place: _Place, asked: Mask) -> tuple[Image, Mask]:
    """(h, w, 3) light of the print beside bare tint round what is asked, and (h, w) where it is
    not known."""
    near = place.near
    reach = 2 * round(_MARGIN_MM / near.cell) + 1
    wanted = cv2.dilate(asked.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    share = np.ones((*asked.shape, 3), dtype=np.float32)
    unknown = np.zeros(asked.shape, dtype=bool)
    rows, columns = np.nonzero(wanted)
    places = near.to_mat(np.column_stack([columns, rows]).astype(np.float64))
    share[wanted], unknown[wanted] = place.divisor(places)
    return share, unknown | ~wanted


def _light_near(ratio: Image, clear: Mask, cell: float) -> Image:
    """(h, w, 3) log light of the ground near each pixel, from where it is clear."""
    clear = clear & (np.abs(ratio).max(axis=2) < _NO_SHADE)
    weight = clear.astype(np.float32)
    known = np.where(clear[..., None], ratio, 0).astype(np.float32)
    sums = []
    for reach in (_NEAR_MM / cell, _FARTHER * _NEAR_MM / cell):
        sums.append([cv2.GaussianBlur(layer, (0, 0), reach) for layer in (known, weight)])
    (near, near_by), (far, far_by) = sums
    further = far / np.maximum(far_by, 1e-4)[..., None]
    light = (near + _FAR_SAYS * further) / (near_by + _FAR_SAYS)[..., None]
    return np.asarray(light, dtype=np.float32)


def _unlike_inside(place: _Place) -> Image:
    """(h, w) from nearly 0 to 1: how unlike what lies inside the border near it each pixel is."""
    core = (place.into > _CORE_MM) & place.near.seen
    weight = core.astype(np.float32)
    seen = np.log(place.near.light + _CORE_DARK * place.lit)
    reach = (0, 0), _CORE_NEAR_MM / place.near.cell
    known = cv2.GaussianBlur(weight, *reach)
    some = np.maximum(known, 1e-5)[..., None]
    inside = weight[..., None] * seen
    mean = cv2.GaussianBlur(inside, *reach) / some
    spread = cv2.GaussianBlur(inside * seen, *reach) / some - mean**2
    unlike = ((seen - mean) ** 2 / (np.maximum(spread, 0.0) + _CORE_STRAYS**2)).mean(axis=2)
    told = np.clip(unlike / _UNLIKE, _LIKE_COST, 1.0)
    return np.where(known > 1e-3, told, 1.0).astype(np.float32)


def _contour(plan: Plan, mask: Mask, fine: Mask, closely: Mask) -> Array:
    """(N, 2) mm: outer contour of the fine mask where it was looked at closely, else the mask's."""
    rows, columns = np.flatnonzero(fine.any(axis=1)), np.flatnonzero(fine.any(axis=0))
    pad = 6
    low = np.maximum((rows[0] - pad, columns[0] - pad), 0)
    part = np.s_[low[0] : rows[-1] + pad, low[1] : columns[-1] + pad]
    soft = cv2.GaussianBlur(fine[part].astype(np.float32), (0, 0), _SOFT)
    cells = np.asarray(cv2.GaussianBlur(mask.astype(np.float32), (0, 0), _SOFT), np.float32)
    coarse = smoothly_magnified(cells)[part]
    share = cv2.GaussianBlur(magnified(closely)[part].astype(np.float32), (0, 0), 2.0 * _SOFT)
    curve = outer_contour(coarse + share * (soft - coarse)) + low[::-1]
    # the finer pixels' first one lies before the first cell's middle
    return plan.to_mat((curve + 0.5) / TIMES - 0.5)


def outer_contour(level: Image) -> Array:
    """(N, 2) column, row: where a soft mask (H, W) is half, its longest contour, closed,
    anticlockwise with rows counted upwards."""
    longest = max(find_contours(np.pad(level, 1), 0.5), key=len)
    curve = longest[:-1, ::-1] - 1.0
    return np.ascontiguousarray(curve if signed_area(curve) > 0 else curve[::-1])
