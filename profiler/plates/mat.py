"""The mat as printable drawings: one page a sheet, and a page that says how they lie."""

from __future__ import annotations

from profiler.drawing.lettering import shortened, width_of
from profiler.drawing.model import Drawing, Item, Layer, Line, Stroke, Text
from profiler.plates.assembly import assembly_page
from profiler.plates.pieces import bar_item, cluster_items, rect_area, write_box
from profiler.plates.scale import scale_items
from profiler.target.mat import OVERLAP_MM, RIM_MM, STRIP_MM, MatDesign

#: edge of the strip towards the plain ground, mm from the paper's edge
EDGE_MM = RIM_MM + STRIP_MM
#: baseline of the words beside the bars, mm from the paper's edge
WORDS_MM = 12.3
WORDS_SIZE_MM = 2.3
BOX_LENGTH_MM = 20.0
BOX_MM = (9.5, 14.7)


def mat_drawings(design: MatDesign) -> tuple[Drawing, ...]:
    """Every page, in printing order: the assembly page (of a mat of several sheets), the sheets."""
    sheets = tuple(sheet_drawing(design, i) for i in range(design.count))
    return (assembly_page(design), *sheets) if design.count > 1 else sheets


def sheet_drawing(design: MatDesign, index: int) -> Drawing:
    """Sheet `index` (from 0) at 1:1. In its plain part there is tint and clusters, nothing else."""
    panel = design.sheets[index]
    layers = (
        Layer("tint", (rect_area(panel.tinted, design.tint),)),
        Layer("targets", tuple(cluster_items(panel.clusters))),
        Layer("bars", (bar_item(design.bar_x), bar_item(design.bar_y))),
        # a scale behind the instrument would only be in its way
        Layer("scale", () if design.upright else tuple(_scales(design, index))),
        Layer("text", tuple(_words(design, index) + _corner(design, index))),
        Layer("overlap", tuple(_overlap(design, index))),
    )
    title = "Upright row" if design.upright else "Mat"
    return Drawing(f"{title}, {panel.name} of {design.count}", panel.width, panel.height, layers)


def _box_start(label: str) -> float:
    return EDGE_MM + width_of(label, WORDS_SIZE_MM) + 1.5


def _bar_label(length: float, way: str) -> str:
    return f"Bar {way}: {length:.0f} mm. My rule reads"


def _labels(design: MatDesign) -> tuple[str, str]:
    return _bar_label(design.bar_x.length, "X"), _bar_label(design.bar_y.length, "Y")


def _scales(design: MatDesign, index: int) -> list[Item]:
    """Running on over the sheets: what is read is mm from the mat's lower left corner."""
    ox, oy = design.origin(index)
    free = [(_box_start(label), _box_start(label) + BOX_LENGTH_MM) for label in _labels(design)]
    return [
        *scale_items(EDGE_MM, design.sheet_width - RIM_MM, RIM_MM, ox, False, leave_free=free[0]),
        *scale_items(EDGE_MM, design.sheet_height - RIM_MM, RIM_MM, oy, True, leave_free=free[1]),
    ]


def _words(design: MatDesign, index: int) -> list[Item]:
    items: list[Item] = []
    low, high = BOX_MM
    advice = (
        "mm.  Print at 100 %: no 'fit to page'. Lay a steel rule on both bars"
        + (" before taping." if design.count > 1 else "."),
        f"mm.  profiler mat{' --upright' if design.upright else ''}, {design.paper.name},"
        f" {design.count} sheet{'s' if design.count > 1 else ''}."
        f"{'' if design.upright else ' Numbers along the edges are mm.'}",
    )
    ends = (design.bar_x.x1, design.bar_y.y1)
    for upright, (label, note, end) in enumerate(zip(_labels(design), advice, ends, strict=True)):
        box = _box_start(label)
        after = box + BOX_LENGTH_MM + 1.5
        note = shortened(note, WORDS_SIZE_MM, end - after)
        if upright:
            # Turned left, so up in the words is towards the paper's edge.
            base = WORDS_MM + 0.73 * WORDS_SIZE_MM
            items.append(Text(base, EDGE_MM, label, WORDS_SIZE_MM, angle=90.0))
            items += write_box(low, box, high - low, BOX_LENGTH_MM)
            items.append(Text(base, after, note, WORDS_SIZE_MM, angle=90.0))
        else:
            up = design.strip_up
            items.append(Text(EDGE_MM, WORDS_MM + up, label, WORDS_SIZE_MM))
            items += write_box(box, low + up, BOX_LENGTH_MM, high - low)
            items.append(Text(after, WORDS_MM + up, note, WORDS_SIZE_MM))
    return items


def _corner(design: MatDesign, index: int) -> list[Item]:
    """The sheet's number, where the two strips meet."""
    row, column = divmod(index, design.columns)
    middle = RIM_MM + STRIP_MM / 2 - 0.5
    up = design.strip_up
    items: list[Item] = [Text(middle, 11.8 + up, str(index + 1), 6.0, "middle", bold=True)]
    if design.count > 1:
        words = "upright" if design.upright else f"row {row + 1} col {column + 1}"
        items.append(Text(middle, 9.2 + up, f"of {design.count}", 2.0, "middle"))
        items.append(Text(middle, 6.7 + up, words, 1.9, "middle"))
    return items


def _overlap(design: MatDesign, index: int) -> list[Item]:
    """Where the paper edge of the sheet to the left and of the one below should fall."""
    row, column = divmod(index, design.columns)
    stroke = Stroke(0.2, dash=(3.0, 1.5))
    items: list[Item] = []
    if column:
        items.append(
            Line(((OVERLAP_MM, RIM_MM), (OVERLAP_MM, design.sheet_height - RIM_MM)), stroke)
        )
    if row:
        items.append(
            Line(((RIM_MM, OVERLAP_MM), (design.sheet_width - RIM_MM, OVERLAP_MM)), stroke)
        )
    return items
