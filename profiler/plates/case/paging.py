"""What the pages of a plan share: the strip below, and views set one above the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.casework.trace import Show
from profiler.drawing.lettering import shortened, width_of
from profiler.drawing.model import GREY, Inset, Item, Line, Stroke, Text
from profiler.plates.case.flow import Area4
from profiler.plates.case.pencil import Fitted, View, fitted

MARGIN_MM, STRIP_MM, GAP_MM = 10.0, 9.0, 4.0


@dataclass(frozen=True)
class Heading:
    """What every page carries: names, and how its numbers are to be read."""

    instrument: str
    customer: str
    units: str
    kind: str = "Case plan"


@dataclass(frozen=True)
class Named:
    """A view with its file's name and its title."""

    name: str
    title: str
    view: View
    largest: float = 1.0


def sheet_area(width: float, height: float) -> Area4:
    """What of a page may be used above the strip: x0, y0, x1, y1, mm."""
    return MARGIN_MM, MARGIN_MM + STRIP_MM, width - MARGIN_MM, height - MARGIN_MM


def stacked(views: Sequence[Named], show: Show, area: Area4) -> list[Item]:
    """Views one above the other, each with its title and scale."""
    x0, y0, x1, y1 = area
    room = (y1 - y0 - GAP_MM * (len(views) - 1)) / len(views)
    items: list[Item] = []
    top = y1
    for view in views:
        fit = fitted(view.view, view.title, show, x1 - x0, room - 6.0, view.largest)
        words = f"{view.title}, {fit.scale_words}"
        items.append(Text(x0, top - 3.2, words, 3.2, bold=True))
        items += placed(fit, x0, top - room, x1 - x0, room - 6.0)
        top -= room + GAP_MM
    return items


def placed(fit: Fitted, x: float, y: float, width: float, height: float) -> list[Item]:
    """A fitted view in the middle of a box."""
    wide, high = fit.size
    at = (x + (width - wide) / 2, y + (height - high) / 2)
    window = (0.0, 0.0, fit.drawing.width, fit.drawing.height)
    return [Inset(fit.drawing, window, at, (1 / fit.one_to, 1 / fit.one_to))]


def strip(heading: Heading, title: str, number: int, count: int, width: float) -> list[Item]:
    """The line below: whose, what, units, and that the numbers rule."""
    y, size = MARGIN_MM, 2.6
    right = width - MARGIN_MM
    whose = heading.instrument.strip() or "Instrument"
    if heading.customer.strip():
        whose += f", for {heading.customer.strip()}"
    words = f"{heading.kind}: {whose}"
    items: list[Item] = [
        Line(((MARGIN_MM, y + 6.0), (right, y + 6.0)), Stroke(0.15)),
        Text(MARGIN_MM, y + 1.5, shortened(words, size, 80.0, True), size, bold=True),
    ]
    note = f"{heading.units}. Numbers rule: do not scale off this page."
    items.append(Text(MARGIN_MM + 84.0, y + 1.5, note, 2.3, colour=GREY))
    page = f"page {number} of {count}"
    items.append(Text(right, y + 1.5, page, size, "end"))
    room = right - width_of(page, size) - 4.0 - (MARGIN_MM + 84.0 + width_of(note, 2.3) + 4.0)
    words = shortened(title, 2.3, room)
    items.append(Text(right - width_of(page, size) - 4.0, y + 1.5, words, 2.3, "end"))
    return items
