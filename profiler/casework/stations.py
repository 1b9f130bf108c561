"""Where cradle pieces will stand, and what has to be carried through to them.

Cradle pieces are planned from cross-profiles in `casework.cradle`, and come into the plan as
`pieces.Piece`s that `plan.plan_case` accepts as `extra`: they then stand in cut list, sheets, mass
and drawings like all others.
"""

from __future__ import annotations

from dataclasses import dataclass

from profiler.casework.body import Body
from profiler.casework.trace import Size, Term, total
from profiler.casework.wishes import Room


@dataclass(frozen=True)
class Station:
    """A place along the case.

    Attributes:
        name: as 'nut'.
        x: from the tail board's inside face.
        u: from the tail end of a long board.
        room: how wide the free lane must be there, wood to wood; None where the width is not known.
        lift: from the floor to the instrument's underside.
    """

    name: str
    x: Size
    u: Size
    room: Size | None
    lift: Size


def stations(body: Body, room: Room, board: float) -> tuple[Station, ...]:
    """Every named place of the instrument, tail first; `board` is the boards' thickness."""
    found = []
    start = (
        Term("clearance at the tail", room.ends + room.behind),
        Term("lining", room.lining),
    )
    given = 0.0 if room.foam_loaded is None else room.foam - room.foam_loaded
    for place in body.places:
        at = Term("from the instrument's tail", place.x)
        width = None
        if place.width is not None:
            width = total(
                f"{place.name}, room",
                "inside-across",
                Term("instrument", place.width),
                Term("clearance on each side", room.side, 2),
                Term("lining", room.lining, 2),
            )
        found.append(
            Station(
                place.name,
                total(f"{place.name}, from the inside face", "station", at, *start),
                total(
                    f"{place.name}, from the tail end",
                    "station",
                    at,
                    *start,
                    Term("tail board", board),
                ),
                width,
                total(
                    f"{place.name}, lift",
                    "cradle",
                    Term("foam", room.foam),
                    Term("what it gives", given, -1),
                ),
            )
        )
    return tuple(found)
