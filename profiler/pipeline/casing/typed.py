"""What was typed, read with its unit; a slip names its option."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from profiler.errors import RequestError
from profiler.units import optional_length

#: kg in one of each
MASSES_KG = {
    "kg": 1.0,
    "g": 0.001,
    "lb": 0.45359237,  # the international pound, exact by definition
    "lbs": 0.45359237,
    "oz": 0.45359237 / 16,
}
HEAVIEST_KG = 100.0
#: options about files and pages, not about the work
NOT_KEPT = (
    "job",
    "output",
    "force",
    "formats",
    "paper",
    "one_page",
    "printer_x",
    "printer_y",
    "customer",
    "instrument",
    "inch_step",
)
_MASS = re.compile(r"\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*(kg|g|lbs?|oz)\s*", re.IGNORECASE)
_UNIT = re.compile(r"[a-z\"'″′”’]+\.?\s*$", re.IGNORECASE)


class Typed:
    """The options of one call by name, as typer collects them; `units` is 'mm' or 'in'."""

    def __init__(self, values: Mapping[str, Any], units: str) -> None:
        self._values = values
        self.units = units

    def text(self, name: str) -> str | None:
        value = self._values.get(name)
        return None if value is None else str(value)

    def many(self, name: str) -> list[str]:
        """What a repeatable option was given, in order."""
        return [str(text) for text in self._values.get(name) or ()]

    def kept(self) -> dict[str, Any]:
        """What was typed about the work itself, for doing it again: plain values by name."""
        found: dict[str, Any] = {}
        for name, value in self._values.items():
            if value in (None, False, []) or name in NOT_KEPT:
                continue
            if isinstance(value, list | tuple):
                found[name] = [str(v) for v in value]
            else:
                found[name] = value if isinstance(value, bool | int | float) else str(value)
        return found

    def length(self, name: str) -> float | None:
        """mm, None where it was not typed."""
        return optional_length(self.text(name), self.units, _option(name))

    def length_or(self, name: str, default: float) -> float:
        value = self.length(name)
        return default if value is None else value

    def pair(self, name: str) -> tuple[float, float] | None:
        """Two lengths, as 18x28mm; a unit after the second counts for both."""
        text = self.text(name)
        return None if text is None else parse_pair(text, self.units, _option(name))

    def mass(self, name: str) -> float | None:
        """kg.

        Raises:
            RequestError: no mass with its unit.
        """
        text = self.text(name)
        if text is None:
            return None
        found = _MASS.fullmatch(text)
        if not found:
            raise RequestError(
                f"{_option(name)}: '{text}' is not a mass. Good spellings: 450g, 1.8 kg, 4 lb,"
                " 12oz."
            )
        kg = float(found[1].replace(",", ".")) * MASSES_KG[found[2].lower()]
        if not 0 < kg <= HEAVIEST_KG:
            raise RequestError(
                f"{_option(name)}: '{text}' cannot be: above 0 and up to {HEAVIEST_KG:g} kg."
            )
        return kg


def parse_pair(text: str, units: str, option: str) -> tuple[float, float]:
    """Two lengths with an x between, mm.

    Raises:
        RequestError: it is no pair of lengths; the sentence names the option.
    """
    first, cross, second = re.sub(r"[×X*]", "x", text).partition("x")
    if not cross or "x" in second:
        raise RequestError(
            f"{option}: '{text}' is not a pair of lengths. Write 18x28mm or 3/4x1 1/8in."
        )
    if not _UNIT.search(first) and (unit := _UNIT.search(second)):
        first = f"{first}{unit[0]}"
    a, b = optional_length(first, units, option), optional_length(second, units, option)
    assert a is not None and b is not None
    return a, b


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")
