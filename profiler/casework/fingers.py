"""Corner fingers that the saw cut of the lid does not spoil, and the lid's place itself.

The saw turns a slit of the box into dust. If fingers simply divide the boards, that slit leaves a
sliver of one of them. Here every finger is whole after the cut: the base holds `base_count`
fingers counted from the lower edge, the lid `lid_count` counted from the upper edge, and between
them lies the kerf, which widens the lid's first finger until the saw has gone through. With one
stop setting: cut from the lower edge up to the line, turn the board over, cut from the other edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiler.casework.trace import HAIR_MM, Size, Term, chosen, total
from profiler.casework.wishes import Hardware
from profiler.casework.words import both
from profiler.errors import RequestError

#: a finger's width, in thicknesses of the board (common practice, no source)
NARROWEST, WIDEST = 0.7, 1.5
#: what all fingers of a board together may differ from the jig's, mm: indexed from both edges,
#: it all ends up at the saw cut, where one finger becomes that much wider or narrower
SPREAD_MM = 1.0
#: wood of the lid inside, below its panel, mm
LEAST_LID_MM = 4.0


@dataclass(frozen=True)
class Needs:
    """What the heights have to satisfy, mm: closed, before rounding to fingers.

    Attributes:
        deep: inside depth.
        rabbet_depth, proud: of both panels.
        kerf: of the saw that parts the lid.
        thickness: of the boards.
        lid, base: outside heights that the hardware needs.
        step: finger widths are multiples of this.
    """

    deep: float
    rabbet_depth: float
    proud: float
    kerf: float
    thickness: float
    lid: float
    base: float
    step: float

    @property
    def wood(self) -> float:
        """Board width that must be left after sawing."""
        return self.deep + 2 * self.rabbet_depth


@dataclass(frozen=True)
class Fingers:
    """The layout, mm from the lower edge.

    Attributes:
        width: of each finger after sawing.
        count: odd; a board that starts with a finger ends with one.
        base_count: how many stay on the base.
        board_width: before sawing.
        line: lower edge of the saw cut.
        kerf: its width.
    """

    width: Size
    count: int
    base_count: int
    board_width: Size
    line: Size
    kerf: float

    @property
    def lid_count(self) -> int:
        return self.count - self.base_count

    @property
    def edges(self) -> tuple[float, ...]:
        """(count + 1,) where fingers begin and end before sawing; the lid's first is wider."""
        f = self.width.mm
        low = [i * f for i in range(self.base_count + 1)]
        high = [i * f + self.kerf for i in range(self.base_count + 1, self.count + 1)]
        return tuple(low + high)

    def spans(self, odd: bool) -> tuple[tuple[float, float], ...]:
        """(from, to) of every second finger, starting with the first or, if `odd`, the second."""
        e = self.edges
        return tuple((e[i], e[i + 1]) for i in range(int(odd), self.count, 2))


def hardware_needs(hardware: Hardware) -> tuple[Size, Size]:
    """Heights of lid and base that leaves and their clearances ask for."""
    edge = Term("clearance to the edge", hardware.edge)
    upper = max(hardware.latch_upper, hardware.hinge_upper)
    lower = max(hardware.latch_lower, hardware.hinge_lower)
    return (
        total("lid, needed", "lid-needs", Term("tallest upper leaf", upper), edge),
        total("base, needed", "base-needs", Term("tallest lower leaf", lower), edge),
    )


def plan_fingers(
    needs: Needs,
    finger: float | None = None,
    board_width: float | None = None,
    lid: float | None = None,
) -> Fingers:
    """The layout that gives the depth with the least wood to spare.

    Args:
        needs: what has to be satisfied.
        finger: width at hand, mm; None to choose one near the boards' thickness.
        board_width: at hand, mm; the finger's width then follows.
        lid: outside height that was asked for, mm; the nearest whole finger is taken.

    Raises:
        RequestError: nothing satisfies all; the sentence names the nearest that does.
    """
    _check_kerf(needs)
    _check_hardware(needs, board_width)
    if lid is not None:
        _check_lid(needs, lid, board_width)
    t = needs.thickness
    options = []
    for width, count in _candidates(needs, finger, board_width):
        for lid_count in range(1, count):
            base_count = count - lid_count
            lid_high = lid_count * width + needs.proud
            base_high = base_count * width + needs.proud
            if lid_high < needs.lid - HAIR_MM or base_high < needs.base - HAIR_MM:
                continue
            if lid_count * width < needs.rabbet_depth + LEAST_LID_MM:
                continue
            spare = count * width - needs.wood
            cost = spare + 1.5 * abs(width - t)
            cost += abs(lid_high - lid) if lid is not None else 0.2 * lid_high
            options.append((round(cost, 6), width, count, base_count))
    if not options:
        raise _nothing_fits(needs, finger, board_width)
    _, width, count, base_count = min(options)
    return _layout(needs, width, count, base_count, finger is not None)


