"""The headstock beyond its outline: how it is tilted, how thick, how low it hangs."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from profiler.instrument.record import Quantity, missing

#: a card is laid and wood is planed this flat, degrees, 95 % (a guess from laying cards by hand)
_LAID_DEG = 0.5
#: what a headstock's thickness can be, degrees of tilt can be (common practice, no source)
THICKNESSES, MOST_TILT_DEG = (4.0, 60.0), 35.0
#: and what its edges can be rounded to, mm (common practice, no source)
MOST_EDGE_MM = 12.0

_EDGE_UNREAD = "no photo from above shows it: hold a radius gauge to the edge and give --edge"


@dataclass(frozen=True)
class FacePlane:
    """The plane of a face along the centreline: z at x, mm above the bench, and its slope.

    `u95_z` and `u95_slope` are 95 %; `source` says what showed it, as 'card 5'.
    """

    x: float
    z: float
    slope: float
    u95_z: float
    u95_slope: float
    source: str

    def at(self, x: float) -> float:
        return self.z + self.slope * (x - self.x)

    def u95_at(self, x: float) -> float:
        return float(np.hypot(self.u95_z, self.u95_slope * (x - self.x)))


@dataclass(frozen=True)
class Headstock:
    """What a block that holds the headstock has to know besides its outline.

    Attributes:
        start, end: mm along the centreline, from the nut to its end.
        tilt: degrees that its face falls from the nut to its end, against the bench.
        thickness: of the wood, mm.
        face_height: of its face above the bench at `start`, mm.
        lowest_wood: lowest point of the wood above the bench, mm.
        lowest: of everything, tuners' housings included, mm.
        edge: radius that the edges of its back are rounded to, mm.
    """

    start: float
    end: float
    tilt: Quantity
    thickness: Quantity
    face_height: Quantity
    lowest_wood: Quantity
    lowest: Quantity
    edge: Quantity = field(default_factory=lambda: missing(_EDGE_UNREAD))


def lower_corner(end: float, tilt_deg: float, thickness: float, edge: float) -> float:
    """x of the lower corner at the end of a headstock that falls away, mm.

    Its end stands square to its face, so what a photo shows from above as its end is the face's
    corner, which lies farther out than the back's; less what that one was rounded off.
    """
    inward = thickness * math.sin(math.radians(abs(tilt_deg)))
    return end - inward + rounded_away(edge, tilt_deg)


def rounded_away(edge: float, tilt_deg: float) -> float:
    """How far above the corner that would be there its lowest place lies, mm, where an edge of a
    tilted headstock is rounded to a radius: an arc that touches both faces of a right angle."""
    tilt = math.radians(abs(tilt_deg))
    return edge * (math.sin(tilt) + math.cos(tilt) - 1.0)


def headstock_from(
    start: float,
    end: float,
    face: FacePlane | None,
    tilt: Quantity | None,
    thickness: Quantity | None,
    lowest: Quantity | None,
    edge: Quantity | None = None,
) -> Headstock:
    """Put together what was typed and what a card showed; what neither says is missing.

    Args:
        start, end: mm, nut and end of the headstock.
        face: of a card that lies on it, or seen from the side; None where neither is.
        tilt, thickness, lowest, edge: typed; they go before what a card shows.
    """
    if tilt is None:
        if face is None:
            tilt = missing(
                "no card lay on the headstock, and no photo from the side shows its face; hold a"
                " protractor or two rules against it and give --tilt"
            )
        else:
            angle = float(np.degrees(np.arctan(-face.slope)))
            u = float(np.hypot(np.degrees(face.u95_slope), _LAID_DEG))
            tilt = Quantity(angle, u, mostly=f"how {face.source} lies")
    thick = thickness or missing("no photo from above shows it: measure it and give --thickness")
    height = missing("no card lay on the headstock, and no photo from the side shows its face")
    wood = missing(
        "that takes the headstock's tilt (a card on it) and its --thickness, or a rule from the"
        " bench to it: --lowest"
    )
    if face is not None:
        height = Quantity(face.at(start), face.u95_at(start), mostly=face.source, x=start)
        if thick.value is not None and tilt.value is not None:
            slope = -float(np.tan(np.radians(tilt.value)))
            round_off = (edge.value or 0.0) if edge is not None else 0.0
            where, off = start, 0.0
            if tilt.value > 0:
                where = lower_corner(end, tilt.value, thick.value, round_off)
                off = rounded_away(round_off, tilt.value)
            down = thick.value / float(np.cos(np.radians(tilt.value)))
            low = face.z + slope * (where - face.x) - down + off
            u = float(np.hypot(face.u95_at(where), thick.u95 or 0.0))
            wood = Quantity(low, u, mostly=f"{face.source} and the thickness", x=where)
    return Headstock(
        start,
        end,
        tilt,
        thick,
        height,
        wood,
        lowest
        or missing(
            "a photo from above does not show the tuners' housings: hold a rule between bench and"
            " the lowest of them and give --lowest"
        ),
        edge or missing(_EDGE_UNREAD),
    )
