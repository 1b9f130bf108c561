"""The largest useful compartments beside the neck, in what the box leaves free."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.casework.inside import Inside
from profiler.casework.trace import HAIR_MM
from profiler.casework.wishes import Storage
from profiler.casework.words import both
from profiler.errors import RequestError

Array = NDArray[np.float64]
Side = Literal["front", "back"]

#: the free depth is looked at in slices of this, mm; a slice counts as its tightest place
SLICE_MM = 1.0
#: both sides become alike when that costs no more than this part of the room
ALIKE_COSTS = 0.15
#: what a cross wall reaches past the wall beside the neck, so that its groove has a shoulder
SHOULDER_IN_WALLS, LEAST_SHOULDER_MM = 1.0, 6.0


@dataclass(frozen=True)
class Compartment:
    """Between a long board and the neck; wood to wood, case frame, mm.

    Attributes:
        side: the long board it leans on.
        x0, x1: inside, from the tail's cross wall to the head's, or to the head board.
        width: from the long board to the wall beside the neck.
        to_end: whether it reaches the head board, and has no cross wall there.
        shoulder: what cross walls reach past the wall beside the neck.
        lining: on its walls.
    """

    side: Side
    x0: float
    x1: float
    width: float
    to_end: bool
    shoulder: float
    lining: float

    @property
    def length(self) -> float:
        return self.x1 - self.x0

    @property
    def useful(self) -> tuple[float, float]:
        """Length and width between linings."""
        return self.length - 2 * self.lining, self.width - 2 * self.lining


def free_depth(shape: shapely.Polygon, inside: Inside, side: Side) -> Array:
    """(N,) mm from a long board to the shape, for each slice along the case; at most half.

    Args:
        shape: outline with its clearance and lining, case frame, mm.
        inside: of the box.
        side: which long board.
    """
    along, across = inside.along.mm, inside.across.mm
    count = max(1, math.floor(along / SLICE_MM + HAIR_MM))
    points = np.asarray(shapely.segmentize(shape, SLICE_MM / 4).exterior.coords)
    reach = points[:, 1] if side == "back" else across - points[:, 1]
    depth = np.full(count, across / 2)
    slices = np.floor(points[:, 0] / SLICE_MM).astype(int)
    for shift in (-1, 0, 1):  # a point between two slices belongs to both
        # (N,) slices past either end are the end's
        at = np.clip(slices + shift, 0, count - 1)
        np.minimum.at(depth, at, across - reach)
    return np.asarray(np.maximum(depth, 0.0))


def find_compartments(
    shape: shapely.Polygon,
    inside: Inside,
    storage: Storage,
    wall: float,
    lining: float,
    step: float,
) -> tuple[Compartment, ...]:
    """One compartment a side, where there is room for a useful one.

    Args:
        shape: outline with its clearance and lining, case frame, mm.
        inside: of the box.
        storage: wishes.
        wall: thickness of the walls.
        lining: on walls.
        step: sizes are rounded down to it.

    Raises:
        RequestError: sides that were insisted on have no room; the sentence says what there is.
    """
    if storage.sides == "none":
        return ()
    sides: tuple[Side, ...] = ("front", "back")
    if storage.sides in ("front", "back"):
        sides = ("front",) if storage.sides == "front" else ("back",)
    depths = {side: free_depth(shape, inside, side) for side in sides}

    def best(depth: Array, side: Side, least: tuple[float, float]) -> Compartment | None:
        return _best(depth, inside, side, least, wall, lining, step)

    least = (storage.least_length, storage.least_width)
    found = {side: best(depth, side, least) for side, depth in depths.items()}
    if len(sides) == 2:
        both = np.minimum(depths["front"], depths["back"])
        alike = best(both, "front", least)
        singly = sum(_area(c) for c in found.values())
        if alike is not None and 2 * _area(alike) >= (1 - ALIKE_COSTS) * singly:
            found = {side: replace(alike, side=side) for side in sides}
    if storage.sides != "auto":
        for side, one in found.items():
            if one is None:
                raise _no_room(best(depths[side], side, (1.0, 1.0)), side, least)
    return tuple(c for c in found.values() if c is not None)


def _area(c: Compartment | None) -> float:
    return 0.0 if c is None else c.useful[0] * c.useful[1]


def _best(
    depth: Array,
    inside: Inside,
    side: Side,
    least: tuple[float, float],
    wall: float,
    lining: float,
    step: float,
) -> Compartment | None:
    """The largest useful rectangle that leans on the long board."""
    along = inside.along.mm
    shoulder = max(LEAST_SHOULDER_MM, SHOULDER_IN_WALLS * wall)
    best: tuple[float, Compartment] | None = None
    for first, last, deep in _rectangles(depth):
        if best is not None and (last - first + 2) * SLICE_MM * deep <= best[0]:
            continue  # not even without its walls
        width = _down(deep - wall - shoulder, step)
        useful_width = width - 2 * lining
        if useful_width < least[1]:
            continue
        x0 = first * SLICE_MM + wall
        for to_end in (True, False) if last == len(depth) - 1 else (False,):
            x1 = along if to_end else (last + 1) * SLICE_MM - wall
            length = _down(x1 - x0, step)
            useful_length = length - 2 * lining
            area = useful_length * useful_width
            if useful_length < least[0] or (best is not None and area <= best[0]):
                continue
            best = (
                area,
                Compartment(side, x1 - length, x1, width, to_end, shoulder, lining),
            )
    return best[1] if best else None


def _rectangles(depth: Array) -> list[tuple[int, int, float]]:
    """Every rectangle under the profile that cannot grow: first and last slice, depth.

    The stack method for the largest rectangle under a histogram.
    """
    found: list[tuple[int, int, float]] = []
    stack: list[tuple[int, float]] = []
    for i, deep in enumerate([*depth.tolist(), -1.0]):
        start = i
        while stack and stack[-1][1] >= deep:
            start, high = stack.pop()
            if high > 0:
                found.append((start, i - 1, high))
        stack.append((start, deep))
    return found


def _down(mm: float, step: float) -> float:
    return math.floor(mm / step + HAIR_MM) * step


def _no_room(largest: Compartment | None, side: Side, least: tuple[float, float]) -> RequestError:
    wanted = f"{both(least[0])} × {both(least[1])}"
    if largest is None:
        return RequestError(
            f"There is no room for a compartment on the {side} side: walls and clearance take all"
            " that is left beside the instrument. Say --compartments auto or none, or allow a wider"
            " case (--clearance)."
        )
    length, width = largest.useful
    return RequestError(
        f"There is no room for a compartment of {wanted} on the {side} side. The nearest is"
        f" {both(length)} × {both(width)}: ask for that with"
        " --compartment-length and --compartment-width, or allow a wider case (--clearance)."
    )
