"""The room that a cradle stands in, seen from the instrument.

Cradle frame: mm, x from the instrument's tail along its centreline, y to its left, z up from the
case's floor. The instrument's own frame is the same but for z, which starts `lift` lower.
"""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from profiler.casework.wishes import Room


@dataclass(frozen=True)
class Lane:
    """Between x0 and x1 the free width is narrower: walls of compartments stand there."""

    x0: float
    x1: float
    right: float
    left: float


@dataclass(frozen=True)
class Berth:
    """Inside faces round the instrument, cradle frame, mm.

    Attributes:
        tail, head: x of the end boards' inside faces.
        right, left: y of the long boards' inside faces.
        lanes: narrower places.
        high: how high pieces may stand, None where no case is planned yet.
        source: 'case' or 'typed' or 'default'.
    """

    tail: float
    head: float
    right: float
    left: float
    lanes: tuple[Lane, ...] = ()
    high: float | None = None
    source: str = "default"

    def between(self, x0: float, x1: float) -> tuple[float, float]:
        """y of the right and the left face that a piece from x0 to x1 stands between."""
        near = [lane for lane in self.lanes if lane.x0 < x1 and lane.x1 > x0]
        return (
            max([self.right, *(n.right for n in near)]),
            min([self.left, *(n.left for n in near)]),
        )

    def on_boards(self, x0: float, x1: float) -> bool:
        """Whether the long boards themselves stand on both sides there."""
        return self.between(x0, x1) == (self.right, self.left)


def berth_from_room(
    plan: shapely.Polygon, room: Room, across: float | None = None, tail: float = 0.0
) -> Berth:
    """A case's inside before there is a case.

    Args:
        plan: the instrument's outline.
        room: clearances and lining.
        across: inside width that was typed; the instrument stands in its middle.
        tail: room that the tail rest wants between the outline's tail and the end board.
    """
    x0, y0, x1, y1 = plan.bounds
    ends, side = room.ends + room.lining, room.side + room.lining
    middle = (y0 + y1) / 2
    half = (across / 2) if across is not None else (y1 - y0) / 2 + side
    return Berth(
        x0 - max(ends, tail),
        x1 + ends,
        middle - half,
        middle + half,
        source="default" if across is None else "typed",
    )
