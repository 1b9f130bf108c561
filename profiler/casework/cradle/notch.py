"""A notch that the instrument can be lowered into straight down, and whether the wood bears it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from profiler.casework.cradle.linings import Contact
from profiler.casework.cradle.wishes import Wood
from profiler.geometry.offset import grown, opened_for, parts_of, swept_up
from profiler.instrument.solid import Solid

Shape = Any  # a shapely polygon or several

#: slices through a piece's thickness are at most this far apart, mm: an outline that is round to
#: 30 mm strays by less than 0.02 mm between two
SLICE_MM = 2.0
#: slices beside a piece, where its offset still reaches round its faces
BESIDE = 4
#: how far up a notch is open, mm above the floor
SKY_MM = 1000.0


class CannotBe(Exception):
    """A piece that cannot be made; the sentence says why and what would help."""


def swept_notch(solid: Solid, x0: float, x1: float, contact: Contact, lift: float) -> Shape:
    """What must be free between the faces x0 and x1 so that the instrument goes straight down.

    The true offset of everything between the faces, and of what stands near enough before and
    behind them, swept upwards; raised where it bears.

    Args:
        solid: the instrument.
        contact: lining and clearance.
        lift: from the floor to the bench that the solid's heights are counted from, at rest.

    Returns:
        y and z above the floor, open to `SKY_MM`; empty where the instrument is not met.
    """
    d = contact.offset
    count = max(2, int(np.ceil((x1 - x0) / SLICE_MM)) + 1)
    found = [grown(_union(solid, np.linspace(x0, x1, count)), d)]
    for k in range(1, BESIDE + 1):
        # outside the faces only a disc of the offset's ball reaches in
        away = d * (k - 0.5) / BESIDE
        r = float(np.sqrt(d**2 - away**2))
        found.append(grown(_union(solid, np.array([x0 - away, x1 + away])), r))
    free = shapely.union_all([f for f in found if not f.is_empty])
    if free.is_empty:
        return free
    return swept_up(shapely.affinity.translate(free, 0.0, lift + contact.raised), SKY_MM)


def _union(solid: Solid, xs: np.ndarray[Any, Any]) -> Shape:
    return shapely.union_all([solid.slice_at(float(x)) for x in xs])


@dataclass(frozen=True)
class Notched:
    """A board with its notch.

    Attributes:
        wood: what is left, y and z.
        void: what was taken away, open at the top.
        beside: width of the narrowest horn at the notch's lip, mm.
        under: wood below the notch's lowest point, mm.
    """

    wood: shapely.Polygon
    void: Shape
    beside: float
    under: float


def notched(
    void: Shape, right: float, left: float, top: float, radius: float, wood: Wood, name: str
) -> Notched:
    """Cut a notch into a board that stands on the floor.

    Args:
        void: of `swept_notch`, or several together.
        right, left: y of the board's ends.
        top: z of its upper edge.
        radius: of the cutter.
        wood: limits.
        name: for sentences.

    Raises:
        CannotBe: the wood would break, or the cutter does not reach.
    """
    made, missed = opened_for(void, radius)
    if not missed.is_empty:
        narrow = min(p.bounds[2] - p.bounds[0] for p in parts_of(missed))
        raise CannotBe(
            f"a cutter or turn of radius {radius:g} mm does not get into its notch, which is"
            f" {narrow:.1f} mm wide there: give a smaller --bit-radius, or more --clearance"
        )
    board = shapely.box(right, 0.0, left, top)
    made = without_fingers(board, made, wood.beside)
    under = float(made.bounds[1])
    if under < wood.under:
        raise CannotBe(
            f"only {max(under, 0.0):.1f} mm of wood would be left under its notch, and"
            f" {wood.under:g} mm are the least: thicker foam under the body"
            f" (--lining body=foam:…) raises the instrument by {wood.under - under:.1f} mm"
        )
    rest = parts_of(board.difference(made))
    if not rest:
        raise CannotBe("nothing would be left of it")
    whole = rest[0]
    lip = made.intersection(shapely.box(right - 1e3, top - 1e-3, left + 1e3, top))
    if lip.is_empty:
        return Notched(whole, made, left - right, under)
    beside = min(float(lip.bounds[0]) - right, left - float(lip.bounds[2]))
    if beside < wood.beside:
        raise CannotBe(
            f"a horn of only {max(beside, 0.0):.1f} mm would be left beside its notch, and it would"
            f" break: {wood.beside:g} mm are the least. There are {left - right:.0f} mm between the"
            f" sides; {left - right + 2 * (wood.beside - beside):.0f} mm would do"
        )
    tall = top - under
    if tall > wood.slender * beside:
        raise CannotBe(
            f"its horns would be {tall:.0f} mm tall and only {beside:.1f} mm wide: across the grain"
            f" that breaks. A smaller --hold makes them shorter"
        )
    return Notched(whole, made, beside, under)


def without_fingers(board: shapely.Polygon, void: Shape, least: float) -> Shape:
    """The void with thin fingers of wood between its parts taken away too, down to firm wood."""
    y0, _, y1, top = board.bounds
    low, high = float(void.bounds[0]), float(void.bounds[2])
    if high <= y0 or low >= y1:
        return void
    # wood that goes on for ever but upwards: only what stands between two parts can be thin
    ground = shapely.box(y0 - 1e3, -1e3, y1 + 1e3, top).difference(void)
    firm = ground.buffer(-least / 2).buffer(least / 2 * 1.0001)
    thin = [
        p
        for p in parts_of(ground.difference(firm))
        if p.bounds[0] > low - 1e-6
        and p.bounds[2] < high + 1e-6
        and p.bounds[3] > top - 1e-6
        and _between_voids(p, void, top)
    ]
    if not thin:
        return void
    return shapely.union_all([void, *(swept_up(p.buffer(1e-3), SKY_MM) for p in thin)])


def _between_voids(finger: shapely.Polygon, void: Shape, top: float) -> bool:
    """Whether the void is open on both sides of a piece of wood at the upper edge."""
    a, _, b, _ = finger.bounds
    return all(void.intersects(shapely.box(y - 0.05, top - 0.05, y + 0.05, top)) for y in (a, b))
