"""Readings of calipers and square, as typed: a strap button's turned shape, a body's side."""

from __future__ import annotations

from profiler.errors import RequestError
from profiler.instrument.bulge import Bulge, bulge_of
from profiler.instrument.shaping import ButtonShape
from profiler.pipeline.casing.typed import Typed
from profiler.units import optional_length, optional_measured

#: 95 % of what calipers read on a strap button, and a rule or square on a bench, mm (common
#: practice, no source)
CALIPER_U95, SQUARE_U95 = 0.4, 0.4
#: what a button's length and diameter can be; how far from a blade a side can stand, mm
BUTTON_MM, AWAY_MM, HIGH_MM = (2.0, 60.0), 60.0, 250.0
_BUTTON = (
    "--button: diameter and length, as 14x11mm; or diameters by their distance from the wood, as"
    " 0=9mm,4.5=7mm,9=14mm,11=10mm, one every 2 mm or so and where it turns."
)
_SIDE = (
    "--side: lower and upper edge above the bench, as 0x72mm; or how far the side stands away from"
    " a square's blade at some heights, as 10=14mm,30=3mm,60=0mm, and 'shoulder:' before those read"
    " beside the neck."
)


def pairs_of(text: str, units: str, option: str) -> list[tuple[float, float]]:
    """(length, length) of '0=9mm, 4.5=7': what has no unit is in `units`.

    Raises:
        RequestError: no pairs of lengths.
    """
    found = []
    for part in filter(str.strip, text.split(",")):
        first, equals, second = part.partition("=")
        if not equals:
            raise RequestError(f"{option}: '{part.strip()}' is no pair of lengths.")
        a = optional_length(first, units, option)
        b = optional_length(second, units, option)
        assert a is not None and b is not None
        found.append((a, b))
    return found


def button_from(typed: Typed) -> ButtonShape | None:
    """The strap button, None where none was typed.

    Raises:
        RequestError: sizes that cannot be, or its height is missing.
    """
    text = typed.text("button")
    if text is None:
        return None
    height = button_height(typed)
    if height is None:
        raise RequestError(
            "--button takes its height too: from the bench to its middle, as --button-height 46mm."
        )
    left = typed.length_or("button_left", 0.0)
    if "=" not in text:
        pair = typed.pair("button")
        assert pair is not None
        _sane(pair)
        return ButtonShape(pair[0], pair[1], height[0], left, u95=height[1])
    turned = sorted(pairs_of(text, typed.units, "--button"))
    if len(turned) < 2 or any(a < 0 for a, _ in turned):
        raise RequestError(_BUTTON)
    _sane(tuple(d for _, d in turned))
    if turned[-1][0] > BUTTON_MM[1]:
        raise RequestError(_BUTTON)
    if turned[0][0] > 0:
        turned.insert(0, (0.0, turned[0][1]))
    return ButtonShape(
        max(d for _, d in turned),
        turned[-1][0],
        height[0],
        left,
        tuple((a, d / 2) for a, d in turned),
        height[1],
    )


def button_height(typed: Typed) -> tuple[float, float] | None:
    """Of its middle above the bench, and its u95, mm."""
    found = optional_measured(typed.text("button_height"), typed.units, "--button-height")
    if found is None:
        return None
    return found[0], CALIPER_U95 if found[1] is None else found[1]


def bulge_from(text: str, units: str, join: float) -> Bulge:
    """What a square read at the tail, and beside the neck where it stood there too.

    Raises:
        RequestError: no such readings.
    """
    stands = []
    for part in filter(str.strip, text.split(";")):
        place, colon, rest = part.partition(":")
        where = place.strip().lower() if colon else "tail"
        if where not in ("tail", "shoulder"):
            raise RequestError(_SIDE)
        readings = pairs_of(rest if colon else part, units, "--side")
        heights = [z for z, _ in readings]
        if len(readings) < 2 or len(set(heights)) < len(heights):
            raise RequestError(_SIDE)
        if not all(0 <= z <= HIGH_MM and 0 <= away <= AWAY_MM for z, away in readings):
            raise RequestError(f"{_SIDE} Was the unit meant?")
        stands.append((0.0 if where == "tail" else join, readings))
    if not stands or len({x for x, _ in stands}) < len(stands):
        raise RequestError(_SIDE)
    return bulge_of(stands, SQUARE_U95)


def _sane(lengths: tuple[float, ...]) -> None:
    low, high = BUTTON_MM
    if not all(low <= mm <= high for mm in lengths):
        raise RequestError("--button: diameter and length lie between 2 and 60 mm.")
