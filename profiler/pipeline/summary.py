"""The summary: one page with the numbers, what they rest on, what is in doubt, what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler import __version__
from profiler.drawing.lettering import shortened
from profiler.drawing.model import Area, Drawing, Item, Layer, Line, Stroke, Text, rectangle
from profiler.drawing.pdf import pdf_bytes
from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement, Quantity
from profiler.paper import Paper, paper_named
from profiler.pipeline.summary_figure import (
    FAINT,
    PENCIL,
    VERMILION,
    WOOD,
    outline_figure,
    station_letters,
)
from profiler.pipeline.wording import Wording
from profiler.plates.figures import in_inches, in_mm, largest_part, rows
from profiler.plates.pieces import LEADING, bullets, paragraph

MARGIN_MM = 14.0
SIZE_MM = 2.9
SMALL_MM = 2.5
RULED = Stroke(0.08, FAINT)
MOST_WARNINGS = 8

CAUTIONS = (
    "± is meant to hold 95 times in 100, but on trial photos it held less often. Before you"
    " cut, check the length and one width on the instrument with a steel rule.",
    "A template is only true if its check bars are: lay the rule on them before you glue it on.",
)


@dataclass(frozen=True)
class Provenance:
    """Where the numbers come from, for the foot of the page.

    Attributes:
        photos: file names.
        digest: first digits of the first photo's SHA-256.
        camera: a sentence on lens, height and residuals.
    """

    photos: tuple[str, ...]
    digest: str
    camera: str


def summary_pdf(measurement: Measurement, provenance: Provenance, wording: Wording) -> bytes:
    """The page as a PDF file, A4 or Letter as the unit suggests; the same bytes every time."""
    paper = paper_named("Letter" if wording.units == "in" else "A4")
    # as many warnings as fit; the rest are counted
    for most in range(MOST_WARNINGS, -1, -1):
        items, lowest = _page(measurement, provenance, wording, paper, most)
        if lowest > MARGIN_MM:
            break
    title = wording.title
    drawing = Drawing(title, paper.width_mm, paper.height_mm, (Layer("summary", tuple(items)),))
    return pdf_bytes([drawing], f"{title}, measured", "Measurements with their uncertainty")


def _page(
    measurement: Measurement,
    provenance: Provenance,
    wording: Wording,
    paper: Paper,
    most: int,
) -> tuple[list[Item], float]:
    left, room = MARGIN_MM, paper.width_mm - 2 * MARGIN_MM
    items, y = _heading(provenance, wording, left, paper.height_mm - MARGIN_MM, room)
    lines, y = _warnings(measurement.findings, left, y, room, most)
    items += lines
    lines, y = outline_figure(measurement, wording, left, y - 2, room, SIZE_MM)
    items += lines
    lines, y = _numbers(measurement, wording, left, y - 3, room)
    items += lines
    gutter = 8.0
    half = (room - gutter) / 2
    lines, y_left = _heights(measurement, left, y - 4, half)
    items += lines
    lines, y_right = _next(measurement, left + half + gutter, y - 4, half)
    items += lines
    y = min(y_left, y_right)
    items += _foot(provenance, left, room)
    return items, y - 10


def _heading(
    provenance: Provenance, wording: Wording, left: float, top: float, room: float
) -> tuple[list[Item], float]:
    name = shortened(wording.title, 7.0, 0.62 * room, bold=True)
    items: list[Item] = [Text(left, top - 6.0, name, 7.0, bold=True, colour=PENCIL)]
    seen = "measured from " + ", ".join(provenance.photos)
    items.append(
        Text(
            left + room,
            top - 3.2,
            shortened(seen, SMALL_MM, 0.36 * room),
            SMALL_MM,
            anchor="end",
            colour=FAINT,
        )
    )
    if wording.customer:
        owner = shortened(f"for {wording.customer}", SIZE_MM, 0.36 * room)
        items.append(Text(left + room, top - 7.4, owner, SIZE_MM, anchor="end", colour=PENCIL))
    y = top - 10.0
    items.append(Line(((left, y), (left + room, y)), Stroke(0.3, PENCIL)))
    return items, y - 2.5


def _warnings(
    findings: Sequence[Finding], left: float, top: float, room: float, most: int
) -> tuple[list[Item], float]:
    """Doubts and cautions in a box; notes stay in the file."""
    told = [f for f in findings if f.level is not Level.NOTE]
    if not told:
        return [], top
    doubts = any(f.level is Level.DOUBT for f in told)
    title = (
        "In doubt: check this before you rely on the numbers"
        if doubts
        else "Less certain than it could be"
    )
    inside = left + 5.0
    items, y = paragraph(title, inside, top - 2.0, room - 8.0, SIZE_MM * 1.15, bold=True)
    words = [f.message for f in told[:most]]
    if len(told) > most:
        words.append(f"and {len(told) - most} more in measurement.json, under warnings")
    lines, y = bullets(words, inside, y - 0.5, room - 8.0, SMALL_MM)
    items += lines
    y -= 1.0
    colour = VERMILION if doubts else FAINT
    box: list[Item] = [
        Area((rectangle(left, y, left + room, top),), WOOD),
        Area((rectangle(left, y, left + 1.6, top),), colour),
    ]
    return box + items, y - 2.0


def _numbers(
    measurement: Measurement, wording: Wording, left: float, top: float, room: float
) -> tuple[list[Item], float]:
    columns = (left + 6.0, left + 0.25 * room, left + 0.43 * room, left + 0.64 * room)
    first, second = ("inches", "mm") if wording.units == "in" else ("mm", "inches")
    items: list[Item] = []
    heads = zip(columns, ("", first, second, "the ± comes mostly from, alone"), strict=True)
    for x, head in heads:
        items.append(Text(x, top - SMALL_MM, head, SMALL_MM, bold=True, colour=PENCIL))
    y = top - SMALL_MM * LEADING - 0.6
    letters = station_letters(measurement)
    by_quantity = {id(measurement.widths[name]): letter for name, letter in letters.items()}
    lettered = [(by_quantity.get(id(q), ""), name, q) for name, q in rows(measurement)]
    widths = iter(sorted((row for row in lettered if row[0]), key=lambda row: row[0]))
    for row in lettered:
        letter, name, quantity = next(widths) if row[0] else row
        items.append(Line(((left, y), (left + room, y)), RULED))
        lines, y = _number(
            name.replace("_", " "), letter, quantity, wording, (left, *columns), left + room, y
        )
        items += lines
    items.append(Line(((left, y), (left + room, y)), RULED))
    return items, y


def _number(
    name: str,
    letter: str,
    quantity: Quantity,
    wording: Wording,
    columns: Sequence[float],
    right: float,
    top: float,
) -> tuple[list[Item], float]:
    y = top - SIZE_MM - 0.3
    below = top - SIZE_MM * LEADING - 0.5
    key, label, first, second, third = columns
    items: list[Item] = [Text(label, y, name, SIZE_MM, colour=PENCIL)]
    if letter:
        items.append(Text(key, y, letter, SIZE_MM, bold=True, colour=PENCIL))
    if not quantity:
        why = f"not known: {quantity.reason or 'it was not measured'}"
        lines, end = paragraph(why, first, top - 0.6, right - first, SMALL_MM)
        return items + lines, min(below, end - 0.3)
    mm, inches = in_mm(quantity), in_inches(quantity, wording.inch_step)
    pair = (inches, mm) if wording.units == "in" else (mm, inches)
    items.append(Text(first, y, pair[0], SIZE_MM, bold=True, colour=PENCIL))
    items.append(Text(second, y, pair[1], SIZE_MM, colour=PENCIL))
    mostly = shortened(largest_part(quantity, wording.units), SMALL_MM, right - third)
    items.append(Text(third, y, mostly, SMALL_MM, colour=PENCIL))
    return items, below


def _heights(
    measurement: Measurement, left: float, top: float, room: float
) -> tuple[list[Item], float]:
    items, y = paragraph("Heights above the bench that were used", left, top, room, SIZE_MM, True)
    for height in measurement.heights:
        items.append(Line(((left, y), (left + room, y)), RULED))
        at = y - SMALL_MM - 0.4
        items.append(Text(left, at, height.part, SMALL_MM, colour=PENCIL))
        items.append(Text(left + 0.22 * room, at, in_mm(height.height), SMALL_MM, colour=PENCIL))
        lines, y = paragraph(height.source, left + 0.5 * room, y - 0.4, 0.5 * room, SMALL_MM)
        items += lines
        y -= 0.3
    return items, y


def _next(
    measurement: Measurement, left: float, top: float, room: float
) -> tuple[list[Item], float]:
    items, y = paragraph("What to do next", left, top, room, SIZE_MM, bold=True)
    steps = [
        "Open overlay.jpg: the coloured line must follow the instrument's edge all the way round.",
    ]
    if any(f.level is Level.DOUBT for f in measurement.findings):
        steps.append("Put right what is in doubt above and measure again with --force.")
    if not measurement.height:
        steps.append(
            "Measure the thickest place, bridge and strings included, and give --height top=…"
        )
    steps.append("'profiler template' draws the outline at full size, with your clearance.")
    lines, y = bullets([*steps, *CAUTIONS], left, y - 0.4, room, SMALL_MM)
    return items + lines, y


def _foot(provenance: Provenance, left: float, room: float) -> list[Item]:
    y = MARGIN_MM - 3.0
    words = f"profiler {__version__}, photo {provenance.digest}. {provenance.camera}"
    return [
        Line(((left, y + 4.0), (left + room, y + 4.0)), Stroke(0.15, FAINT)),
        Text(left, y, shortened(words, 2.2, room), 2.2, colour=FAINT),
    ]
