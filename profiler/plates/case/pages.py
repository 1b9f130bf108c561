"""The case plan page by page, and each view by itself at true size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.casework.plan import CasePlan
from profiler.casework.trace import Show
from profiler.drawing.lettering import shortened, width_of
from profiler.drawing.model import GREY, Drawing, Inset, Item, Layer, Line, Stroke, Text
from profiler.paper import Paper
from profiler.plates.case.boards import board_view, fingers_view
from profiler.plates.case.exploded import exploded_view
from profiler.plates.case.flow import Area4, Block, flow
from profiler.plates.case.hardware import outside_view
from profiler.plates.case.nested import sheet_view
from profiler.plates.case.pencil import Fitted, View, fitted
from profiler.plates.case.sections import cross_section, long_section
from profiler.plates.case.small import panels_and_parts_view, part_pages
from profiler.plates.case.tables import (
    cut_list_blocks,
    key_blocks,
    remark_blocks,
    trace_blocks,
    work_blocks,
)
from profiler.plates.case.views import plan_view

MARGIN_MM, STRIP_MM, GAP_MM = 10.0, 9.0, 4.0


@dataclass(frozen=True)
class Heading:
    """What every page carries: names, and how its numbers are to be read."""

    instrument: str
    customer: str
    units: str


@dataclass(frozen=True)
class Named:
    """A view with its file's name and its title."""

    name: str
    title: str
    view: View
    largest: float = 1.0


def named_views(plan: CasePlan) -> list[Named]:
    """Every view, for SVG and DXF."""
    found = [
        Named("exploded", "Exploded view", exploded_view(plan)),
        Named("plan", "Plan, lid off", plan_view(plan)),
        Named("long-section", "Long section along the middle, closed", long_section(plan)),
        Named("cross-section", "Cross-section, seen from the tail, closed", cross_section(plan)),
    ]
    for piece in plan.pieces[:4]:
        name = piece.name.replace(" ", "-")
        found.append(Named(name, piece.name.capitalize(), board_view(plan, piece)))
    found.append(Named("fingers", "Corner fingers", fingers_view(plan)))
    found.append(Named("front-outside", "Front outside, closed", outside_view(plan, "front")))
    found.append(Named("back-outside", "Back outside, closed", outside_view(plan, "back")))
    for number, chunk in enumerate(part_pages(plan), start=1):
        title = f"Panels and parts {number}"
        found.append(Named(f"parts-{number}", title, panels_and_parts_view(chunk)))
    for number, sheet in enumerate(plan.sheets, start=1):
        found.append(
            Named(
                f"sheet-{number}",
                f"Sheet {number}: {sheet.stock}, {100 * (1 - sheet.waste):.0f} % used",
                sheet_view(sheet),
            )
        )
    return found


def case_pages(
    plan: CasePlan, views: Sequence[Named], show: Show, heading: Heading, paper: Paper
) -> tuple[Drawing, ...]:
    """All pages, paper on its side; `views` are the plan's `named_views`."""
    width, height = paper.height_mm, paper.width_mm
    area = (MARGIN_MM, MARGIN_MM + STRIP_MM, width - MARGIN_MM, height - MARGIN_MM)
    by_name = {v.name: v for v in views}
    sheets: list[tuple[str, list[Item]]] = []

    def page(title: str, items: list[Item]) -> None:
        sheets.append((title, items))

    page("Overview", _overview(plan, show, by_name["exploded"], area))
    for names in (
        ("plan",),
        ("long-section", "cross-section"),
        ("front-board", "back-board"),
        ("head-board", "tail-board"),
        ("fingers",),
        ("front-outside", "back-outside"),
    ):
        chosen = [by_name[n] for n in names]
        page(", ".join(v.title.partition(",")[0] for v in chosen), _stacked(chosen, show, area))
    for view in views:
        if view.name.startswith(("parts", "sheet")):
            page(view.title, _stacked([view], show, area))
    for title, blocks, columns in (
        ("Cut list", cut_list_blocks(plan, show), 1),
        ("Order of work and cautions", work_blocks(plan, show), 2),
        (
            "Remarks, and where the numbers come from",
            [*remark_blocks(plan), *trace_blocks(plan, show)],
            1,
        ),
    ):
        for items in flow(blocks, area, columns):
            page(title, items)
    count = len(sheets)
    return tuple(
        Drawing(
            f"Case plan, {heading.instrument or 'instrument'}, page {number}",
            width,
            height,
            (Layer("sheet", (*items, *_strip(heading, title, number, count, width))),),
        )
        for number, (title, items) in enumerate(sheets, start=1)
    )


