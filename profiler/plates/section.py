"""A section at full size on one page of office paper: to check a gauge, a block or a notch by."""

from __future__ import annotations

from profiler.drawing.lettering import shortened
from profiler.drawing.model import Drawing, Item, Layer, Line, Stroke, Text
from profiler.findings import Level
from profiler.instrument.record import Quantity
from profiler.instrument.sections import Section
from profiler.plates.figures import in_inches, in_mm
from profiler.plates.notes import (
    CENTRELINE,
    INSTRUMENT,
    LONGEST_EXCUSE,
    STATION,
    bars_block,
    cautions_block,
)
from profiler.plates.pieces import LEADING, bullets, paragraph
from profiler.units import format_mm

#: fits A4 and Letter with the rim that office printers leave, mm
WIDTH_MM, HEIGHT_MM, MARGIN_MM = 195.0, 262.0, 8.0
SIZE_MM = 3.0
WOOD = Stroke(0.35)


def section_drawing(section: Section, instrument: str, customer: str) -> Drawing:
    """The page; seen from the tail, the face on top.

    Args:
        section: to draw.
        instrument, customer: printed as they are, shortened to fit.
    """
    title = f"{instrument.strip() or 'Instrument'}: {section.name}"
    room = WIDTH_MM - 2 * MARGIN_MM
    head, y = _heading(section, title, customer, room)
    deep = -float(section.points[:, 1].min())
    middle = WIDTH_MM / 2
    top = y - 8.0
    wood, marks, words = _profile(section, middle, top)
    y = top - deep - 12.0
    half = (room - 8.0) / 2
    numbers, low = _numbers(section, MARGIN_MM, y, half)
    cautions, under = cautions_block()(MARGIN_MM + half + 8.0, y, half, SIZE_MM)
    low = min(low, under)
    remarks = [f.message for f in section.findings if f.level is not Level.NOTE]
    if remarks:
        lines, low = bullets(
            [shortened(r, SIZE_MM, 3.7 * room) for r in remarks], MARGIN_MM, low - 3, room, SIZE_MM
        )
        cautions += lines
    bars, _ = bars_block()(MARGIN_MM, low - 3.0, room, SIZE_MM)
    layers = (
        Layer("section", tuple(wood)),
        Layer("centreline", tuple(marks)),
        Layer("text", tuple([*head, *words])),
        Layer("notes", tuple([*numbers, *cautions, *bars])),
    )
    return Drawing(title, WIDTH_MM, HEIGHT_MM, layers)


def _heading(section: Section, title: str, customer: str, room: float) -> tuple[list[Item], float]:
    big = 5.5
    y = HEIGHT_MM - MARGIN_MM - big
    items: list[Item] = [Text(MARGIN_MM, y, shortened(title, big, room, bold=True), big, bold=True)]
    if customer.strip():
        y -= 4.0 * LEADING
        items.append(Text(MARGIN_MM, y, shortened(f"for {customer.strip()}", 4.0, room), 4.0))
    lines, y = paragraph(
        f"Section at full size, {format_mm(section.x)} from the tail, seen from the tail: left is"
        " left. The thin line on top is the face (the top of the fingerboard). No clearance and no"
        f" lining is in it. From: {section.source}, {section.detail}.",
        MARGIN_MM,
        y - 2.0,
        room,
        SIZE_MM,
    )
    return items + lines, y


def _profile(
    section: Section, middle: float, top: float
) -> tuple[list[Item], list[Item], list[Item]]:
    """Curve, lines and lettering; y to the left is left on paper, as seen from the tail."""
    centre = float(section.points[0, 0] + section.points[-1, 0]) / 2
    curve = tuple((middle - (float(y) - centre), top + float(z)) for y, z in section.points)
    deep = -float(section.points[:, 1].min())
    known = bool(section.depth)
    wood: list[Item] = [Line(curve, WOOD)]
    face = INSTRUMENT if known else Stroke(0.12, dash=(1.5, 1.5))
    wood.append(Line((curve[0], curve[-1]), face))
    axis = middle + centre
    marks: list[Item] = [
        Line(((axis, top + 6), (axis, top - deep - 6)), CENTRELINE),
        *(Line(((x, top - 1.5), (x, top + 1.5)), STATION) for x in (curve[0][0], curve[-1][0])),
    ]
    words: list[Item] = [
        Text(curve[-1][0] - 3, top - 2, "left", SIZE_MM, "end"),
        Text(curve[0][0] + 3, top - 2, "right", SIZE_MM),
        Text(axis + 1.5, top + 3, "centreline", 2.4),
    ]
    if not known:
        words.append(Text(curve[0][0] + 3, top - 7, "the face's height is not known", SIZE_MM))
    return wood, marks, words


def _numbers(section: Section, x: float, top: float, room: float) -> tuple[list[Item], float]:
    items, y = paragraph("Measured", x, top, room, SIZE_MM * 1.2, bold=True)
    u95 = sorted(section.u95.tolist())
    rows: list[tuple[str, Quantity | str]] = [
        ("Width", section.width),
        ("Depth", section.depth),
        ("Back's radius", section.radius),
        ("Face above bench", section.face_height),
        ("The curve", f"± {u95[len(u95) // 2]:.1f} mm, at most ± {u95[-1]:.1f} mm"),
    ]
    for label, value in rows:
        items.append(Text(x, y - SIZE_MM, label, SIZE_MM))
        if isinstance(value, Quantity):
            words = (
                f"{in_mm(value)}   {in_inches(value)}" if value else f"not known: {value.reason}"
            )
        else:
            words = value
        words = shortened(words, SIZE_MM, LONGEST_EXCUSE * (room - 30))
        lines, y = paragraph(words, x + 30, y, room - 30, SIZE_MM)
        items += lines
    return items, y
