"""Paper sizes in millimetres, portrait: ISO 216 and ASME Y14.1 (Letter is A, Tabloid is B)."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.errors import RequestError

MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Paper:
    """A sheet as it lies in the printer's tray."""

    name: str
    #: mm, across the feed
    width_mm: float
    #: mm, along the feed
    height_mm: float


PAPERS: dict[str, Paper] = {
    p.name: p
    for p in (
        Paper("A4", 210.0, 297.0),
        Paper("Letter", 8.5 * MM_PER_INCH, 11 * MM_PER_INCH),
        Paper("A3", 297.0, 420.0),
        Paper("Tabloid", 11 * MM_PER_INCH, 17 * MM_PER_INCH),
        Paper("A2", 420.0, 594.0),
        Paper("A1", 594.0, 841.0),
        Paper("A0", 841.0, 1189.0),
    )
}


def paper_named(name: str) -> Paper:
    """Look a paper up without regard to case.

    Raises:
        RequestError: no paper of that name.
    """
    for paper in PAPERS.values():
        if paper.name.lower() == name.strip().lower():
            return paper
    if name.strip().lower() == "roll":
        raise RequestError(
            f"A roll has no pages: only the mat is printed on one. Take {', '.join(PAPERS)}."
        )
    raise RequestError(
        f"No paper is called '{name}'. Known: {', '.join(PAPERS)}; for the mat also a roll."
    )