def view_drawings(views: Sequence[Named], show: Show) -> dict[str, Drawing]:
    """Each view at true size by name, lettering as for a page of A4."""
    return {
        v.name: fitted(v.view, f"Case plan, {v.title}", show, 270.0, 180.0).drawing for v in views
    }


def _overview(plan: CasePlan, show: Show, view: Named, area: Area4) -> list[Item]:
    x0, y0, x1, y1 = area
    split = x1 - 88.0
    fit = fitted(view.view, view.title, show, split - x0 - GAP_MM, y1 - y0, view.largest)
    items = _filling(fit, x0, y0, split - x0 - GAP_MM, y1 - y0)
    blocks: list[Block] = key_blocks(plan, show)
    pages = flow(blocks, (split, y0, x1, y1), 1)
    return items + pages[0]


def _stacked(views: Sequence[Named], show: Show, area: Area4) -> list[Item]:
    """Views one above the other, each with its title and scale."""
    x0, y0, x1, y1 = area
    room = (y1 - y0 - GAP_MM * (len(views) - 1)) / len(views)
    items: list[Item] = []
    top = y1
    for view in views:
        fit = fitted(view.view, view.title, show, x1 - x0, room - 6.0, view.largest)
        words = f"{view.title}, {fit.scale_words}"
        items.append(Text(x0, top - 3.2, words, 3.2, bold=True))
        items += _placed(fit, x0, top - room, x1 - x0, room - 6.0)
        top -= room + GAP_MM
    return items


def _placed(fit: Fitted, x: float, y: float, width: float, height: float) -> list[Item]:
    """A fitted view in the middle of a box."""
    wide, high = fit.size
    at = (x + (width - wide) / 2, y + (height - high) / 2)
    window = (0.0, 0.0, fit.drawing.width, fit.drawing.height)
    return [Inset(fit.drawing, window, at, (1 / fit.one_to, 1 / fit.one_to))]


def _filling(fit: Fitted, x: float, y: float, width: float, height: float) -> list[Item]:
    """A picture without a scale, as large as a box allows."""
    k = min(width / fit.drawing.width, height / fit.drawing.height)
    wide, high = fit.drawing.width * k, fit.drawing.height * k
    window = (0.0, 0.0, fit.drawing.width, fit.drawing.height)
    at = (x + (width - wide) / 2, y + (height - high) / 2)
    return [Inset(fit.drawing, window, at, (k, k))]


def _strip(heading: Heading, title: str, number: int, count: int, width: float) -> list[Item]:
    """The line below: whose, what, units, and that the numbers rule."""
    y, size = MARGIN_MM, 2.6
    right = width - MARGIN_MM
    whose = heading.instrument.strip() or "Instrument"
    if heading.customer.strip():
        whose += f", for {heading.customer.strip()}"
    items: list[Item] = [
        Line(((MARGIN_MM, y + 6.0), (right, y + 6.0)), Stroke(0.15)),
        Text(
            MARGIN_MM, y + 1.5, shortened(f"Case plan: {whose}", size, 80.0, True), size, bold=True
        ),
    ]
    note = f"{heading.units}. Numbers rule: do not scale off this page."
    items.append(Text(MARGIN_MM + 84.0, y + 1.5, note, 2.3, colour=GREY))
    page = f"page {number} of {count}"
    items.append(Text(right, y + 1.5, page, size, "end"))
    room = right - width_of(page, size) - 4.0 - (MARGIN_MM + 84.0 + width_of(note, 2.3) + 4.0)
    words = shortened(title, 2.3, room)
    items.append(Text(right - width_of(page, size) - 4.0, y + 1.5, words, 2.3, "end"))
    return items
