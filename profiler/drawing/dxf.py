"""The DXF pen: units stated in the header, closed outlines as closed LWPOLYLINEs, layers by name.

The same drawing gives the same bytes: dates and random identifiers are fixed.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager

from ezdxf import options  # type: ignore[attr-defined]
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new

from profiler.drawing.lettering import printable
from profiler.drawing.model import FILL, WHITE, Area, Drawing, Inset, Line, Point, Text
from profiler.drawing.pen import draw

VERSION = "R2010"
#: $INSUNITS 4 and $MEASUREMENT 1: millimetres
MILLIMETRES = 4
METRIC = 1
#: AutoCAD colour index and line type of layers that machines or people tell apart
LAYER_LOOKS = {
    "cut": (1, "CONTINUOUS"),
    "instrument": (3, "CONTINUOUS"),
    "centreline": (5, "CENTER"),
    "station": (4, "CONTINUOUS"),
    "doubt": (6, "DASHED"),
    "text": (7, "CONTINUOUS"),
    "wood": (7, "CONTINUOUS"),
    "groove": (3, "CONTINUOUS"),
    "rabbet": (4, "DASHED"),
    "hidden": (8, "DASHED"),
    "clearance": (5, "DASHED"),
    "saw": (6, "CONTINUOUS"),
    "dimension": (8, "CONTINUOUS"),
    "hardware": (2, "CONTINUOUS"),
}
#: DXF lettering is measured by its capitals, the model by its em
CAPITALS = 0.73
ALIGNMENTS = {
    "start": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "end": TextEntityAlignment.RIGHT,
}
#: no longer string fits one group of a DXF file
LONGEST_TEXT = 250
DIGITS = 5


class DxfPen:
    """Takes one drawing; `finish` gives the file's bytes."""

    def __init__(self) -> None:
        with _fixed_metadata():
            self._doc = new(VERSION, setup=["linetypes"], units=MILLIMETRES)
        self._doc.header["$MEASUREMENT"] = METRIC
        self._doc.styles.add("LETTERING", font="DejaVuSans.ttf")
        self._space = self._doc.modelspace()
        self._layer = "0"

    def begin(self, drawing: Drawing) -> None:
        self._doc.header["$EXTMIN"] = (0.0, 0.0, 0.0)
        self._doc.header["$EXTMAX"] = (drawing.width, drawing.height, 0.0)
        self._doc.header["$LIMMAX"] = (drawing.width, drawing.height)

    def layer(self, name: str) -> None:
        self._layer = re.sub(r"[^A-Za-z0-9_ -]+", "-", name)[:100] or "layer"
        if self._layer not in self._doc.layers:
            colour, linetype = LAYER_LOOKS.get(self._layer, (7, "CONTINUOUS"))
            self._doc.layers.add(self._layer, color=colour, linetype=linetype)

    def line(self, line: Line) -> None:
        self._polyline(line.points, line.closed)

    def area(self, area: Area) -> None:
        """As outlines; tints, and white that only hides what lies below on paper, are left out."""
        if area.colour != WHITE and not self._layer.startswith(FILL):
            for ring in area.rings:
                self._polyline(ring, True)

    def text(self, text: Text) -> None:
        content = printable(text.text)[:LONGEST_TEXT].replace("%%", "% %")
        if not content.strip():
            return
        entity = self._space.add_text(
            content,
            height=text.size * CAPITALS,
            rotation=text.angle,
            dxfattribs={"layer": self._layer, "style": "LETTERING"},
        )
        entity.set_placement((text.x, text.y), align=ALIGNMENTS[text.anchor])

    def enter(self, inset: Inset) -> None:
        raise NotImplementedError("DXF has no windows; draw the whole drawing instead of its pages")

    def leave(self) -> None:
        """Never reached."""

    def end(self) -> None:
        """Nothing is left open."""

    def finish(self) -> bytes:
        """The whole file."""
        stream = io.StringIO()
        with _fixed_metadata():
            self._doc.write(stream)
        return stream.getvalue().encode(self._doc.output_encoding, errors="replace")

    def _polyline(self, points: tuple[Point, ...], closed: bool) -> None:
        self._space.add_lwpolyline(
            [(round(x, DIGITS), round(y, DIGITS)) for x, y in points],
            close=closed,
            dxfattribs={"layer": self._layer},
        )


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Dates and identifiers that do not change from run to run; the library's switch is global."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def dxf_bytes(drawing: Drawing) -> bytes:
    """One drawing as a DXF file in mm."""
    pen = DxfPen()
    draw(drawing, pen)
    return pen.finish()
