"""Which of two sheets lies on top where they overlap, as the photo shows it.

Sheets are meant to be laid in the order of their numbers, so that each one's white border goes
under its neighbour. Laid in another order, or where one rises, the other's border shows: a strip of
white paper that no tint explains, and that would pass for a part of the instrument.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, groupby

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import (
    binary_opening,
    binary_propagation,
    maximum_filter1d,
)
from shapely import Polygon, box, get_parts, union_all

from profiler.silhouette.ground import WHITE, Lighting, Patch, Plan, inked, printed_bits
from profiler.silhouette.stack import Area, Zone

Cells = NDArray[np.bool_]
Image = NDArray[np.float32]

#: which sheet is on top is asked anew after so much of a seam: one may rise in the middle, mm
_STRETCH_MM = 5.0
#: hue farther than this (log) from both paper and tint is neither: something lies there
_NEITHER = 0.2
#: this share of the cells in which the two orders differ must speak for the unusual one; what lies
#: on a seam covers some of them, or makes them all alike
_PLAINLY = 0.75
#: and more than for the usual one this share, in the stretches that follow
_STILL = 0.1
#: stretches that must do so in a row: a white knob is shorter; and those across which it changes
_LEAST_RUN, _CHANGING = 4, 5
_LEAST_OVERLAP_MM2 = 4.0


def as_stacked(plan: Plan, lighting: Lighting) -> Plan:
    """The plan with its sheets lying on one another as the photo shows it.

    Args:
        plan: laid flat, as if the sheets lay in their usual order.
        lighting: of the ground.
    """
    zones = _zones(plan, lighting)
    if not zones:
        return plan
    stack = replace(plan.stack, zones=zones)
    targets = inked(stack.sheets)
    printed = printed_bits(stack, targets, plan.origin, plan.cell, plan.printed.shape)
    return replace(plan, printed=printed, stack=stack)


def _zones(plan: Plan, lighting: Lighting) -> tuple[Zone, ...]:
    outlines = [Polygon(sheet.corners[:, :2]) for sheet in plan.stack.sheets]
    zones: list[Zone] = []
    corners: list[Area] = []
    for pair in combinations(range(len(outlines)), 2):
        overlap = outlines[pair[0]].intersection(outlines[pair[1]])
        if overlap.area > _LEAST_OVERLAP_MM2:
            # what a third sheet lies on is no matter between two
            third = union_all([o for i, o in enumerate(outlines) if i not in pair])
            turned = list(_turned(plan, lighting, overlap.difference(third), pair))
            if turned:
                zones += turned
                corners.append(overlap.intersection(third))
    # at the ends of a seam that is turned any of the sheets that meet there may be on top
    for corner in get_parts(union_all(corners)):
        meet = [i for i, o in enumerate(outlines) if o.intersection(corner).area > 0]
        if corner.area > _LEAST_OVERLAP_MM2:
            zones.append(Zone(corner, tuple(meet)))
    return tuple(zones)


def _turned(plan: Plan, lighting: Lighting, seam: Area, pair: tuple[int, int]) -> Iterator[Zone]:
    """Where of two sheets the second is seen on top of the first, which usually lies on it."""
    there = Patch.of(seam, plan.origin, plan.cell, plan.printed.shape)
    if there is None:
        return
    above, below = (there.drawn(plan.stack.sheets[i]) == WHITE for i in pair)
    differ = there.cells & plan.seen[there.box] & (above != below)
    along, way = max(((0, there.x), (1, there.y)), key=lambda axis: float(np.ptp(axis[1])))
    start = float(way.min())
    count = int(float(np.ptp(way)) / _STRETCH_MM) + 1
    stretch = ((way[differ] - start) / _STRETCH_MM).astype(np.intp)
    paper, tint = _looks_like(
        plan.light[there.box][differ], lighting.lit[there.box][differ], lighting
    )
    border = above[differ]
    asked, for_second, for_first, bare, tinted = (
        np.bincount(stretch[speaks], minlength=count)
        for speaks in (
            np.ones(len(stretch), dtype=bool),
            np.where(below[differ], paper, tint),
            np.where(border, paper, tint),
            border & (paper | tint),
            border & tint,
        )
    )
    plainly = binary_opening(for_second > _PLAINLY * asked, np.ones(_LEAST_RUN))
    # tint that is seen on a white border is no knob, and what lies beside it has no say
    plainly |= (tinted > _PLAINLY * bare) & (bare * plan.cell**2 > _LEAST_OVERLAP_MM2)
    if not plainly.any():
        return
    # what hides a stretch speaks for both or for neither: the rest of it still tells the order
    least = _STILL * np.maximum(asked, 1)
    turned = plainly | binary_propagation(plainly, mask=for_second - for_first > least)
    kept = for_first - for_second > least
    # it is no other just behind the end of what is seen; where it changes either may be on top
    near, near_kept = (maximum_filter1d(told, _CHANGING) for told in (turned, kept))
    tops = []
    for here, is_second, either in zip(near, near & ~kept, near & near_kept, strict=True):
        likely = pair[::-1] if is_second else pair
        tops.append(() if not here else likely if either else likely[:1])
    low, high = np.reshape(seam.bounds, (2, 2))
    for seen, run in groupby(range(count), key=tops.__getitem__):
        steps = list(run)
        if seen:
            low[along] = start + _STRETCH_MM * steps[0]
            high[along] = start + _STRETCH_MM * (steps[-1] + 1)
            yield Zone(seam.intersection(box(*low, *high)), seen)


def _looks_like(light: Image, lit: Image, lighting: Lighting) -> tuple[Cells, Cells]:
    """(N,) each: which of (N, 3) lights have white paper's hue, and which the tint's, in whatever
    shade; `lit` is what bare tint shows there."""
    ratio = np.log(np.maximum(light, 1e-4) / np.maximum(lit, 1e-4))
    hue = ratio - ratio.mean(axis=1, keepdims=True)
    of_paper = np.log(np.maximum(lighting.white, 1e-3))
    of_paper = of_paper - of_paper.mean()
    from_paper = np.sqrt(((hue - of_paper) ** 2).sum(axis=1))
    from_tint = np.sqrt((hue**2).sum(axis=1))
    return (
        np.asarray((from_paper < from_tint) & (from_paper < _NEITHER)),
        np.asarray((from_tint < from_paper) & (from_tint < _NEITHER)),
    )
