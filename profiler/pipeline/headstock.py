"""What was typed of a headstock, judged, and laid together with what its cards showed."""

from __future__ import annotations

import re
from collections.abc import Sequence

from profiler.errors import RequestError
from profiler.instrument.headstock import (
    MOST_EDGE_MM,
    MOST_TILT_DEG,
    THICKNESSES,
    FacePlane,
    Headstock,
)
from profiler.instrument.record import Measurement
from profiler.pipeline.section import headstock_of
from profiler.units import optional_measured


def headstock_typed(
    measurement: Measurement,
    planes: Sequence[FacePlane],
    units: str,
    tilt: str | None = None,
    thickness: str | None = None,
    lowest: str | None = None,
    edge: str | None = None,
) -> Headstock:
    """The headstock from texts as 14±1, 12.5mm and 9mm; None for what nobody typed.

    Raises:
        RequestError: no number, or one that no headstock has.
        NoNeck: the outline has no neck, and so no headstock.
    """
    angle = _degrees(tilt)
    thick = optional_measured(thickness, units, "--thickness")
    if thick is not None and not THICKNESSES[0] <= thick[0] <= THICKNESSES[1]:
        raise RequestError(
            f"--thickness {thickness} cannot be: a headstock is {THICKNESSES[0]:.0f} to"
            f" {THICKNESSES[1]:.0f} mm thick. Is the unit right?"
        )
    low = optional_measured(lowest, units, "--lowest")
    return headstock_of(measurement, planes, angle, thick, low, _edge(edge, units))


def _edge(text: str | None, units: str) -> tuple[float, float | None] | None:
    """A radius with or without its uncertainty.

    Raises:
        RequestError: no number, or one that no headstock's edge is rounded to.
    """
    radius = optional_measured(text, units, "--edge")
    if radius is not None and not 0 <= radius[0] <= MOST_EDGE_MM:
        raise RequestError(
            f"--edge {text} cannot be: it is the radius that the edges are rounded to, at most"
            f" {MOST_EDGE_MM:.0f} mm. Is the unit right?"
        )
    return radius


def _degrees(text: str | None) -> tuple[float, float | None] | None:
    """Degrees with or without their uncertainty.

    Raises:
        RequestError: no number, or no headstock's tilt.
    """
    if text is None:
        return None
    plain = re.sub(r"\+/?-", "±", text.replace("°", "").replace("deg", "").replace("−", "-"))
    value, plus_minus, doubt = plain.partition("±")
    try:
        angle = float(value.replace(",", "."))
        u95 = float(doubt.replace(",", ".")) if plus_minus else None
    except ValueError:
        raise RequestError(f"--tilt {text}: write degrees, as 14 or 14±1.") from None
    if not abs(angle) <= MOST_TILT_DEG or (u95 is not None and not 0 < u95 <= MOST_TILT_DEG):
        raise RequestError(f"--tilt {text}: a headstock is tilted by {MOST_TILT_DEG:.0f}° at most.")
    return angle, u95
