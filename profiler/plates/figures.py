"""Measured numbers as words on paper, with their uncertainty, in millimetres and inches."""

from __future__ import annotations

import math

from profiler.instrument.record import Measurement, Quantity
from profiler.units import MM_PER_INCH, format_inches

#: how well the thickest place along a side view's profile is known, 95 %, mm: a bridge is seen on a
#: ray that passes over much of the body (seen on rendered photos)
_ALONG_MM = 15.0
#: the finest step of an inch that is printed
STEPS_PER_INCH = 64


def in_mm(quantity: Quantity) -> str:
    """As '618.2 ± 0.4 mm'; the uncertainty is rounded up. '' where the number is not known."""
    if quantity.value is None:
        return ""
    if quantity.u95 is None:
        return f"{quantity.value:.1f} mm, uncertainty not known"
    return f"{quantity.value:.1f} ± {math.ceil(quantity.u95 * 10 - 1e-9) / 10:.1f} mm"


def in_inches(quantity: Quantity, steps_per_inch: int = STEPS_PER_INCH) -> str:
    """As '24 11/32 ± 1/64 in', to the nearest 1/64 or as asked; the uncertainty is rounded up."""
    if quantity.value is None:
        return ""
    value = format_inches(quantity.value, steps_per_inch)
    if quantity.u95 is None:
        return value
    steps = max(1, math.ceil(quantity.u95 / MM_PER_INCH * steps_per_inch - 1e-9))
    doubt = format_inches(steps * MM_PER_INCH / steps_per_inch, steps_per_inch)
    return f"{value.removesuffix(' in')} ± {doubt}"


def in_units(quantity: Quantity, units: str, steps_per_inch: int = STEPS_PER_INCH) -> str:
    """In 'mm' or in inches ('in'); 'not known' where it is not."""
    words = in_inches(quantity, steps_per_inch) if units == "in" else in_mm(quantity)
    return words or "not known"


def in_degrees(quantity: Quantity) -> str:
    """As '14.0 ± 0.6°'; '' where it is not known."""
    if quantity.value is None or quantity.u95 is None:
        return ""
    return f"{quantity.value:.1f} ± {math.ceil(quantity.u95 * 10 - 1e-9) / 10:.1f}°"


def largest_part(quantity: Quantity, units: str = "mm") -> str:
    """What the number's ± is mostly made of, and what that alone comes to; '' where none is known.

    As 'the edge in the photo: ± 0.6 mm'. Parts add up as squares, so the largest alone is often
    almost the whole.
    """
    if not quantity or quantity.u95 is None:
        return ""
    if not quantity.budget:
        return quantity.mostly
    source, u95 = quantity.budget[0]
    alone = in_units(Quantity(0.0, u95), units).split("±")[-1].strip()
    return f"{source}: ± {alone}"


def spoken(name: str) -> str:
    """A station's name as people say it: 'lower_bout' is the lower bout."""
    return name.replace("_", " ")


def _from_the_side(measurement: Measurement) -> list[tuple[str, Quantity]]:
    """What a side view adds, so far as it is known."""
    side = measurement.side
    if side is None:
        return []
    told = []
    if side.thickest.x is not None:
        told.append(("Thickest place at", Quantity(side.thickest.x, _ALONG_MM)))
    if side.button:
        told.append(("Strap button's height", side.button))
    return told


def rows(measurement: Measurement) -> list[tuple[str, Quantity]]:
    """The numbers that a maker wants, in the order in which they are printed."""
    named = [
        ("Length", measurement.length),
        ("Widest width", measurement.width),
        ("Thickest height", measurement.height),
    ]
    named += [(f"Width, {spoken(name)}", q) for name, q in measurement.widths.items()]
    named += _from_the_side(measurement)
    long, short = measurement.box
    return [*named, ("Smallest box, long", long), ("Smallest box, short", short)]
