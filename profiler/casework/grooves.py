"""How wide and how deep the walls' grooves are."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.casework.panels import Rabbet
from profiler.casework.stock import Stock
from profiler.casework.trace import Size, Term, chosen, total
from profiler.casework.wishes import Joints
from profiler.casework.words import both
from profiler.errors import RequestError
from profiler.findings import Finding, Level

#: a groove wider than its wall by more than this is loose, mm
LOOSE_MM = 0.6


@dataclass(frozen=True)
class GrooveSizes:
    """Widths and depths, mm: of grooves in boards, and of those in cross walls."""

    width: Size
    board_depth: Size
    wall_depth: Size
    tongue_play: float
    wall: float

    @property
    def side_play(self) -> float:
        """From a wall's face to its groove's, on either side."""
        return (self.width.mm - self.wall) / 2


def groove_sizes(
    board: Stock, wall: Stock, rabbet: Rabbet, joints: Joints, step: float
) -> tuple[GrooveSizes, tuple[Finding, ...]]:
    """How wide and how deep.

    Raises:
        RequestError: the wall does not go into the groove, or the groove is too deep or too
            shallow.
    """
    remarks: list[Finding] = []
    if joints.groove_width is None:
        width = total(
            "groove, width",
            "groove-width",
            Term("wall", wall.mm),
            Term("play", joints.groove_play),
        )
    else:
        width = chosen("groove, width", joints.groove_width, "typed", Term("wall", wall.mm))
        spare = joints.groove_width - wall.mm
        if spare < -1e-9:
            raise RequestError(
                f"Walls of {both(wall.mm)} do not go into grooves of {both(width.mm)}. The"
                f" nearest: walls that measure {both(width.mm)} or less, or grooves of"
                f" {both(wall.mm + joints.groove_play)}."
            )
        if spare > LOOSE_MM:
            remarks.append(
                Finding(
                    805,
                    Level.CAUTION,
                    f"Grooves of {both(width.mm)} are {both(spare)} wider than their"
                    f" walls: glue does not fill that. {both(wall.mm + joints.groove_play)}"
                    " would hold them.",
                    "grooves",
                )
            )
    most = min(rabbet.width.mm, board.mm / 2)
    if joints.groove_depth is None:
        third = max(step, round(board.mm / 3 / step) * step)
        depth = chosen("groove, depth", min(third, most), "groove-depth", Term("board", board.mm))
    else:
        depth = chosen("groove, depth", joints.groove_depth, "typed", Term("board", board.mm))
        if not 1.0 <= depth.mm <= most + 1e-9:
            raise RequestError(
                f"Grooves {both(depth.mm)} deep do not suit boards of {both(board.mm)} with"
                f" rabbets {both(rabbet.width.mm)} wide: 1 mm to {both(most)}; deeper ones weaken"
                f" the board or show at its edge. The nearest is"
                f" {both(min(max(depth.mm, 1.0), most))}."
            )
    own = chosen(
        "groove in a cross wall, depth",
        max(1.0, round(wall.mm / 3 / step) * step),
        "groove-depth",
        Term("wall", wall.mm),
    )
    return GrooveSizes(width, depth, own, joints.tongue_play, wall.mm), tuple(remarks)
