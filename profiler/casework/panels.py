"""Top and bottom: panels let into a rabbet all round."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.casework.inside import Inside
from profiler.casework.trace import Size, Term, chosen, total
from profiler.casework.wishes import Joints
from profiler.casework.words import both
from profiler.errors import RequestError

#: least lip outside a rabbet and least ledge in it, mm (common practice, no source)
LEAST_LIP_MM, LEAST_LEDGE_MM = 2.5, 2.5
#: deepest rabbet, so that the board stays a board, mm
DEEPEST_MM = 25.0


@dataclass(frozen=True)
class Rabbet:
    """The step that a panel drops into: width into the board, depth from its edge."""

    width: Size
    depth: Size
    proud: float


def plan_rabbet(board: float, panel: float, joints: Joints, step: float) -> Rabbet:
    """Rabbet for panels of thickness `panel` in boards of thickness `board`, mm.

    Raises:
        RequestError: no lip or no ledge would be left, or the panel would not be let in at all.
    """
    if not 0.0 <= joints.proud <= panel - 1.0:
        raise RequestError(
            f"A panel of {both(panel)} cannot stand {both(joints.proud)} proud: at least"
            f" 1 mm must be let in, so {both(panel - 1.0)} is the most."
        )
    most = board - LEAST_LIP_MM
    if joints.rabbet_width is None:
        half = max(LEAST_LEDGE_MM, int(board / 2 / step + 1e-6) * step)
        width = chosen("rabbet, width", half, "rabbet-width", Term("board", board))
    else:
        width = chosen("rabbet, width", joints.rabbet_width, "typed")
    if not LEAST_LEDGE_MM - 1e-9 <= width.mm <= most + 1e-9:
        near = min(max(width.mm, LEAST_LEDGE_MM), most)
        raise RequestError(
            f"A rabbet {both(width.mm)} wide does not suit boards"
            f" of {both(board)}: {LEAST_LEDGE_MM:g} to {most:.1f} mm leave a ledge and a lip"
            f" to glue to. The nearest is {near:.1f} mm."
        )
    depth = total(
        "rabbet, depth", "rabbet-depth", Term("panel", panel), Term("proud", joints.proud, -1)
    )
    if depth.mm > DEEPEST_MM:
        raise RequestError(
            f"Panels of {both(panel)} are too thick to be let into the edge of a board: take"
            f" {DEEPEST_MM:g} mm at most, or let them stand proud."
        )
    return Rabbet(width, depth, joints.proud)


def panel_size(inside: Inside, rabbet: Rabbet, play: float) -> tuple[Size, Size]:
    """Length and width of both panels."""
    ledge = Term("rabbet", rabbet.width.mm, 2)
    loose = Term("play", play, -1)
    return (
        total("panel, length", "panel", Term("inside, along", inside.along.mm), ledge, loose),
        total("panel, width", "panel", Term("inside, across", inside.across.mm), ledge, loose),
    )


@dataclass(frozen=True)
class Heights:
    """The box from below to above, mm.

    Attributes:
        high_sawn: outside, before the lid is sawn off.
        inside_sawn: inside, before.
        outside: closed, after.
        inside: closed, after: what the instrument gets.
        lid, base: outside heights.
    """

    high_sawn: Size
    inside_sawn: Size
    outside: Size
    inside: Size
    lid: Size
    base: Size


def heights(
    board_width: float, rabbet_depth: float, proud: float, kerf: float, lid_wood: float
) -> Heights:
    """What boards of this width make, mm.

    Args:
        board_width: before sawing.
        rabbet_depth, proud: of both panels.
        kerf: of the saw that parts the lid.
        lid_wood: board above the saw cut.
    """
    board = Term("board width", board_width)
    high = total("outside, before sawing", "outside-high", board, Term("panel proud", proud, 2))
    saw = Term("saw cut", kerf, -1)
    lid = total("lid", "lid", Term("board above the cut", lid_wood), Term("panel proud", proud))
    return Heights(
        high_sawn=high,
        inside_sawn=total(
            "inside, before sawing", "inside-high", board, Term("rabbet", rabbet_depth, -2)
        ),
        outside=total("outside, closed", "outside-high", board, Term("panel proud", proud, 2), saw),
        inside=total("inside, deep", "inside-closed", board, Term("rabbet", rabbet_depth, -2), saw),
        lid=lid,
        base=total(
            "base",
            "base",
            Term("outside, before sawing", high.mm),
            Term("lid", lid.mm, -1),
            saw,
        ),
    )