def _candidates(
    needs: Needs, finger: float | None, board_width: float | None
) -> list[tuple[float, int]]:
    """(finger width, odd count) that give the depth."""
    t, found = needs.thickness, []
    if board_width is not None:
        if board_width - needs.kerf < needs.wood - HAIR_MM:
            raise RequestError(
                f"Boards {both(board_width)} wide are too narrow for depth, both rabbets and the"
                f" saw cut together. The nearest that will do: {both(needs.wood + needs.kerf)}."
            )
        if finger is not None:
            return [_both_given(needs, finger, board_width)]
        for count in range(3, 400, 2):
            width = (board_width - needs.kerf) / count
            if NARROWEST * t <= width <= WIDEST * t:
                found.append((width, count))
        return found
    if finger is not None:
        if not 0.4 * t <= finger <= 3 * t:
            raise RequestError(
                f"Fingers {both(finger)} wide do not suit boards of {both(t)}: the nearest are"
                f" {both(min(max(finger, 0.4 * t), 3 * t))}; best is about the thickness."
            )
        widths = [finger]
    else:
        first = math.ceil(NARROWEST * t / needs.step - HAIR_MM)
        last = math.floor(WIDEST * t / needs.step + HAIR_MM)
        widths = [i * needs.step for i in range(first, last + 1)]
    for width in widths:
        least = max(3, math.ceil(needs.wood / width - HAIR_MM))
        least += 1 - least % 2
        found += [(width, least), (width, least + 2)]
    return found


def _both_given(needs: Needs, finger: float, board_width: float) -> tuple[float, int]:
    """A finger and boards at hand: they suit each other only at a whole, odd number."""
    wood = board_width - needs.kerf
    count = max(3, 2 * round((wood / finger - 1) / 2) + 1)
    width = wood / count
    if abs(width - finger) * count <= SPREAD_MM:
        return width, count
    raise RequestError(
        f"In boards {both(board_width)} wide, fingers of {both(finger)} and the saw cut leave a"
        f" sliver. The nearest that will do: fingers of {both(width)} in these boards, or boards"
        f" {both(count * finger + needs.kerf)} wide with these fingers."
    )


def _layout(needs: Needs, width: float, count: int, base_count: int, typed: bool) -> Fingers:
    size = chosen(
        "finger",
        width,
        "typed" if typed else "finger",
        Term("boards' thickness", needs.thickness),
    )
    return Fingers(
        width=size,
        count=count,
        base_count=base_count,
        board_width=total(
            "board width",
            "board-width",
            Term("finger", width, count),
            Term("saw cut", needs.kerf),
        ),
        line=total("saw cut, from the lower edge", "line", Term("finger", width, base_count)),
        kerf=needs.kerf,
    )


def _check_kerf(needs: Needs) -> None:
    if not 0.3 <= needs.kerf <= 8.0:
        raise RequestError(
            f"A saw cut {needs.kerf:g} mm wide makes no sense here: give 0.3 to 8 mm."
        )


def _check_hardware(needs: Needs, board_width: float | None) -> None:
    """A latch taller than the case is refused; a finger more than the depth asks for is not."""
    wood = needs.wood if board_width is None else board_width - needs.kerf
    there = wood + 2 * needs.proud + (needs.thickness if board_width is None else 0.0)
    wanted = needs.lid + needs.base
    if wanted <= there + HAIR_MM:
        return
    raise RequestError(
        f"The hardware is taller than the case: leaves and clearances above and below the saw cut"
        f" need {both(wanted)} together, the case has {both(there)}. The nearest that fits:"
        f" leaves {both(wanted - there)} shorter in all, or a case that much deeper"
        f" (--above)."
    )


def _check_lid(needs: Needs, lid: float, board_width: float | None) -> None:
    wood = needs.wood if board_width is None else board_width - needs.kerf
    least = max(needs.lid, needs.rabbet_depth + needs.proud + LEAST_LID_MM)
    most = wood + 2 * needs.proud - needs.base
    if lid < least - HAIR_MM or lid > most + needs.thickness:
        raise RequestError(
            f"A lid {both(lid)} high cannot be: the hardware allows {both(least)} to"
            f" {both(max(least, most))}. The nearest is {both(min(max(lid, least), most))}."
        )


def _nothing_fits(needs: Needs, finger: float | None, board_width: float | None) -> RequestError:
    if board_width is not None:
        # the nearest wider board that does: fingers as wide as the wood is thick
        free = plan_fingers(needs, None, None, None)
        return RequestError(
            f"Boards {both(board_width)} wide cannot be divided into whole fingers that suit wood"
            f" of {both(needs.thickness)} and the hardware. The nearest that will do:"
            f" {both(free.board_width.mm)}, with fingers of {both(free.width.mm)}."
        )
    if finger is not None:
        free = plan_fingers(needs, None, None, None)
        return RequestError(
            f"With fingers of {both(finger)} no saw cut leaves whole fingers on lid and base and"
            f" room for the hardware. The nearest that will do: {both(free.width.mm)}."
        )
    return RequestError(
        "No layout of whole fingers suits this depth and hardware. Allow a deeper case (--above)"
        " or thinner boards."
    )
