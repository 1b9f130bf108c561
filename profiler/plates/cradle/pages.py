"""The first pages of a cradle: what goes where, how it fits, what to mind."""

from __future__ import annotations

from profiler.casework.cradle.check import Checked
from profiler.casework.trace import Show
from profiler.drawing.model import Drawing, Item, Layer
from profiler.findings import Level
from profiler.paper import Paper
from profiler.plates.case.flow import Block, Row, Words, flow
from profiler.plates.case.paging import Heading, Named, sheet_area, stacked, strip
from profiler.plates.cradle.views import plan_view, section_view
from profiler.plates.cradle.words import CAUTIONS, HEADS, SHARES, STEPS, fit_rows, play_words

HEADING_MM = 3.6
LEVELS = {Level.DOUBT: "doubt", Level.CAUTION: "caution", Level.NOTE: "note"}
#: the plan takes this share of the first page
PLAN_SHARE = 0.55


def named_views(checked: Checked) -> list[Named]:
    """Every view of the fit check, for SVG and DXF too."""
    found = [Named("fit-plan", "The cradle from above, tail at the left", plan_view(checked))]
    for piece in checked.plan.pieces:
        if piece.upright:
            name = f"fit-{piece.name.replace(' ', '-')}"
            title = f"{piece.name.capitalize()}, seen from the tail"
            found.append(Named(name, title, section_view(checked, piece)))
    return found


def fit_pages(
    checked: Checked, show: Show, heading: Heading, paper: Paper
) -> list[tuple[str, list[Item]]]:
    """Title and items of each page, paper on its side."""
    width, height = paper.height_mm, paper.width_mm
    area = sheet_area(width, height)
    x0, y0, x1, y1 = area
    views = named_views(checked)
    split = y1 - PLAN_SHARE * (y1 - y0)
    first = stacked(views[:1], show, (x0, split, x1, y1))
    middle = (x0 + x1) / 2
    first += flow(_how_blocks(checked, show), (x0, y0, middle - 4.0, split - 4.0), 1)[0]
    first += flow(_caution_blocks(), (middle + 4.0, y0, x1, split - 4.0), 1)[0]
    pages = [("What goes where", first)]
    sections = views[1:]
    for start in range(0, len(sections), 2):
        chosen = sections[start : start + 2]
        pages.append(("Fit check", stacked(chosen, show, area)))
    for items in flow(_table_blocks(checked, show), area, 1):
        pages.append(("Fit check, table and remarks", items))
    return pages


def first_pages(
    checked: Checked, show: Show, heading: Heading, paper: Paper
) -> tuple[Drawing, ...]:
    """The pages themselves."""
    width, height = paper.height_mm, paper.width_mm
    pages = fit_pages(checked, show, heading, paper)
    count = len(pages)
    return tuple(
        Drawing(
            f"Cradle, {heading.instrument or 'instrument'}, {title}",
            width,
            height,
            (Layer("sheet", (*items, *strip(heading, title, number, count, width))),),
        )
        for number, (title, items) in enumerate(pages, start=1)
    )


def _how_blocks(checked: Checked, show: Show) -> list[Block]:
    blocks: list[Block] = [Words("How the pieces are used", HEADING_MM, bold=True)]
    blocks += [Words(s, 2.5, lead=f"{n}.") for n, s in enumerate(STEPS, start=1)]
    lift = show(checked.plan.lift.mm)
    lining = checked.plan.wishes.scheme["body"].lining
    blocks.append(
        Words(
            f"Everything counts on {show(lining.thickness)} of {lining.kind} under the body, of"
            f" which {lift} are left under the instrument's weight. Neck rest and body then bear"
            " together; all other pieces guard and do not bear.",
            2.5,
        )
    )
    return blocks


def _caution_blocks() -> list[Block]:
    return [
        Words("Before you cut", HEADING_MM, bold=True),
        *(Words(c, 2.5, lead="•") for c in CAUTIONS),
    ]


def _table_blocks(checked: Checked, show: Show) -> list[Block]:
    blocks: list[Block] = [
        Words("Fit check: gaps between wood and instrument, at rest", HEADING_MM, bold=True),
        Row(HEADS, SHARES, 2.4, bold=True),
    ]
    blocks += [Row(r, SHARES, 2.4, rule=True) for r in fit_rows(checked, show)]
    blocks.append(Words("", after=0.6))
    blocks += [Words(w, 2.5) for w in play_words(checked, show)]
    blocks.append(
        Words(
            "Gaps are from the wood; the lining stands in them. 'least gap' is the tightest place"
            " with what it is uncertain by, 95 %; 'presses' how often the lining is crushed or the"
            " wood met, 'touches' how often a lining that only guards is touched, 'hangs' how often"
            " the instrument does not reach the lining that it should rest on: each by what is"
            " uncertain in the measurement, the linings, the cut and where the piece is glued.",
            2.3,
        )
    )
    blocks.append(Words("", after=0.6))
    order = (Level.DOUBT, Level.CAUTION, Level.NOTE)
    remarks = [f for level in order for f in checked.findings if f.level is level]
    if remarks:
        blocks.append(Words("Noticed on the way", HEADING_MM, bold=True))
        blocks += [
            Words(f"{LEVELS[f.level]}: {f.message} [{f.code}]", 2.5, lead="•") for f in remarks
        ]
    return blocks
