"""Where handle, latches, hinges and feet go, and how long their screws may be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.casework.boards import Groove
from profiler.casework.trace import Size, Term, chosen, total
from profiler.casework.wishes import Hardware
from profiler.casework.words import both
from profiler.errors import RequestError
from profiler.findings import Finding, Level

#: from the fingers, from a groove's edge, between handle and latch, mm
BESIDE_FINGERS_MM, BESIDE_GROOVE_MM, BESIDE_HANDLE_MM = 8.0, 4.0, 10.0
#: half of what a handle's foot covers, mm
HANDLE_FOOT_MM = 15.0
#: share of the length from each end where latches and hinges are wanted
SHARE = 0.2
#: from this length on a third hinge, mm
THIRD_HINGE_MM = 900.0
#: wood that must stay in front of a screw's tip, mm
BEFORE_TIP_MM = 1.0
FEET_INSET_MM = 35.0
STEP_MM = 0.5

Span = tuple[float, float]


@dataclass(frozen=True)
class Fitting:
    """One piece of hardware.

    Attributes:
        kind: 'handle', 'latch', 'hinge' or 'foot'.
        board: which board, or 'floor' for the bottom panel's outside.
        u: its middle, from the tail end of the board, or of the case for feet.
        v: height of its middle above the lower edge before sawing; for feet, from the front.
    """

    kind: str
    board: str
    u: Size
    v: float


@dataclass(frozen=True)
class Fittings:
    """All hardware, its longest screw, and what had to be said."""

    items: tuple[Fitting, ...]
    screw: Size
    findings: tuple[Finding, ...]


def screw_length(hardware: Hardware, board: float) -> Size:
    """The longest that does not come through, or the typed one.

    Raises:
        RequestError: the typed one comes through.
    """
    most = total(
        "screw, longest",
        "screw",
        Term("board", board),
        Term("leaf", hardware.leaf),
        Term("wood before the tip", BEFORE_TIP_MM, -1),
    )
    if hardware.screw is None:
        return most
    if hardware.screw > most.mm + 1e-9:
        raise RequestError(
            f"Screws of {both(hardware.screw)} would come through boards of {both(board)}. The"
            f" nearest: {both(most.mm)}, or a block of wood inside behind them."
        )
    return chosen("screw", hardware.screw, "typed", Term("board", board))


def plan_fittings(
    hardware: Hardware,
    length: float,
    thickness: float,
    line: float,
    kerf: float,
    grooves: Sequence[Groove],
    centre_x: float,
    width_out: float,
) -> Fittings:
    """Places on the outside of front and back board and below.

    Args:
        hardware: wishes.
        length: of the long boards.
        thickness: of the boards.
        line: lower edge of the saw cut.
        kerf: its width.
        grooves: of all boards.
        centre_x: centre of gravity from the tail board's inside face.
        width_out: of the case.
    """
    findings: list[Finding] = []
    ends = thickness + BESIDE_FINGERS_MM
    front = _groove_spans(grooves, "front")
    back = _groove_spans(grooves, "back")
    wanted = centre_x + thickness
    reach = hardware.handle / 2
    handle = _nearest_handle(wanted, reach, (ends, length - ends), front)
    if handle is None:
        raise RequestError(
            f"A handle of {both(hardware.handle)} is too long for a case of"
            f" {both(length)}: the nearest is {both(max(0.0, length - 2 * ends))}."
        )
    if abs(handle - wanted) > 5.0:
        findings.append(
            Finding(
                807,
                Level.NOTE,
                f"The handle sits {both(abs(handle - wanted))} off the centre of gravity, to"
                " stay clear of fingers and grooves: the case will hang a little askew.",
                "handle",
            )
        )
    items = [
        Fitting(
            "handle",
            "front",
            chosen("handle", handle, "handle", Term("centre of gravity", wanted)),
            line / 2,
        )
    ]
    taken = (handle - reach - BESIDE_HANDLE_MM, handle + reach + BESIDE_HANDLE_MM)
    shares = (SHARE, 1 - SHARE)
    third = (0.5,) if length > THIRD_HINGE_MM else ()
    for kind, board, places, closed in (
        ("latch", "front", shares, (*front, taken)),
        ("hinge", "back", (*shares, *third), back),
    ):
        for share in places:
            aim = share * length
            at = _nearest(aim, hardware.width / 2, (ends, length - ends), closed)
            if at is None:
                findings.append(
                    Finding(
                        808,
                        Level.DOUBT,
                        f"No place for a {kind} near {both(aim)} from the tail end is clear of"
                        " fingers, grooves and handle: choose narrower hardware or a shorter"
                        " handle.",
                        kind,
                    )
                )
                continue
            size = chosen(
                kind,
                at,
                "fitting",
                Term("a fifth from an end" if share != 0.5 else "the middle", aim),
            )
            items.append(Fitting(kind, board, size, line + kerf / 2))
    inset = min(FEET_INSET_MM, width_out / 4)
    for u in (inset, length - inset):
        for v in (inset, width_out - inset):
            items.append(Fitting("foot", "floor", chosen("foot", u, "feet"), v))
    return Fittings(tuple(items), screw_length(hardware, thickness), tuple(findings))


def _groove_spans(grooves: Sequence[Groove], board: str) -> tuple[Span, ...]:
    return tuple(
        (g.u - BESIDE_GROOVE_MM, g.u + g.width + BESIDE_GROOVE_MM)
        for g in grooves
        if g.board == board
    )


def _nearest(aim: float, half: float, within: Span, closed: Sequence[Span]) -> float | None:
    """The place nearest to `aim` whose `half` on either side is free."""
    low, high = within[0] + half, within[1] - half
    if low > high:
        return None
    edges = [a - half for a, _ in closed] + [b + half for _, b in closed]
    for at in sorted((min(max(aim, low), high), low, high, *edges), key=lambda p: abs(p - aim)):
        free = all(at + half <= a + 1e-9 or at - half >= b - 1e-9 for a, b in closed)
        if low - 1e-9 <= at <= high + 1e-9 and free:
            return at
    return None


def _nearest_handle(
    aim: float, reach: float, within: Span, grooves: Sequence[Span]
) -> float | None:
    """As `_nearest`, but only the handle's two feet have to be clear of grooves."""
    low, high = within[0] + reach, within[1] - reach
    if low > high:
        return None
    foot = min(HANDLE_FOOT_MM, reach)
    steps = int((high - low) / STEP_MM) + 1
    places = [min(max(aim, low), high), *(low + i * STEP_MM for i in range(steps))]
    for at in sorted(places, key=lambda p: abs(p - aim)):
        feet = ((at - reach, at - reach + 2 * foot), (at + reach - 2 * foot, at + reach))
        if all(b <= x or a >= y for a, b in feet for x, y in grooves):
            return at
    return min(max(aim, low), high)
