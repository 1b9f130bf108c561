"""Body blocks: flat blocks in the four corners that the body leaves free, cut to its outline."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.casework.cradle.boards import Setting
from profiler.casework.cradle.notch import CannotBe
from profiler.casework.cradle.pieces import CradlePiece, Unmade
from profiler.casework.cradle.wishes import BLOCKS
from profiler.casework.trace import Term, chosen, total
from profiler.geometry.curves import extent_at
from profiler.geometry.offset import grown, parts_of
from profiler.instrument.solid import Slab

Array = NDArray[np.float64]

#: longest block and how far it reaches in from its board, shortest that is worth gluing, mm
LONGEST_MM, DEEPEST_MM, SHORTEST_MM = 110.0, 75.0, 25.0
#: how much of the body's side a block reaches up, as a share, and at least, mm
SHARE, LEAST_UP_MM = 0.5, 12.0


def body_blocks(s: Setting, tail_face: float) -> tuple[list[CradlePiece], list[Unmade]]:
    """All that can be made, and why the others cannot.

    Args:
        s: the cradle.
        tail_face: x where the room behind the tail ends: the tail rest's face, or the end board's.
    """
    made: list[CradlePiece] = []
    unmade: list[Unmade] = []
    for which in BLOCKS:
        end, side = which.split()
        name = f"body block, {which}"
        try:
            made.append(_block(s, name, end, side, tail_face))
        except CannotBe as why:
            unmade.append(Unmade("blocks", name, str(why)))
    return made, unmade


def _block(s: Setting, name: str, end: str, side: str, tail_face: float) -> CradlePiece:
    body = s.solid.part("body")
    if not isinstance(body, Slab):
        raise CannotBe(s.solid.missing.get("body", "the body is not known"))
    contact = s.wishes.scheme["blocks"]
    a, _, b, _ = body.plan.bounds
    out = 0.0
    if body.bulge is not None:
        out = float(body.bulge.stands_out(np.array([a if end == "tail" else b]))[0])
    free = grown(s.solid.plan, contact.offset + out)
    start, stop = (tail_face, (a + b) / 2) if end == "tail" else ((a + b) / 2, float(b))
    lanes = [lane.x0 for lane in s.berth.lanes if lane.x0 > start]
    stop = min([stop, *lanes])
    wall = s.berth.left if side == "left" else s.berth.right
    at = s.wishes.at.get(f"{end} {side}")
    shape = _corner(free, wall, start, stop, end, s.wishes.wood.block, side, at)
    if shape is None and at is not None:
        raise CannotBe(
            f"with its middle {at:.0f} mm from the tail it would be shorter than"
            f" {SHORTEST_MM:g} mm: it can stand between {start:.0f} and {stop:.0f} mm only, and"
            f" where {s.wishes.wood.block:g} mm of wood fit beside the body"
            f" (--at '{end} {side}=…')"
        )
    if shape is None:
        raise CannotBe(
            f"between the body and the {side} side there is no stretch of {SHORTEST_MM:g} mm with"
            f" {s.wishes.wood.block:g} mm of wood in it: a wider case (--clearance of the case), or"
            " a thinner lining on the blocks, makes room"
        )
    t = s.wishes.thickness("blocks")
    x = float(shape.centroid.x)
    low, high = float(body.widest_from(np.array([x]))[0]), float(body.high.at(x)[0])
    wanted = s.lift.mm + low + max(SHARE * (high - low), LEAST_UP_MM)
    most = s.lift.mm + high if s.berth.high is None else min(s.lift.mm + high, s.berth.high)
    layers = max(1, math.ceil(wanted / t - 1e-6))
    while layers > 1 and layers * t > most:
        layers -= 1
    if layers * t < s.lift.mm + low + 3.0:
        raise CannotBe(
            f"{layers} × {t:g} mm of stock do not reach the body's side, which begins"
            f" {s.lift.mm + low:.1f} mm above the floor"
        )
    x0, y0, x1, y1 = shape.bounds
    sizes = (
        chosen(f"{name}, middle from the instrument's tail", (x0 + x1) / 2, "cradle-station"),
        total(
            f"{name}, tail end from the inside of the end board",
            "cradle-station",
            Term("tail end from the instrument's tail", float(x0)),
            Term("instrument's tail from the end board", -s.berth.tail),
        ),
        chosen(f"{name}, length", float(x1 - x0), "cradle-block"),
        chosen(f"{name}, depth", float(y1 - y0), "cradle-block"),
        total(f"{name}, height", "cradle-layers", Term("stock", t, layers)),
    )
    return CradlePiece(
        "blocks",
        name,
        False,
        shape,
        (0.0, layers * t),
        layers,
        t,
        s.wishes.stock_name("blocks"),
        "glued",
        contact,
        sizes,
        _thinnest(shape),
        0.0,
        note=f"glue {layers} on each other, ends flush" if layers > 1 else "",
    )


def _corner(
    free: shapely.Polygon,
    wall: float,
    start: float,
    stop: float,
    end: str,
    least: float,
    side: str,
    at: float | None = None,
) -> shapely.Polygon | None:
    """The wood between a long board and the body as far as it is thick: from the corner on, or as
    far to either side of `at`."""
    sign = 1.0 if side == "left" else -1.0
    free = parts_of(free)[0]
    xs = np.arange(start, stop, 0.5)
    if len(xs) < 2:
        return None
    thick = _room(free, xs, wall, sign)
    sound = thick >= least
    found = _from_corner(xs, sound, end) if at is None else _round_about(xs, sound, at)
    if found is None:
        return None
    x0, x1 = found
    if x1 - x0 < SHORTEST_MM:
        return None
    inner = wall - sign * DEEPEST_MM
    box = shapely.box(x0, min(inner, wall), x1, max(inner, wall))
    parts = [p for p in parts_of(box.difference(free)) if _touches(p, wall)]
    return _without_tip(parts[0], wall, sign, least) if parts else None


def _from_corner(xs: Array, sound: NDArray[np.bool_], end: str) -> tuple[float, float] | None:
    if end == "shoulder":  # from the neck towards the tail
        xs, sound = xs[::-1], sound[::-1]
    if not sound.any():
        return None
    first = int(np.argmax(sound))
    after = np.flatnonzero(~sound[first:])
    last = first + (int(after[0]) - 1 if len(after) else len(sound) - first - 1)
    last = min(last, first + int(LONGEST_MM / 0.5))
    x0, x1 = sorted((float(xs[first]), float(xs[last])))
    return x0, x1


def _round_about(xs: Array, sound: NDArray[np.bool_], at: float) -> tuple[float, float] | None:
    """As far to one side as to the other, so that the middle is where it was asked for."""
    if not xs[0] <= at <= xs[-1]:
        return None
    here = int(np.argmin(np.abs(xs - at)))
    if not sound[here]:
        return None
    thin = np.flatnonzero(~sound)
    before, after = thin[thin < here], thin[thin > here]
    low = float(xs[before[-1] + 1]) if len(before) else float(xs[0])
    high = float(xs[after[0] - 1]) if len(after) else float(xs[-1])
    half = min(LONGEST_MM / 2, at - low, high - at)
    return at - half, at + half


def _without_tip(
    part: shapely.Polygon, wall: float, sign: float, least: float
) -> shapely.Polygon | None:
    """Cut straight off where the block runs out thin towards the middle of the case."""
    firm = part.buffer(-least / 2, join_style="mitre").buffer(least / 2 + 0.05, join_style="mitre")
    y0, y1 = float(part.bounds[1]), float(part.bounds[3])
    inner = y0 if sign > 0 else y1
    cut = inner
    for thin in parts_of(part.difference(firm)):
        low, high = float(thin.bounds[1]), float(thin.bounds[3])
        if thin.area > 0.2 and min(abs(low - inner), abs(high - inner)) < 0.5:
            cut = max(cut, high) if sign > 0 else min(cut, low)
    x0, _, x1, _ = part.bounds
    kept = part.intersection(shapely.box(x0, min(cut, wall), x1, max(cut, wall)))
    rest = parts_of(kept)
    return rest[0] if rest else None


def _touches(part: shapely.Polygon, wall: float) -> bool:
    return bool(min(abs(part.bounds[1] - wall), abs(part.bounds[3] - wall)) < 1e-6)


def _room(free: shapely.Polygon, xs: Array, wall: float, sign: float) -> Array:
    """(N,) mm from a long board to the body with its lining and clearance, at each x."""
    low, high = extent_at(np.asarray(free.exterior.coords)[:-1], xs)
    outer = high if sign > 0 else low
    return np.where(np.isfinite(outer), sign * (wall - outer), DEEPEST_MM)


def _thinnest(shape: shapely.Polygon) -> float:
    """Least thickness square to the board behind it, mm."""
    x0, y0, x1, y1 = shape.bounds
    found = [
        shape.intersection(shapely.LineString([(x, y0 - 1), (x, y1 + 1)])).length
        for x in np.linspace(x0 + 0.05, x1 - 0.05, 41)
    ]
    return float(min(found))
