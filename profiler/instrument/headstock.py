"""The headstock beyond its outline: how it is tilted, how thick, how low it hangs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from profiler.instrument.record import Quantity, missing

#: a card is laid and wood is planed this flat, degrees, 95 % (a guess from laying cards by hand)
_LAID_DEG = 0.5
#: what a headstock's thickness can be, degrees of tilt can be (common practice, no source)
THICKNESSES, MOST_TILT_DEG = (4.0, 60.0), 35.0


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
    """

    start: float
    end: float
    tilt: Quantity
    thickness: Quantity
    face_height: Quantity
    lowest_wood: Quantity
    lowest: Quantity


def headstock_from(
    start: float,
    end: float,
    face: FacePlane | None,
    tilt: Quantity | None,
    thickness: Quantity | None,
    lowest: Quantity | None,
) -> Headstock:
    """Put together what was typed and what a card showed; what neither says is missing.

    Args:
        start, end: mm, nut and end of the headstock.
        face: of a card that lies on it, None where none did.
        tilt, thickness, lowest: typed; they go before what a card shows.
    """
    if tilt is None:
        if face is None:
            tilt = missing(
                "no card lay on the headstock; hold a protractor or two rules against it and give"
                " --tilt"
            )
        else:
            angle = float(np.degrees(np.arctan(-face.slope)))
            u = float(np.hypot(np.degrees(face.u95_slope), _LAID_DEG))
            tilt = Quantity(angle, u, mostly=f"how {face.source} lies")
    thick = thickness or missing("no photo from above shows it: measure it and give --thickness")
    height = missing("no card lay on the headstock")
    wood = missing(
        "that takes the headstock's tilt (a card on it) and its --thickness, or a rule from the"
        " bench to it: --lowest"
    )
    if face is not None:
        height = Quantity(face.at(start), face.u95_at(start), mostly=face.source, x=start)
        if thick.value is not None and tilt.value is not None:
            slope = -float(np.tan(np.radians(tilt.value)))
            ends = [
                height_at - thick.value / float(np.cos(np.radians(tilt.value)))
                for height_at in (face.z + slope * (x - face.x) for x in (start, end))
            ]
            low = min(ends)
            where = start if ends[0] < ends[1] else end
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
    )
