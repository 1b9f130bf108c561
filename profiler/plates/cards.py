"""The height cards on one page: cut them out, lay them on the instrument."""

from __future__ import annotations

from profiler.drawing.lettering import width_of
from profiler.drawing.model import Drawing, Item, Layer, Line, Point, Stroke, Text, rectangle
from profiler.paper import Paper
from profiler.plates.pieces import (
    bar_item,
    bullets,
    cluster_items,
    paragraph,
    rect_area,
    rect_ring,
    write_box,
)
from profiler.plates.sketch import sketch_items
from profiler.target.card import LONG, SHORT, THICKNESS_MM, card_bars, card_panels
from profiler.target.mat import DEFAULT_TINT
from profiler.target.panel import Panel, Rect

MARGIN_MM = 10.0
#: common corner of the two check bars, mm from the paper's corner
CORNER = (17.0, 20.0)
#: between cards, so that a knife has room on both sides, mm
GAP_MM = 6.0
LEFT_MM = CORNER[0] + 5.0
CUT = Stroke(0.1)
SIZE_MM = 2.6
LABEL_MM = 2.8
FINISH = (
    "Put nothing on a soft or fresh finish. French polish (shellac), nitrocellulose lacquer, oil"
    " and fresh varnish can take a print from paper within minutes. In doubt leave the cards off"
    " and type the heights instead.",
    "Lay, never slide, press or tape. Lift straight up.",
    "Put a clean sheet of soft paper below, so that no grit is caught between; add its thickness"
    " to the card's.",
)
MAKE = (
    "Print at 100 %, one-sided: 'actual size', never 'fit to page'.",
    "Use stiff card, or glue the page to flat card.",
    "Before cutting, lay a steel rule on bars X and Y, outer end to outer end, and note what it"
    " reads.",
    f"If a finished card is not about {THICKNESS_MM:g} mm thick, note that as well.",
    "Tell the program, with your own readings: profiler cards --record cards.json --bar-x 169.6mm"
    f" --bar-y 219.8mm --thickness {THICKNESS_MM:g}mm",
    "Cut along the thin lines, with a knife along a steel rule.",
)
USE = (
    "Long cards go on the soundboard, short ones on the fretboard and the headstock. One card on"
    " each part is enough; two far apart are better.",
    "Printed side up, flat on the wood: not bent, not over the edge, not resting on strings."
    " Where strings are in the way leave the card off and type the height.",
    "Wholly in the photo, with no glare on it.",
    "The program knows each card by its pattern; any card may lie on any part.",
)


def cards_drawing(paper: Paper, tint: str = DEFAULT_TINT) -> Drawing:
    """All the cards on one page of A4 or Letter, at 1:1 and upright, as the record expects them."""
    panels = card_panels()
    places = _places(panels)
    targets: list[Item] = []
    cuts: list[Item] = []
    words: list[Item] = []
    for number, (panel, at) in enumerate(zip(panels, places, strict=True), start=1):
        targets.append(rect_area(panel.tinted, tint, at))
        targets += cluster_items(panel.clusters, at)
        cuts.append(Line(rect_ring(Rect(0, 0, panel.width, panel.height), at), CUT, closed=True))
        kind = "long" if panel.width == LONG.length else "short"
        words.append(
            Text(at[0], at[1] + panel.height + 1.0, f"card {number}, {kind}", LABEL_MM, bold=True)
        )
    words += _head(paper, top_of_cards=places[0][1] + LONG.width + LABEL_MM + 1)
    words += _use(paper, places[0][1] + LONG.width)
    words += _readings()
    bar_x, bar_y = card_bars()
    return Drawing(
        "Height cards",
        paper.width_mm,
        paper.height_mm,
        (
            Layer("targets", tuple(targets)),
            Layer("cut", tuple(cuts)),
            Layer("bars", (bar_item(bar_x, CORNER), bar_item(bar_y, CORNER))),
            Layer("text", tuple(words)),
        ),
    )


