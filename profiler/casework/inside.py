"""Inside size: what the instrument needs along, across and deep, and where it might touch."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.casework.body import Body
from profiler.casework.trace import Size, Term, total
from profiler.casework.wishes import Room
from profiler.casework.words import both
from profiler.errors import RequestError
from profiler.findings import Finding, Level

#: with less than this left of a clearance at worst, wood may touch varnish, mm
LEAST_MM = 1.0
#: clearances and linings above this are slips of the unit, mm
LARGEST_MM = 150.0


@dataclass(frozen=True)
class Inside:
    """Wood to wood, mm."""

    along: Size
    across: Size
    deep: Size


def inside_size(body: Body, room: Room, step: float) -> Inside:
    """What the box must offer, each size rounded up to `step` mm.

    Raises:
        RequestError: a clearance or lining that makes no sense.
    """
    for name, mm in (
        ("clearance at the sides", room.side),
        ("clearance at the ends", room.ends),
        ("room above", room.above),
        ("lining", room.lining),
        ("foam", room.foam),
    ):
        if not 0.0 <= mm <= LARGEST_MM:
            raise RequestError(
                f"A {name} of {mm:g} mm makes no sense: give 0 to {LARGEST_MM:g} mm."
            )
    lining = Term("lining", room.lining, 2)
    return Inside(
        total(
            "inside, along",
            "inside-along",
            Term("instrument's length", body.length),
            Term("clearance at each end", room.ends, 2),
            lining,
            Term("more behind the tail, for its rest", room.behind),
            step=step,
        ),
        total(
            "inside, across",
            "inside-across",
            Term("instrument's width", body.width),
            Term("clearance on each side", room.side, 2),
            lining,
            step=step,
        ),
        total(
            "inside, deep, needed",
            "inside-deep",
            Term("foam", room.foam),
            Term("thickest height", body.height),
            Term("room above", room.above),
            Term("lining of the lid", room.lining),
            step=step,
        ),
    )


def touching(body: Body, room: Room) -> tuple[Finding, ...]:
    """Where the instrument would touch if its numbers were out by their uncertainty."""
    remarks = []
    for name, u95, share, gap, mostly in (
        ("at the ends", body.u_length, 0.5, room.ends, body.mostly[0]),
        ("at the sides", body.u_width, 0.5, room.side, body.mostly[1]),
        ("over the thickest place", body.u_height, 1.0, room.above, body.mostly[2]),
    ):
        worst = gap - share * u95
        if worst < LEAST_MM:
            remarks.append(
                Finding(
                    803,
                    Level.DOUBT,
                    f"The instrument may touch {name}: of {both(gap)} clearance"
                    f" {both(max(0.0, worst))} are left if the measured size is out by its"
                    f" ± {both(u95)}{f' (mostly {mostly})' if mostly else ''}. Ask for"
                    f" {both(LEAST_MM + share * u95)} or more, or measure it better.",
                    name,
                )
            )
    if body.doubts:
        remarks.append(
            Finding(
                804,
                Level.CAUTION,
                "Parts of the outline are in doubt ("
                + "; ".join(body.doubts)
                + "): lay the template on the instrument there before you cut walls beside it.",
                "outline",
            )
        )
    return tuple(remarks)
