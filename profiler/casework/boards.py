"""The four boards of the box: fingers, grooves, rabbets, and the cut that parts the lid."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.casework.fingers import Fingers
from profiler.casework.inside import Inside
from profiler.casework.panels import Rabbet
from profiler.casework.pieces import Cut, Piece, Place
from profiler.casework.stock import Stock
from profiler.casework.trace import Size, Term, total

NAMES = ("front", "back", "tail", "head")


@dataclass(frozen=True)
class Groove:
    """A groove all across the inside face of a board.

    Attributes:
        board: one of `NAMES`.
        u: its nearer edge from the board's u = 0 end, mm.
        width, depth: mm.
        wall: mark of the wall that stands in it.
    """

    board: str
    u: float
    width: float
    depth: float
    wall: str


def board_lengths(inside: Inside, board: Stock) -> tuple[Size, Size]:
    """Of the long boards and of the end boards: all run through to the outside."""
    two = Term("thickness", board.mm, 2)
    return (
        total("long board", "board-length", Term("inside, along", inside.along.mm), two),
        total("end board", "board-length", Term("inside, across", inside.across.mm), two),
    )


def box_boards(
    inside: Inside,
    board: Stock,
    fingers: Fingers,
    rabbet: Rabbet,
    grooves: tuple[Groove, ...],
    marks: tuple[str, str, str, str] = ("A", "B", "C", "D"),
) -> tuple[Piece, ...]:
    """Front, back, tail and head board, as cut before the box is glued up, rabbets after."""
    long, end = board_lengths(inside, board)
    t, along, across = board.mm, inside.along.mm, inside.across.mm
    places = {
        "front": Place((-t, 0.0, 0.0), ("+x", "+z", "-y"), "both"),
        "back": Place((-t, across, 0.0), ("+x", "+z", "+y"), "both"),
        "tail": Place((0.0, -t, 0.0), ("+y", "+z", "-x"), "both"),
        "head": Place((along, -t, 0.0), ("+y", "+z", "+x"), "both"),
    }
    pieces = []
    for mark, name in zip(marks, NAMES, strict=True):
        is_long = name in ("front", "back")
        length = long if is_long else end
        cuts = [
            Cut("groove", (g.u, 0.0, 0.0, g.u + g.width, fingers.board_width.mm, g.depth), g.wall)
            for g in grooves
            if g.board == name
        ]
        cuts += _sockets(fingers, length.mm, t, odd=is_long)
        cuts += _rabbets(fingers, rabbet, length.mm, t)
        cuts.append(_saw(fingers, length.mm, t))
        pieces.append(
            Piece(
                mark=mark,
                name=f"{name} board",
                use="boards",
                length=length,
                width=fingers.board_width,
                thickness=board.thickness,
                ends=("tail", "head") if is_long else ("front", "back"),
                cuts=tuple(cuts),
                places=(places[name],),
                note="a finger at both edges" if is_long else "a socket at both edges",
            )
        )
    return tuple(pieces)


def _sockets(fingers: Fingers, length: float, t: float, odd: bool) -> list[Cut]:
    """What is cut out between fingers, at both ends."""
    cuts = []
    for low, high in fingers.spans(odd):
        cuts.append(Cut("socket", (0.0, low, 0.0, t, high, t)))
        cuts.append(Cut("socket", (length - t, low, 0.0, length, high, t)))
    return cuts


def _rabbets(fingers: Fingers, rabbet: Rabbet, length: float, t: float) -> list[Cut]:
    """Along both edges, made in one go round the inside of the glued-up box."""
    w, d, high = rabbet.width.mm, rabbet.depth.mm, fingers.board_width.mm
    start, end = t - w, length - t + w
    return [
        Cut("rabbet", (start, 0.0, 0.0, end, d, w), made="after"),
        Cut("rabbet", (start, high - d, 0.0, end, high, w), made="after"),
    ]


def _saw(fingers: Fingers, length: float, t: float) -> Cut:
    z = fingers.line.mm
    return Cut("saw", (0.0, z, 0.0, length, z + fingers.kerf, t), made="after")
