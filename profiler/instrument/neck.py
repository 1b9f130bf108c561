"""What a photo from above knows of the neck at a station: where it is, how wide, how high."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from profiler.errors import RequestError
from profiler.geometry.curves import extent_at
from profiler.instrument.headstock import FacePlane
from profiler.instrument.record import Measurement, Quantity, missing
from profiler.units import format_mm

#: a neck's slope that nothing showed is this uncertain, 95 %
_SLOPE_U95 = 0.04
#: the side view's underside is read over so much on both sides of a station; a station that is
#: seen so poorly there is not used, mm
_AROUND_MM, _LEAST_STATIONS = 12.0, 5
#: stations this close to the neck's ends still count as on it, mm
_END_MM = 2.0


class StationOffNeck(RequestError):
    """A station where there is no neck."""

    def __init__(self, x: float, span: tuple[float, float]) -> None:
        self.x, self.span = x, span
        super().__init__(
            f"At {format_mm(x)} from the tail there is no neck: it runs from {format_mm(span[0])}"
            f" to {format_mm(span[1])}. Give a place between the two, counted from the tail"
            " ('profiler section' counts from the nut too: --from nut)."
        )


class NoNeck(RequestError):
    """The outline has no neck."""

    def __init__(self) -> None:
        super().__init__(
            "No neck was told apart in this job's outline, so there is no place for a section."
            " Look at overlay.jpg, and measure again with the whole neck in sight."
        )


def neck_span(measurement: Measurement) -> tuple[float, float]:
    """x from where the neck leaves the body to the nut, mm.

    Raises:
        NoNeck: the outline has none.
    """
    on_neck = np.array([part == "neck" for part in measurement.outline_part])
    if on_neck.sum() < 4:
        raise NoNeck
    x = measurement.outline[on_neck, 0]
    nut = measurement.widths.get("nut")
    end = float(x.max()) if nut is None or nut.x is None else max(nut.x, float(x.max()))
    return float(x.min()), end


def check_on_neck(measurement: Measurement, x: float) -> float:
    """The station itself, if the neck is there.

    Raises:
        StationOffNeck, NoNeck: it is not.
    """
    low, high = neck_span(measurement)
    if not low - _END_MM <= x <= high + _END_MM:
        raise StationOffNeck(x, (low, high))
    return min(max(x, low + 0.5), high - 0.5)


def width_at(measurement: Measurement, x: float) -> tuple[Quantity, float | None]:
    """The neck's width at a station as the outline has it, and y of its middle."""
    low, high = (float(v[0]) for v in extent_at(measurement.outline, np.array([x])))
    if not np.isfinite(high - low):
        return missing("the outline does not reach this place"), None
    u95 = 0.0
    for y in (low, high):
        away = np.hypot(*(measurement.outline - np.array([x, y])).T)
        u95 += float(measurement.outline_u95[np.argmin(away)])
    return Quantity(high - low, u95, mostly="the outline", x=x), (low + high) / 2


def underside_at(measurement: Measurement, x: float) -> Quantity:
    """How high the neck's underside stands above the bench at a station, as a photo from the side
    shows it: a line through the stations about it, laid so that half of them lie on each side."""
    side = measurement.side
    if side is None:
        return missing("no photo from the side shows the neck's underside ('measure --side')")
    seen = np.array([of == "neck" for of in side.lower_of]) & np.isfinite(side.lower)
    near = seen & (np.abs(side.x - x) <= _AROUND_MM)
    away = side.x[near] - x
    if near.sum() < _LEAST_STATIONS or away.min() > 0 or away.max() < 0:
        return missing(f"the neck's underside is not seen there in {side.photo}")
    low_at = side.lower[near]
    i, j = np.triu_indices(len(away), 1)
    # the middle one of all slopes between two stations (Theil 1950): single slips do not count
    slope = float(np.median((low_at[j] - low_at[i]) / (away[j] - away[i])))
    low = float(np.median(low_at - slope * away))
    # camera and lens shift all stations alike: many of them are no better than one
    u95 = float(np.median(side.lower_u95[near]))
    return Quantity(low, u95, mostly=f"the side view {side.photo}", x=x)


def face_height_at(measurement: Measurement, planes: Sequence[FacePlane], x: float) -> Quantity:
    """How high the fingerboard's face stands above the bench at a station.

    Args:
        planes: of the cards, in the instrument's frame; those on the neck tell its slope.
    """
    neck = next((h for h in measurement.heights if h.part == "neck"), None)
    if neck is None or neck.height.value is None or neck.height.x is None:
        return missing("the neck's height above the bench is not in the measurement")
    if "assumed" in neck.source and "card" not in neck.source:
        return missing(
            "no card lay on the fingerboard: measure it above the bench and give --face-height"
        )
    low, high = neck_span(measurement)
    on_neck = [p for p in planes if low < p.x < high]
    slope = float(np.mean([p.slope for p in on_neck])) if on_neck else 0.0
    u_slope = min([_SLOPE_U95, *(p.u95_slope for p in on_neck)])
    away = x - neck.height.x
    return Quantity(
        neck.height.value + slope * away,
        float(np.hypot(neck.height.u95 or 0.0, u_slope * away)),
        mostly=neck.source,
        x=x,
    )
