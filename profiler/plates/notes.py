"""The words on a template: whose it is, how to read the lines, the numbers, the cautions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from profiler.drawing.lettering import shortened
from profiler.drawing.marks import check_bar
from profiler.drawing.model import GREY, Item, Line, Stroke, Text
from profiler.findings import Level
from profiler.instrument.record import Measurement, Stretch
from profiler.plates.figures import in_inches, in_mm, rows
from profiler.plates.pieces import LEADING, bullets, paragraph
from profiler.units import MM_PER_INCH, format_inches

#: what draws one block below `top`: (x, top, room, size) to items and where the next may hang
Block = Callable[[float, float, float, float], tuple[list[Item], float]]

CUT = Stroke(0.45)
CUT_DOUBTFUL = Stroke(0.45, dash=(4.0, 2.0))
INSTRUMENT = Stroke(0.12)
#: drawn over the closed cut for machines, where colour tells what a dash on paper tells
DOUBT_OVERLAY = Stroke(0.45, "#c000c0", (4.0, 2.0))
CENTRELINE = Stroke(0.13, dash=(12.0, 2.0, 1.5, 2.0))
STATION = Stroke(0.1)
MOST_DOUBTS = 8
MOST_REMARKS = 4
#: lines that the reason for a doubt, and for a missing number, may fill
LONGEST_REASON = 1.7
LONGEST_EXCUSE = 3.7

CAUTIONS = (
    "Before cutting, lay a steel rule on the check bars, both ways. If they are not true, do not"
    " cut: print again at 100 %, or give the printer's correction.",
    "Dry-fit with scrap or card before good wood, and against the instrument itself.",
    "Small pieces go in a jig or on a sled, never in the hand; fingers stay away from the blade.",
    "Protect eyes, ears and lungs: glasses, and dust extraction or a mask.",
    "The machine maker's manual and local rules come first.",
)


@dataclass(frozen=True)
class Wishes:
    """What the user asked of a template.

    Attributes:
        clearance_mm: room left round the instrument.
        instrument, customer: printed as they are, shortened to fit.
    """

    clearance_mm: float
    instrument: str = ""
    customer: str = ""

    @property
    def title(self) -> str:
        """For headings and the document's title."""
        return self.instrument.strip() or "Instrument"


def title_block(wishes: Wishes, whole_cut: bool = False) -> Block:
    """Whose it is and what the lines mean; `whole_cut` as in `template.shape_drawing`."""

    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        big = size * 1.9
        name = shortened(wishes.title, big, room, bold=True)
        items: list[Item] = [Text(x, top - big, name, big, bold=True)]
        y = top - big * LEADING
        if wishes.customer.strip():
            owner = shortened(f"for {wishes.customer.strip()}", size * 1.2, room)
            items.append(Text(x, y - size * 1.2, owner, size * 1.2))
            y -= size * 1.2 * LEADING
        lines, y = paragraph(
            "Template at full size, seen from above, soundboard up, tail at the left.",
            x,
            y - size * 0.4,
            room,
            size,
        )
        items += lines
        clearance = wishes.clearance_mm
        doubt = (
            (DOUBT_OVERLAY, "dashed, layer 'doubt': the cut in doubt; see the numbers in circles")
            if whole_cut
            else (CUT_DOUBTFUL, "thick and dashed: cut in doubt; see the numbers in circles")
        )
        about = f" ({format_inches(clearance)})" if clearance else ""
        key = (
            (CUT, f"thick: cut here; the outline with {clearance:g} mm clearance{about} all round"),
            doubt,
            (INSTRUMENT, "thin: the instrument as measured, from straight above"),
            (CENTRELINE, "centreline, with a mark every 50 mm from the tail"),
        )
        y -= size * 0.4
        for stroke, words in key:
            items.append(Line(((x, y - size * 0.65), (x + 16, y - size * 0.65)), stroke))
            lines, y = paragraph(words, x + 19, y, room - 19, size)
            items += lines
        return items, y

    return block


