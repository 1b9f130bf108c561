"""What a sheet really measures: the standards' limits, and the caliper that goes before them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.casework.trace import Size, Term, chosen
from profiler.casework.words import both
from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.units import MM_PER_INCH, format_inches

#: names and thicknesses count as equal within this, mm
SAME_MM = 0.06
#: thickest and thinnest wood that this program plans with, mm
THINNEST_MM, THICKEST_MM = 2.5, 40.0
PS1_LIMIT_IN = 1 / 32


@dataclass(frozen=True)
class SheetKind:
    """A kind of plywood as it is sold.

    Attributes:
        name: what the shop calls it.
        nominal: the number in the name, mm.
        actual: what to expect, mm.
        low, high: limits of the standard, mm.
        source: of the limits.
    """

    name: str
    nominal: float
    actual: float
    low: float
    high: float
    source: str


def _us(name: str, sold_in: float, category_in: float, source: str) -> SheetKind:
    return SheetKind(
        name,
        sold_in * MM_PER_INCH,
        category_in * MM_PER_INCH,
        (category_in - PS1_LIMIT_IN) * MM_PER_INCH,
        (category_in + PS1_LIMIT_IN) * MM_PER_INCH,
        source,
    )


def _birch(mm: float, more: float, less: float) -> SheetKind:
    return SheetKind(f"{mm:g} mm birch", mm, mm, mm - less, mm + more, "EN 315, sanded")


PS1 = "PS 1-19, performance category"
#: PS 1-19 gives 15/32, 1/2 and 23/32 as category ± 1/32 in; 1/4 and 3/8 by that same rule, which
#: was not read for them. That sheets called 1/2 and 3/4 in are 15/32 and 23/32: common practice.
KINDS: tuple[SheetKind, ...] = (
    _us("1/4 in", 1 / 4, 1 / 4, f"{PS1} 1/4, limits by the rule of the thicker ones"),
    _us("3/8 in", 3 / 8, 3 / 8, f"{PS1} 3/8, limits by the rule of the thicker ones"),
    _us("15/32 in", 15 / 32, 15 / 32, f"{PS1} 15/32"),
    _us("1/2 in", 1 / 2, 15 / 32, f"{PS1} 15/32, sold as 1/2 in"),
    _us("23/32 in", 23 / 32, 23 / 32, f"{PS1} 23/32"),
    _us("3/4 in", 3 / 4, 23 / 32, f"{PS1} 23/32, sold as 3/4 in"),
    _birch(6.5, 0.4, 0.5),
    _birch(9.0, 0.4, 0.5),
    _birch(12.0, 0.5, 0.7),
)


@dataclass(frozen=True)
class Stock:
    """A sheet to cut from.

    Attributes:
        use: 'boards', 'panels' or 'walls'.
        name: what it is called.
        thickness: what it measures.
        kind: the standard's limits for that name, None where no table has it.
        measured: by the user; else it is the table's.
    """

    use: str
    name: str
    thickness: Size
    kind: SheetKind | None = None
    measured: bool = True

    @property
    def mm(self) -> float:
        return self.thickness.mm


def kind_named(nominal: float) -> SheetKind | None:
    """The kind whose name says `nominal` mm, None where no table has it."""
    near = [k for k in KINDS if abs(k.nominal - nominal) <= SAME_MM]
    return min(near, key=lambda k: abs(k.nominal - nominal)) if near else None


def stock_for(use: str, nominal: float, actual: float | None) -> Stock:
    """The sheet that was asked for.

    Args:
        use: what it is for, one of the words of `Stock.use`.
        nominal: what the shop calls it, mm.
        actual: what a caliper says, mm; None for the table's value.

    Raises:
        RequestError: a thickness that no table knows and nobody measured, or one that makes no
            sense.
    """
    kind = kind_named(nominal)
    option = f"--{use}-actual"
    name = f"{use}, thickness"
    if actual is None:
        if kind is None:
            names = ", ".join(k.name for k in KINDS)
            raise RequestError(
                f"No table here tells what a sheet called {both(nominal)} for the {use} measures."
                f" Known: {names}. Measure it and give {option}."
            )
        return Stock(use, kind.name, chosen(name, kind.actual, "stock"), kind, measured=False)
    if not THINNEST_MM <= actual <= THICKEST_MM:
        raise RequestError(
            f"{option} {both(actual)} cannot be planned with: {THINNEST_MM:g} to"
            f" {THICKEST_MM:g} mm. Was the unit meant?"
        )
    size = chosen(name, actual, "stock", Term("measured", actual))
    return Stock(use, kind.name if kind else f"{nominal:g} mm", size, kind, measured=True)


def stock_findings(stocks: Sequence[Stock]) -> tuple[Finding, ...]:
    """What has to be said about thicknesses that nobody measured, or that cannot quite be."""
    found = []
    guessed = [s for s in stocks if not s.measured and s.kind is not None]
    if guessed:
        limits = dict.fromkeys(_limits(s.kind) for s in guessed if s.kind is not None)
        options = ", ".join(f"--{s.use}-actual" for s in guessed)
        found.append(
            Finding(
                801,
                Level.CAUTION,
                f"The thickness of the sheets for {', '.join(s.use for s in guessed)} is taken from"
                f" a table: {'; '.join(limits)}. Measure your sheets in four places and give"
                f" {options} before you cut.",
                "stock",
            )
        )
    for s in stocks:
        if not s.measured or s.kind is None or s.kind.low - 5e-3 <= s.mm <= s.kind.high + 5e-3:
            continue
        found.append(
            Finding(
                802,
                Level.CAUTION,
                f"The {s.use} are said to measure {both(s.mm)}, but {_limits(s.kind)}. Your number"
                " is used; measure once more.",
                s.use,
            )
        )
    return tuple(found)


def _limits(kind: SheetKind) -> str:
    if kind.name.endswith(" in"):
        span = (
            f"{format_inches(kind.low)} to {format_inches(kind.high)}"
            f" ({kind.low:.1f} to {kind.high:.1f} mm)"
        )
    else:
        span = f"{kind.low:.1f} to {kind.high:.1f} mm"
    return f"{kind.name} may be {span} ({kind.source})"
