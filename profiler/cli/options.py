"""Options that several verbs share, and lengths turned into millimetres at the door."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any

import typer

from profiler.units import format_inches, format_mm
from profiler.units import optional_length as length_or_none
from profiler.units import optional_measured as measured_or_none


class Units(StrEnum):
    """What numbers without a unit mean, and how numbers are shown."""

    MM = "mm"
    IN = "in"


Force = Annotated[
    bool,
    typer.Option("--force", help="Replace what an earlier run wrote there.", show_default=False),
]
UnitsOption = Annotated[
    Units, typer.Option("--units", help="Unit of numbers typed without one, and of those shown.")
]
InchStep = Annotated[
    int,
    typer.Option(
        "--inch-step", help="Inches are shown to the nearest 1/N.", metavar="N", min=1, max=128
    ),
]


def text_option(text: str, panel: str | None = None, metavar: str = "LENGTH") -> Any:
    """An option whose text is read later: a length, or what `metavar` says."""
    return typer.Option(help=text, metavar=metavar, show_default=False, rich_help_panel=panel)


def optional_length(text: str | None, units: Units, option: str) -> float | None:
    """A length option in mm, None where it was not given.

    Raises:
        RequestError: it cannot be read; the sentence names the option.
    """
    return length_or_none(text, units.value, option)


def shown(mm: float, units: Units, inch_step: int = 64) -> str:
    """A length as the user wants to read it."""
    return format_inches(mm, inch_step) if units is Units.IN else format_mm(mm)


def optional_measured(
    text: str | None, units: Units, option: str
) -> tuple[float, float | None] | None:
    """A length with or without its uncertainty, as 22±0.3, in mm; None where it was not given.

    Raises:
        RequestError: it cannot be read; the sentence names the option.
    """
    return measured_or_none(text, units.value, option)
