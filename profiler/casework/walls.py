"""Walls round the compartments, the grooves that hold them, and what fills the grooves' rest.

A cross wall stands in a groove of a long board and carries, in a groove of its own, the wall beside
the neck; where a compartment reaches the head board, that wall stands in a groove of the head board
instead. All grooves run straight across, so walls slide in from above once the lid is off.
"""

from __future__ import annotations

from dataclasses import dataclass

from profiler.casework.boards import Groove
from profiler.casework.fingers import Fingers
from profiler.casework.grooves import GrooveSizes
from profiler.casework.inside import Inside
from profiler.casework.panels import Rabbet
from profiler.casework.pieces import Cut, Piece, Place
from profiler.casework.stock import Stock
from profiler.casework.storage import Compartment
from profiler.casework.trace import Size, Term, chosen, total
from profiler.casework.words import both
from profiler.errors import RequestError

#: shorter fillers are not worth the trouble, mm
LEAST_FILLER_MM = 3.0
#: lowest wall that keeps anything in, mm
LEAST_WALL_MM = 15.0


@dataclass(frozen=True)
class Walls:
    """Pieces and the boards' grooves."""

    pieces: tuple[Piece, ...]
    grooves: tuple[Groove, ...]
    height: Size | None


def plan_walls(
    rooms: tuple[Compartment, ...],
    inside: Inside,
    board: Stock,
    wall: Stock,
    fingers: Fingers,
    rabbet: Rabbet,
    sizes: GrooveSizes,
    gap: float,
) -> Walls:
    """Everything that stands round the compartments.

    Raises:
        RequestError: the base is too low for walls.
    """
    if not rooms:
        return Walls((), (), None)
    height = total(
        "wall, height",
        "wall-height",
        Term("saw cut, from the lower edge", fingers.line.mm),
        Term("floor", rabbet.depth.mm, -1),
        Term("gap below the lid", gap, -1),
    )
    if height.mm < LEAST_WALL_MM:
        raise RequestError(
            f"The base is too low for compartments: walls would be {both(max(0.0, height.mm))}"
            f" high, {both(LEAST_WALL_MM)} is the least. Ask for a lower lid, or for"
            " --compartments none."
        )
    pieces: list[Piece] = []
    grooves: list[Groove] = []
    marks = iter("GHJKLMNP")
    for room in rooms:
        twin = next((r for r in rooms if r.side != room.side and _alike(r, room)), None)
        if twin is not None and room.side == "back" and rooms.index(twin) < rooms.index(room):
            continue  # drawn with its twin
        group = (room,) if twin is None else (room, twin)
        cross_mark, neck_mark = next(marks), next(marks)
        pieces.append(_cross_wall(cross_mark, group, inside, wall, rabbet, sizes, height))
        pieces.append(_neck_wall(neck_mark, group, inside, wall, rabbet, sizes, height))
        for one in group:
            grooves += _board_grooves(one, cross_mark, neck_mark, inside, board, sizes)
    fillers = _fillers(next(marks), grooves, inside, board, wall, fingers, rabbet, sizes)
    return Walls((*pieces, *fillers), tuple(grooves), height)


def _alike(a: Compartment, b: Compartment) -> bool:
    return (a.x0, a.x1, a.width, a.to_end) == (b.x0, b.x1, b.width, b.to_end)


def _cross_wall(
    mark: str,
    group: tuple[Compartment, ...],
    inside: Inside,
    wall: Stock,
    rabbet: Rabbet,
    sizes: GrooveSizes,
    height: Size,
) -> Piece:
    room = group[0]
    tongue = sizes.board_depth.mm - sizes.tongue_play
    length = total(
        "cross wall, length",
        "wall-length",
        Term("compartment", room.width),
        Term("groove in the board", sizes.board_depth.mm),
        Term("wall beside the neck", wall.mm),
        Term("shoulder", room.shoulder),
        Term("play", sizes.tongue_play, -1),
    )
    near = tongue + room.width - sizes.side_play
    groove = Cut(
        "groove",
        (near, 0.0, 0.0, near + sizes.width.mm, height.mm, sizes.wall_depth.mm),
        "wall beside the neck",
    )
    floor = rabbet.depth.mm
    places = []
    for one in group:
        y = inside.across.mm + tongue if one.side == "back" else -tongue
        u = "-y" if one.side == "back" else "+y"
        places.append(Place((one.x0, y, floor), (u, "+z", "-x"), "base"))
        if not one.to_end:
            places.append(Place((one.x1, y, floor), (u, "+z", "+x"), "base"))
    return Piece(
        mark,
        f"cross wall{_of(group)}",
        "walls",
        length,
        height,
        wall.thickness,
        ends=("board", "neck"),
        cuts=(groove,),
        places=tuple(places),
        count=len(places),
        note="groove towards the compartment",
    )


