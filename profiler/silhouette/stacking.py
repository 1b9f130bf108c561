"""Which of two sheets lies on top where they overlap, as the photo shows it.

Sheets are meant to be laid in the order of their numbers, so that each one's white border goes
under its neighbour. Laid in another order, or where one rises, the other's border shows: a strip of
white paper that no tint explains, and that would pass for a part of the instrument.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import reduce
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_opening, maximum_filter1d, minimum_filter1d
from shapely import Polygon, contains_xy, intersection_all, union_all

from profiler.scene.record import PlacedPanel
from profiler.silhouette.ground import (
    WHITE,
    Lighting,
    Plan,
    Relaid,
    draw_sheet,
    inked,
    printed_bits,
)

Array = NDArray[np.float64]
Cells = NDArray[np.bool_]

#: which sheet is on top is asked anew after so much of a seam: one may rise in the middle, mm
_STRETCH_MM = 5.0
#: hue farther than this (log) from both paper and tint is neither: something lies there
_NEITHER = 0.2
#: this share of the cells in which the two orders differ must speak for the unusual one; what lies
#: on a seam covers some of them, or makes them all alike
_PLAINLY = 0.75
#: stretches that must do so in a row: a white knob is shorter; and those across which it changes
_LEAST_RUN, _CHANGING = 4, 5
_LEAST_OVERLAP_MM2 = 4.0


def as_stacked(plan: Plan, lighting: Lighting, sheets: Sequence[PlacedPanel]) -> Plan:
    """The plan with what is printed where sheets overlap taken from the one that is seen there.

    Args:
        plan: laid flat, as if the sheets lay in their usual order.
        lighting: of the ground.
        sheets: solved; the same as the plan's.
    """
    outlines = [Polygon(sheet.corners[:, :2]) for sheet in sheets]
    relaid: list[Relaid] = []
    for k, m in combinations(range(len(sheets)), 2):
        overlap = outlines[k].intersection(outlines[m])
        if overlap.area > _LEAST_OVERLAP_MM2:
            # what a third sheet lies on is no matter between two
            third = union_all([o for i, o in enumerate(outlines) if i not in (k, m)])
            relaid += _turned(plan, lighting, overlap.difference(third), sheets[k], sheets[m])
    if not relaid:
        return plan
    for several in combinations(range(len(sheets)), 3):
        overlap = intersection_all([outlines[i] for i in several])
        if overlap.area > _LEAST_OVERLAP_MM2:
            relaid += _any_of(plan, overlap, [sheets[i] for i in several])
    printed = printed_bits(
        sheets, inked(sheets), plan.origin, plan.cell, plan.printed.shape, relaid
    )
    return replace(plan, printed=printed)


def _turned(
    plan: Plan, lighting: Lighting, overlap: Polygon, usual: PlacedPanel, other: PlacedPanel
) -> Iterator[Relaid]:
    """Where `other` is seen on top of the one that usually lies on it."""
    there = _Overlap.of(plan, overlap)
    if there is None:
        return
    above, below = (there.drawn(sheet) for sheet in (usual, other))
    paper, tint = _looks_like(plan, lighting, there.box)
    differ = there.cells & ((above == WHITE) != (below == WHITE))
    for_other = differ & np.where(below == WHITE, paper, tint)
    stretch = there.along(_STRETCH_MM)
    asked, yes = (np.bincount(stretch[c], minlength=stretch.max() + 1) for c in (differ, for_other))
    turned = binary_opening((yes > _PLAINLY * asked) & (asked > 0), np.ones(_LEAST_RUN))
    # tint that is seen on a white border is no knob, and what lies beside it has no say
    border = differ & (above == WHITE)
    bare, tinted = (
        np.bincount(stretch[c], minlength=len(turned))
        for c in (border & (paper | tint), border & tint)
    )
    turned |= (tinted > _PLAINLY * bare) & (bare * plan.cell**2 > _LEAST_OVERLAP_MM2)
    if not turned.any():
        return
    # where the order changes either sheet may be on top; and on such a seam tint that is seen is
    # ground, whatever is printed on the sheet that usually is
    changing = maximum_filter1d(turned, _CHANGING) != minimum_filter1d(turned, _CHANGING)
    either = changing[stretch] | (differ & (above == WHITE) & tint)
    shown = there.cells & (turned[stretch] | either)
    yield there.box, shown, np.where(either, above | below, below).astype(np.uint8)


def _any_of(plan: Plan, overlap: Polygon, sheets: Sequence[PlacedPanel]) -> Iterator[Relaid]:
    """Where corners meet, any of the sheets may be on top."""
    there = _Overlap.of(plan, overlap)
    if there is not None:
        yield there.box, there.cells, reduce(np.bitwise_or, map(there.drawn, sheets))


class _Overlap:
    """The cells of a plan in an area, mm, mat frame."""

    def __init__(self, plan: Plan, area: Polygon, first: NDArray[np.intp], last: NDArray[np.intp]):
        self.box = (slice(int(first[1]), int(last[1])), slice(int(first[0]), int(last[0])))
        self._cell, self._corner = plan.cell, plan.to_mat(first.astype(np.float64))
        x, y = (self._corner[k] + np.arange(last[k] - first[k]) * plan.cell for k in (0, 1))
        self._grid = np.meshgrid(x, y)
        self.cells: Cells = np.asarray(contains_xy(area, *self._grid)) & plan.seen[self.box]

    @classmethod
    def of(cls, plan: Plan, area: Polygon) -> _Overlap | None:
        """None where the area is not on the plan."""
        if area.is_empty:
            return None
        low, high = plan.to_cells(np.reshape(area.bounds, (2, 2)))
        first = np.maximum(np.floor(low).astype(int), 0)
        last = np.minimum(np.ceil(high).astype(int) + 1, plan.printed.shape[::-1])
        return None if (last - first < 1).any() else cls(plan, area, first, last)

    def drawn(self, sheet: PlacedPanel) -> NDArray[np.uint8]:
        """(h, w) what is printed on a sheet, as bits."""
        bits = np.zeros(self.cells.shape, dtype=np.uint8)
        draw_sheet(bits, sheet, self._corner, self._cell)
        return bits

    def along(self, step: float) -> NDArray[np.intp]:
        """(h, w) steps, mm, along the longer side."""
        x, y = self._grid
        way = x if np.ptp(x) > np.ptp(y) else y
        steps: NDArray[np.intp] = ((way - way.min()) / step).astype(np.intp)
        return steps


def _looks_like(plan: Plan, lighting: Lighting, box: tuple[slice, slice]) -> tuple[Cells, Cells]:
    """(h, w) each: cells of white paper's hue, and of the tint's, in whatever shade."""
    ratio = np.log(np.maximum(plan.light[box], 1e-4) / np.maximum(lighting.lit[box], 1e-4))
    hue = ratio - ratio.mean(axis=2, keepdims=True)
    of_paper = np.log(np.maximum(lighting.white, 1e-3))
    of_paper = of_paper - of_paper.mean()
    from_paper = np.sqrt(((hue - of_paper) ** 2).sum(axis=2))
    from_tint = np.sqrt((hue**2).sum(axis=2))
    return (
        np.asarray((from_paper < from_tint) & (from_paper < _NEITHER)),
        np.asarray((from_tint < from_paper) & (from_tint < _NEITHER)),
    )
