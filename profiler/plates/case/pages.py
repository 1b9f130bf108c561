"""The case plan page by page, and each view by itself at true size."""

from __future__ import annotations

from collections.abc import Sequence

from profiler.casework.plan import CasePlan
from profiler.casework.trace import Show
from profiler.drawing.model import Drawing, Inset, Item, Layer
from profiler.paper import Paper
from profiler.plates.case.boards import board_view, fingers_view
from profiler.plates.case.exploded import exploded_view
from profiler.plates.case.flow import Area4, Block, flow
from profiler.plates.case.hardware import outside_view
from profiler.plates.case.nested import sheet_view
from profiler.plates.case.paging import (
    GAP_MM,
    Heading,
    Named,
    sheet_area,
    stacked,
    strip,
)
from profiler.plates.case.pencil import Fitted, fitted
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
    area = sheet_area(width, height)
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
        page(", ".join(v.title.partition(",")[0] for v in chosen), stacked(chosen, show, area))
    for view in views:
        if view.name.startswith(("parts", "sheet")):
            page(view.title, stacked([view], show, area))
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
            (Layer("sheet", (*items, *strip(heading, title, number, count, width))),),
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


def _filling(fit: Fitted, x: float, y: float, width: float, height: float) -> list[Item]:
    """A picture without a scale, as large as a box allows."""
    k = min(width / fit.drawing.width, height / fit.drawing.height)
    wide, high = fit.drawing.width * k, fit.drawing.height * k
    window = (0.0, 0.0, fit.drawing.width, fit.drawing.height)
    at = (x + (width - wide) / 2, y + (height - high) / 2)
    return [Inset(fit.drawing, window, at, (k, k))]