def _neck_wall(
    mark: str,
    group: tuple[Compartment, ...],
    inside: Inside,
    wall: Stock,
    rabbet: Rabbet,
    sizes: GrooveSizes,
    height: Size,
) -> Piece:
    room = group[0]
    at_tail = sizes.wall_depth.mm - sizes.tongue_play
    at_head = Term("groove in the head board", sizes.board_depth.mm)
    if not room.to_end:
        at_head = Term("groove in the cross wall at the head", sizes.wall_depth.mm)
    length = total(
        "wall beside the neck, length",
        "wall-length",
        Term("compartment", room.length),
        Term("groove in the cross wall", sizes.wall_depth.mm),
        at_head,
        Term("play", sizes.tongue_play, -2),
    )
    places = []
    for one in group:
        back = one.side == "back"
        y = inside.across.mm - one.width if back else one.width
        places.append(
            Place(
                (one.x0 - at_tail, y, rabbet.depth.mm), ("+x", "+z", "-y" if back else "+y"), "base"
            )
        )
    return Piece(
        mark,
        f"wall beside the neck{_of(group)}",
        "walls",
        length,
        height,
        wall.thickness,
        ends=("tail", "head"),
        places=tuple(places),
        count=len(places),
    )


def _of(group: tuple[Compartment, ...]) -> str:
    return "" if len(group) == 2 else f", {group[0].side}"


def _board_grooves(
    room: Compartment,
    cross_mark: str,
    neck_mark: str,
    inside: Inside,
    board: Stock,
    sizes: GrooveSizes,
) -> list[Groove]:
    t, width, deep = board.mm, sizes.width.mm, sizes.board_depth.mm
    play = sizes.side_play
    places = [room.x0 - sizes.wall - play]
    if not room.to_end:
        places.append(room.x1 - play)
    found = [Groove(room.side, t + x, width, deep, cross_mark) for x in places]
    if room.to_end:
        y = inside.across.mm - room.width - sizes.wall if room.side == "back" else room.width
        found.append(Groove("head", t + y - play, width, deep, neck_mark))
    return found


def _fillers(
    mark: str,
    grooves: list[Groove],
    inside: Inside,
    board: Stock,
    wall: Stock,
    fingers: Fingers,
    rabbet: Rabbet,
    sizes: GrooveSizes,
) -> list[Piece]:
    """Strips for the grooves' part in the lid; ripped off the walls' sheet, so that they fit."""
    length = total(
        "filler, length",
        "filler",
        Term("board width", fingers.board_width.mm),
        Term("saw cut, from the lower edge", fingers.line.mm, -1),
        Term("saw cut", fingers.kerf, -1),
        Term("rabbet", rabbet.depth.mm, -1),
    )
    if length.mm < LEAST_FILLER_MM:
        return []
    width = chosen("filler, width", sizes.board_depth.mm, "filler")
    z = fingers.line.mm + fingers.kerf
    t, play = board.mm, sizes.side_play
    places = []
    for g in grooves:
        at = g.u + play - t  # along the inside face, from the inside corner
        origin, axes = {
            "front": ((at, -sizes.board_depth.mm, z), ("+z", "+y", "+x")),
            "back": ((at, inside.across.mm, z), ("+z", "+y", "+x")),
            "head": ((inside.along.mm, at, z), ("+z", "+x", "+y")),
        }[g.board]
        places.append(Place(origin, axes, "lid"))
    return [
        Piece(
            mark,
            "filler, lid grooves",
            "walls",
            length,
            width,
            wall.thickness,
            grain="any",
            places=tuple(places),
            count=len(places),
            note="rip as one long strip, then cut to length",
        )
    ]
