"""Names on sheets and how lengths are written; which formats there are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from profiler.casework.trace import Show
from profiler.errors import RequestError
from profiler.units import format_inches

Files = dict[str, bytes]

FORMATS = ("pdf", "svg", "dxf")


@dataclass(frozen=True)
class Labels:
    """Names on the sheets, and how lengths are written.

    Attributes:
        instrument, customer: as typed.
        unit: 'mm' or 'in'.
        inch_step: inches to the nearest 1/N.
    """

    instrument: str = ""
    customer: str = ""
    unit: str = "mm"
    inch_step: int = 64

    @property
    def show(self) -> Show:
        """Lengths without a unit, or with the inch sign."""
        if self.unit == "in":
            return lambda mm: format_inches(mm, self.inch_step).removesuffix(" in") + '"'
        return plain_mm

    @property
    def note(self) -> str:
        if self.unit == "in":
            return f"Lengths in inches, to the nearest 1/{self.inch_step}"
        return "Lengths in mm"


def plain_mm(mm: float) -> str:
    """To 0.1 mm, whole numbers without a point: '652.5', '12'."""
    text = f"{round(mm, 1) + 0.0:.1f}"
    return text.removesuffix(".0")


def formats_known(formats: Iterable[str]) -> tuple[str, ...]:
    """The formats once each.

    Raises:
        RequestError: one is unknown.
    """
    wanted = tuple(dict.fromkeys(formats))
    for name in wanted:
        if name not in FORMATS:
            raise RequestError(f"No format is called '{name}'. Known: {', '.join(FORMATS)}.")
    return wanted