def numbers_block(measurement: Measurement) -> Block:
    """The envelope and the widths; what is not known says so, and why."""

    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        items, y = paragraph("Measured", x, top, room, size * 1.2, bold=True)
        second, third = x + room * 0.37, x + room * 0.66
        for name, quantity in rows(measurement):
            items.append(Text(x, y - size, shortened(name, size, room * 0.36), size))
            if quantity:
                items.append(Text(second, y - size, in_mm(quantity), size))
                items.append(
                    Text(third, y - size, shortened(in_inches(quantity), size, room * 0.34), size)
                )
                y -= size * LEADING
            else:
                why = f"not known: {quantity.reason or 'it was not measured'}"
                why = shortened(why, size, LONGEST_EXCUSE * room * 0.63)
                lines, y = paragraph(why, second, y, room * 0.63, size)
                items += lines
            items.append(Line(((x, y - 0.1), (x + room, y - 0.1)), Stroke(0.05, GREY)))
            y -= size * 0.15
        lines, y = paragraph(
            "± is meant to hold 95 times in 100; in trials less. Inches to the nearest 1/64.",
            x,
            y - size * 0.3,
            room,
            size,
        )
        return items + lines, y

    return block


def doubts_block(measurement: Measurement) -> Block:
    """What is in doubt, numbered as on the outline."""

    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        if not measurement.doubtful:
            return [], top
        items, y = paragraph(
            "In doubt: do not cut here without checking", x, top, room, size * 1.2, bold=True
        )
        reasons = []
        for stretch in measurement.doubtful[:MOST_DOUBTS]:
            reason = f"{_place(measurement, stretch)}: {stretch.reason}"
            reasons.append(shortened(reason, size, LONGEST_REASON * room))
        if len(measurement.doubtful) > MOST_DOUBTS:
            reasons[-1] = f"and {len(measurement.doubtful) - MOST_DOUBTS + 1} more, dashed"
        lines, y = bullets(reasons, x, y, room, size, numbered=True)
        return items + lines, y

    return block


def _place(measurement: Measurement, stretch: Stretch) -> str:
    x, y = measurement.outline[stretch.indices(len(measurement.outline))].T
    left, right = bool((y > 0).any()), bool((y < 0).any())
    side = "both sides" if left and right else "left side" if left else "right side"
    return f"x {x.min():.0f} to {x.max():.0f} mm, {side}"


def remarks_block(measurement: Measurement) -> Block:
    """The program's own remarks that make a number less certain, worst first."""

    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        order = (Level.DOUBT, Level.CAUTION)
        remarks = [f for level in order for f in measurement.findings if f.level is level]
        if not remarks:
            return [], top
        items, y = paragraph("Mind when you use the numbers", x, top, room, size * 1.2, bold=True)
        words = [
            shortened(f"{f.where}: {f.message}" if f.where else f.message, size, 2.7 * room)
            for f in remarks[:MOST_REMARKS]
        ]
        if len(remarks) > MOST_REMARKS:
            words.append(f"and {len(remarks) - MOST_REMARKS} more in the job's report")
        lines, y = bullets(words, x, y, room, size)
        return items + lines, y

    return block


def cautions_block() -> Block:
    """What to mind before and while cutting."""

    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        items, y = paragraph("Before you cut", x, top, room, size * 1.2, bold=True)
        lines, y = bullets(CAUTIONS, x, y, room, size)
        return items + lines, y

    return block


def bars_block() -> Block:
    """100 mm and 4 in across, and 100 mm up."""

    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        items, y = paragraph("Check bars", x, top, room, size * 1.2, bold=True)
        y -= 3
        items += [
            check_bar((x + 6, y - 102), (x + 6, y - 2)),
            Text(x + 4, y - 100, "100 mm", size, angle=90.0),
            check_bar((x + 12, y - 6), (x + 112, y - 6)),
            Text(x + 14, y - 6 - size * 1.5, "100 mm", size),
            check_bar((x + 12, y - 18), (x + 12 + 4 * MM_PER_INCH, y - 18)),
            Text(x + 14, y - 18 - size * 1.5, "4 in", size),
        ]
        return items, y - 104

    return block
