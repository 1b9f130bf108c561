"""Cradle pieces in a planned case: the berth that it offers, and the pieces as lines of its cut
list."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from profiler.casework.cradle.berth import Berth, Lane
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.cradle.plan import CradlePlan
from profiler.casework.cradle.wishes import CradleWishes
from profiler.casework.pieces import Cut, Piece, Place
from profiler.casework.plan import CasePlan
from profiler.casework.stock import Stock
from profiler.casework.trace import Size, chosen
from profiler.casework.wishes import Room
from profiler.instrument.solid import Solid

#: play of a board's end or edge in its channel, in thickness, mm
CHANNEL_PLAY_MM = 0.2
MARKS = {"neck rest": "NR", "headstock block": "HB", "headstock yoke": "HY", "tail rest": "TR"}


@dataclass(frozen=True)
class CradleInCase:
    """What a case takes over from a cradle.

    Attributes:
        pieces: of the cut list.
        channels: cut into boards and floor, by the piece's name.
        stocks: that the pieces are cut from.
    """

    pieces: tuple[Piece, ...]
    channels: dict[str, tuple[Cut, ...]]
    stocks: tuple[Stock, ...]


def room_for(solid: Solid, wishes: CradleWishes, room: Room) -> Room:
    """The case's room with the cradle's foam, and what a tail rest wants behind the tail."""
    lining = wishes.scheme["body"].lining
    more = tail_room(solid, wishes) - room.ends - room.lining
    return replace(room, foam=lining.thickness, foam_loaded=lining.loaded, behind=max(0.0, more))


def shift_of(solid: Solid) -> tuple[float, float]:
    """From the instrument's frame to the case plan's own: tail at 0, the middle of its width at
    0, mm."""
    x0, y0, _, y1 = solid.plan.bounds
    return -float(x0), -float(y0 + y1) / 2


def berth_in(plan: CasePlan, solid: Solid) -> Berth:
    """The inside of a planned case, seen from the instrument."""
    dx, dy = shift_of(solid)
    ox, oy = plan.at[0] + dx, plan.at[1] + dy
    along, across = plan.inside.along.mm, plan.inside.across.mm
    wall = plan.wishes.walls.mm
    lanes = []
    for room in plan.rooms:
        end = along if room.to_end else room.x1 + wall
        crosses = [(room.x0 - wall, room.x0)]
        if not room.to_end:
            crosses.append((room.x1, room.x1 + wall))
        for x0, x1, reach in (
            (room.x0 - wall, end, room.width + wall),
            *((a, b, room.width + wall + room.shoulder) for a, b in crosses),
        ):
            front = reach if room.side == "front" else 0.0
            back = across - (reach if room.side == "back" else 0.0)
            lanes.append(Lane(x0 - ox, x1 - ox, front - oy, back - oy))
    return Berth(
        -ox,
        along - ox,
        -oy,
        across - oy,
        tuple(lanes),
        plan.fingers.line.mm - plan.rabbet.depth.mm,
        "case",
    )


def in_case(cradle: CradlePlan, case: CasePlan) -> CradleInCase:
    """The pieces where they stand, and what is cut for them into boards and floor."""
    dx, dy = shift_of(cradle.solid)
    at = (case.at[0] + dx, case.at[1] + dy, case.rabbet.depth.mm)
    pieces: list[Piece] = []
    channels: dict[str, list[Cut]] = {}
    stocks: dict[str, Stock] = {}
    block = 0
    for piece in cradle.pieces:
        use = f"cradle, {piece.key}" if piece.key in cradle.wishes.stock else "cradle"
        thick = chosen(f"{piece.name}, thickness", piece.thickness, "stock")
        stocks.setdefault(use, Stock(use, piece.stock, thick, None, measured=True))
        if piece.upright:
            pieces.append(_board(piece, at, use, thick))
            for name, cut in _channels(piece, cradle, case, at):
                channels.setdefault(name, []).append(cut)
        else:
            block += 1
            pieces.append(_block(piece, at, f"K{block}", use, thick))
    return CradleInCase(
        tuple(pieces), {n: tuple(c) for n, c in channels.items()}, tuple(stocks.values())
    )


def _board(piece: CradlePiece, at: tuple[float, float, float], use: str, thick: Size) -> Piece:
    """u from its left end to the right, v up, w towards the head."""
    _, z0, y1, _ = piece.shape.bounds
    profile = shapely.transform(piece.shape, lambda p: (p - [y1, z0]) * np.array([-1.0, 1.0]))
    return Piece(
        MARKS[piece.name],
        piece.name,
        use,
        piece.size("length"),
        piece.size("height"),
        thick,
        ends=("back", "front"),
        places=(
            Place((piece.span[0] + at[0], y1 + at[1], z0 + at[2]), ("-y", "+z", "+x"), "base"),
        ),
        note="cut to its sheet; marked face to the tail",
        extra=piece.sizes,
        profile=_ring(profile),
    )


def _block(
    piece: CradlePiece, at: tuple[float, float, float], mark: str, use: str, thick: Size
) -> Piece:
    """u to the head, v to the back, w down from its upper face; one for each layer."""
    x0, y0, _, _ = piece.shape.bounds
    profile = shapely.transform(piece.shape, lambda p: p - [x0, y0])
    places = tuple(
        Place(
            (x0 + at[0], y0 + at[1], at[2] + (k + 1) * piece.thickness), ("+x", "+y", "-z"), "base"
        )
        for k in range(piece.layers)
    )
    return Piece(
        mark,
        piece.name,
        use,
        piece.size("length"),
        piece.size("depth"),
        thick,
        ends=("tail", "head"),
        places=places,
        count=piece.layers,
        note="cut to its sheet, glued on each other" if piece.layers > 1 else "cut to its sheet",
        extra=piece.sizes,
        profile=_ring(profile),
    )


def _ring(shape: shapely.Polygon) -> tuple[tuple[float, float], ...]:
    return tuple((float(a), float(b)) for a, b in np.asarray(shape.exterior.coords)[:-1])


def _channels(
    piece: CradlePiece, cradle: CradlePlan, case: CasePlan, at: tuple[float, float, float]
) -> list[tuple[str, Cut]]:
    """What a board that is let in stands in, in the frames of long boards and floor."""
    wide = piece.thickness + CHANNEL_PLAY_MM
    x = piece.span[0] + at[0] - CHANNEL_PLAY_MM / 2
    _, z0, _, z1 = piece.shape.bounds
    mark = MARKS[piece.name]
    if piece.joint == "groove":
        u = x + case.wishes.boards.mm
        deep, top = cradle.wishes.groove_depth + 0.25, at[2] + float(z1)
        cut = Cut("channel", (u, 0.0, 0.0, u + wide, top, deep), mark)
        return [("front board", cut), ("back board", cut)]
    if piece.joint == "dado":
        floor = case.piece("bottom panel")
        ledge = -floor.places[0].origin[0]
        y0, y1 = float(piece.shape.bounds[0]) + at[1], float(piece.shape.bounds[2]) + at[1]
        box = (x + ledge, y0 + ledge, 0.0, x + ledge + wide, y1 + ledge, -float(z0))
        return [("bottom panel", Cut("channel", box, mark))]
    return []
