"""The page that comes before a mat of several sheets: how they lie, and where to note readings."""

from __future__ import annotations

from profiler.drawing.model import WHITE, Area, Drawing, Item, Layer, Line, Stroke, Text, rectangle
from profiler.plates.pieces import bullets, paragraph, write_box
from profiler.target.mat import RIM_MM, MatDesign

MARGIN_MM = 12.0
#: lettering grows with the paper: it was laid out for this width, and stops at twice the size
LAID_OUT_MM = 210.0


def assembly_page(design: MatDesign) -> Drawing:
    """How the sheets lie on each other, on paper of the same size as they are."""
    width, height = design.sheet_width, design.sheet_height
    k = min(2.0, max(1.0, min(width, height) / LAID_OUT_MM))
    room = min(width - 2 * MARGIN_MM, 230.0 * k)
    x, y = MARGIN_MM, height - MARGIN_MM
    title = "How this row stands" if design.upright else "How this mat is put together"
    items, y = paragraph(title, x, y, room, 6.0 * k, bold=True)
    rows = "one row" if design.upright else f"{design.rows} up"
    lines, y = paragraph(
        f"{design.count} sheets of {design.paper.name}: {design.columns} side by side,"
        f" {rows}; together {design.width:.0f} x {design.height:.0f} mm.",
        x,
        y - 1,
        room,
        3.4 * k,
    )
    items += lines
    lines, y = bullets(_steps(design), x, y - 2, room, 3.0 * k, numbered=True)
    items += lines
    lines, y = _readings(design, x, y - 2 * k, room, k)
    items += lines
    items += _picture(design, x, MARGIN_MM, width - 2 * MARGIN_MM, y - 4 - MARGIN_MM)
    name = "Upright row, how it stands" if design.upright else "Mat, how it is put together"
    return Drawing(name, width, height, (Layer("text", tuple(items)),))


def _steps(design: MatDesign) -> tuple[str, ...]:
    if design.upright:
        return _row_steps()
    return (
        "Print at 100 %, one-sided; in the print dialog choose 'actual size', never 'fit to page'."
        " Plain matt paper; glossy paper mirrors the lamp.",
        "Before taping, lay a steel rule on bar X (along the lower edge) and bar Y (up the left"
        " edge) of one sheet. Read each from outer end to outer end, to 0.1 mm if you can, and"
        " write both below. Printers are often out by 0.2 to 2 %: this repairs it.",
        "On a flat bench lay the sheets as in the picture, the highest number first. A sheet lies"
        " on top of its right and its upper neighbour; its edge falls on the dashed line, so only"
        " the scales along the left and the lower edge of the whole mat stay in sight.",
        "Hold them with small pieces of dull tape on the white seams, never on a printed square."
        " Laying it exactly does not matter, since the program finds where each sheet lies; lying"
        " flat does.",
        "Lay the instrument on it, with some of the pale ground in sight all round.",
    )


def _row_steps() -> tuple[str, ...]:
    return (
        "Print at 100 %, one-sided; in the print dialog choose 'actual size', never 'fit to page'."
        " Plain matt paper; glossy paper mirrors the lamp.",
        "Lay a steel rule on bar X (along the upper edge) and bar Y (up the left edge) of one"
        " sheet, from outer end to outer end, and write both below.",
        "Tape the sheets side by side to a flat board, or to boxes of one height, the highest"
        " number first; a sheet's edge falls on its neighbour's dashed line. Their lower edges go"
        " down to the board's foot.",
        "Stand it upright behind the instrument, on the mat or just behind it, a hand's breadth"
        " from the body, and see that it cannot fall over. Where exactly does not matter.",
        "Photograph from the other side, an arm's length away, the phone level and at the height of"
        " the strings: both ends of the instrument, the row behind it and the mat before it are in"
        " sight. Touch neither instrument nor mat between this photo and those from above.",
    )


def _readings(
    design: MatDesign, x: float, top: float, room: float, k: float
) -> tuple[list[Item], float]:
    items: list[Item] = []
    y = top
    for name, bar in (("X", design.bar_x), ("Y", design.bar_y)):
        label = f"Bar {name}, {bar.length:.0f} mm as designed. My rule reads:"
        items.append(Text(x, y - 5.5 * k, label, 3.2 * k))
        items += write_box(x + 86 * k, y - 8 * k, 34 * k, 7 * k)
        items.append(Text(x + 122 * k, y - 5.5 * k, "mm", 3.2 * k))
        y -= 9.5 * k
    lines, y = paragraph(
        "Then tell the program, with your own readings in place of these two:", x, y, room, 3.0 * k
    )
    items += lines
    name = "upright" if design.upright else "mat"
    command = (
        f"profiler mat --record {name}.json --bar-x {design.bar_x.length - 0.4:.1f}mm"
        f" --bar-y {design.bar_y.length - 0.3:.1f}mm"
    )
    lines, y = paragraph(command, x + 4, y - 0.5, room - 4, 3.0 * k, bold=True)
    return items + lines, y


def _picture(design: MatDesign, x: float, y: float, width: float, height: float) -> list[Item]:
    """The mat from above, small; painted from the lowest sheet to the topmost."""
    scale = min(width / design.width, height / design.height)
    x += (width - design.width * scale) / 2
    items: list[Item] = []
    for index in reversed(range(design.count)):
        ox, oy = design.origin(index)
        left, low = x + ox * scale, y + oy * scale
        right, high = left + design.sheet_width * scale, low + design.sheet_height * scale
        rim = RIM_MM * scale
        paper = rectangle(left, low, right, high)
        items.append(Area((paper,), WHITE))
        items.append(
            Area((rectangle(left + rim, low + rim, right - rim, high - rim),), design.tint)
        )
        items.append(Line(paper, Stroke(0.3), closed=True))
        size = min(12.0, 0.25 * min(right - left, high - low))
        middle = (left + right) / 2
        items.append(
            Text(middle, (low + high) / 2 - size * 0.3, str(index + 1), size, "middle", bold=True)
        )
        row, column = divmod(index, design.columns)
        items.append(
            Text(
                middle,
                (low + high) / 2 - size * 0.9,
                "upright" if design.upright else f"row {row + 1} col {column + 1}",
                min(2.6, size * 0.3),
                "middle",
            )
        )
    return items
