"""How the pieces lie on the sheets."""

from __future__ import annotations

from profiler.casework.nesting import SheetPlan
from profiler.drawing.lettering import width_of
from profiler.plates.case.pencil import DASHED, FINE, HEAVY, PLAIN, SMALL_MM, Pencil, View
from profiler.plates.case.views import WOOD


def sheet_view(sheet: SheetPlan) -> View:
    """One sheet, its grain from left to right."""

    def draw(p: Pencil) -> None:
        size = sheet.sheet
        p.box("sheet", 0, 0, size.length, size.width, HEAVY)
        trim = sheet.trim
        if trim:
            p.box("trim", trim, trim, size.length - trim, size.width - trim, FINE, dash=DASHED)
        for one in sheet.laid:
            p.box("cut", one.x, one.y, one.x + one.length, one.y + one.width, PLAIN, WOOD)
            words = f"{p.show(one.length)} × {p.show(one.width)}"
            _letter(p, one.x, one.y, one.length, one.width, one.mark, words)
        arrow = size.length * 0.2
        y = size.width + p.paper(3)
        p.line("text", ((0, y), (arrow, y)), PLAIN)
        for way in (1, -1):
            p.line("text", ((arrow - p.paper(2), y + way * p.paper(0.8)), (arrow, y)), PLAIN)
        p.text((arrow + p.paper(1.5), y - p.paper(0.8)), "grain of the face", SMALL_MM)
        p.across(0, size.length, 0, -6)
        p.up(0, size.width, size.length, 6)

    return draw


def _letter(
    p: Pencil, x: float, y: float, length: float, width: float, mark: str, words: str
) -> None:
    """The mark, and the size where it fits."""
    tall = min(3.0, 0.75 * min(length, width) * p.scale)
    if tall < 0.8:
        return
    full = f"{mark}  {words}"
    if width_of(full, 2.2) < length * p.scale - 2 and width * p.scale > 3.2:
        at = (x + length / 2, y + width / 2 - p.paper(0.8))
        p.text(at, full, 2.2, "middle")
    else:
        at = (x + length / 2, y + width / 2 - p.paper(tall * 0.36))
        p.text(at, mark, tall, "middle", bold=True)