def _places(panels: tuple[Panel, ...]) -> list[Point]:
    """Lower left corner of each card: short ones two by two, long ones in a column above them."""
    low = CORNER[1] + 6.0
    long = [p for p in panels if p.width == LONG.length]
    short = [p for p in panels if p.width != LONG.length]
    places: dict[str, Point] = {}
    for i, panel in enumerate(reversed(short)):
        row, column = divmod(i, 2)
        places[panel.name] = (
            LEFT_MM + (1 - column) * (SHORT.length + GAP_MM),
            low + row * (SHORT.width + GAP_MM),
        )
    low += -(-len(short) // 2) * (SHORT.width + GAP_MM)
    for i, panel in enumerate(reversed(long)):
        places[panel.name] = (LEFT_MM, low + i * (LONG.width + GAP_MM))
    return [places[p.name] for p in panels]


def _head(paper: Paper, top_of_cards: float) -> list[Item]:
    """Title, how to make the cards, and the caution in a frame of its own."""
    top = paper.height_mm - MARGIN_MM
    items, y = paragraph("Height cards", LEFT_MM, top, 150, 6.0, bold=True)
    lines, y = paragraph(
        "A card's size in the photo tells how high the part lies on which it rests.",
        LEFT_MM,
        y,
        paper.width_mm - LEFT_MM - MARGIN_MM,
        3.0,
    )
    items += lines
    half = (paper.width_mm - LEFT_MM - MARGIN_MM - 6) / 2
    y -= 2
    lines, _ = bullets(MAKE, LEFT_MM, y, half, SIZE_MM, numbered=True)
    items += lines
    x = LEFT_MM + half + 6
    lines, after = paragraph("Caution: delicate finishes", x + 2, y - 1.5, half, 3.2, bold=True)
    items += lines
    lines, after = bullets(FINISH, x + 2, after - 0.5, half - 4, SIZE_MM)
    items += lines
    ring = rectangle(x, max(after - 0.5, top_of_cards), x + half, y)
    items.append(Line(ring, Stroke(0.4), closed=True))
    return items


def _use(paper: Paper, top: float) -> list[Item]:
    """Where the cards go, to the right of the long ones."""
    x = LEFT_MM + LONG.length + 6
    room = paper.width_mm - MARGIN_MM - x
    items, y = paragraph("Where they go", x, top, room, 3.2, bold=True)
    lines, y = bullets(USE, x, y - 0.5, room, SIZE_MM)
    low = CORNER[1] + 6.0 + 2 * (SHORT.width + GAP_MM)
    return items + lines + sketch_items((x, low), room, y - 3 - low)


def _readings() -> list[Item]:
    """Labels and boxes along both bars."""
    items: list[Item] = []
    for upright, bar in enumerate(card_bars()):
        name = "Y" if upright else "X"
        label = f"Bar {name}: {bar.length:.0f} mm as designed. My rule reads"
        start = CORNER[upright] + 1
        box = start + width_of(label, LABEL_MM) + 2
        if upright:
            base = CORNER[0] - 3.2
            items.append(Text(base, start, label, LABEL_MM, angle=90.0))
            items += write_box(base - 4.2, box, 5.5, 24)
            items.append(Text(base, box + 26, "mm", LABEL_MM, angle=90.0))
        else:
            base = CORNER[1] - 6.2
            items.append(Text(start, base, label, LABEL_MM))
            items += write_box(box, base - 1.8, 24, 5.5)
            items.append(Text(box + 26, base, "mm", LABEL_MM))
            thick = box + 40
            items.append(Text(thick, base, "Card thickness", LABEL_MM))
            after = thick + width_of("Card thickness", LABEL_MM) + 2
            items += write_box(after, base - 1.8, 16, 5.5)
            items.append(Text(after + 18, base, "mm", LABEL_MM))
    return items
