"""A size that knows where it comes from: the rule, and the terms that were put into it.

Most sizes are sums, and then the sum is formed here from the very terms that are shown, so that
what is shown cannot differ from what was computed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from profiler.casework.rules import RULES

#: turns mm into what the user reads
Show = Callable[[float], str]
#: rounding up forgives this much, mm, so that 9 in stays 9 in
HAIR_MM = 1e-6


@dataclass(frozen=True)
class Term:
    """One part of a size: `times` × `mm`, called `name`."""

    name: str
    mm: float
    times: float = 1.0


@dataclass(frozen=True)
class Size:
    """A length of the plan.

    Attributes:
        name: in words, as 'inside, across'.
        mm: the value.
        rule: key of `rules.RULES`.
        terms: what went into it.
        rounded_up: mm added so that the size falls on the user's step; 0 where none was.
        is_sum: whether `mm` is the sum of the terms and of `rounded_up`.
    """

    name: str
    mm: float
    rule: str
    terms: tuple[Term, ...] = ()
    rounded_up: float = 0.0
    is_sum: bool = True

    def __post_init__(self) -> None:
        if self.rule not in RULES:
            raise KeyError(f"no rule is called '{self.rule}'")

    def because(self, show: Show) -> str:
        """The terms as a person would write them down; the rule's sentence is in `RULES`."""
        words = ""
        for term in self.terms:
            if term.mm == 0.0:
                continue
            minus = term.times < 0 and self.is_sum
            joint = (" − " if minus else " + ") if words else ("−" if minus else "")
            if not self.is_sum:
                joint = "; " if words else ""
            times = abs(term.times)
            factor = f"{times:g} × " if times != 1.0 else ""
            words += f"{joint}{factor}{term.name} {show(term.mm)}"
        if self.rounded_up > 1e-9 and show(self.rounded_up) != show(0.0):
            words += f", rounded up by {show(self.rounded_up)}"
        return words


def total(name: str, rule: str, *terms: Term, step: float = 0.0) -> Size:
    """The sum of the terms, rounded up to a multiple of `step` mm where that is not 0."""
    exact = math.fsum(t.times * t.mm for t in terms)
    value = round_up(exact, step) if step else exact
    return Size(name, value, rule, terms, max(0.0, value - exact))


def chosen(name: str, mm: float, rule: str, *terms: Term) -> Size:
    """A size that a rule picked; the terms are what it looked at."""
    return Size(name, mm, rule, terms, is_sum=False)


def round_up(mm: float, step: float) -> float:
    """The next multiple of `step` at or above `mm`."""
    return math.ceil((mm - HAIR_MM) / step) * step
