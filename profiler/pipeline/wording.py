"""How a report is worded: headings, which unit comes first, the step of an inch."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.units import format_inches, format_mm


@dataclass(frozen=True)
class Wording:
    """Attributes:
    name: of the instrument, for headings; '' for none.
    customer: whose it is; '' for nobody.
    units: 'mm' or 'in', which comes first.
    inch_step: inches are shown to the nearest 1/inch_step.
    """

    name: str = ""
    customer: str = ""
    units: str = "mm"
    inch_step: int = 64

    @property
    def title(self) -> str:
        return self.name.strip() or "Instrument"

    def say(self, mm: float) -> str:
        """A length in the unit that comes first."""
        return format_inches(mm, self.inch_step) if self.units == "in" else format_mm(mm)
