"""The PDF pen: vector pages at 1:1, the same bytes every time.

Print scaling and two-sided printing are switched off in the viewer's preferences. That only
presets the print dialog, so every sheet says the same in words and carries a check bar.
"""

from __future__ import annotations

import io
from collections.abc import Iterable

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from profiler.drawing.lettering import face_name, in_face, printable
from profiler.drawing.model import Area, Drawing, Inset, Line, Point, Text
from profiler.drawing.pen import draw
from profiler.paper import MM_PER_INCH

#: a PDF unit is 1/72 in (ISO 32000-1, 8.3.2.3)
UNITS_PER_MM = 72.0 / MM_PER_INCH
EVEN_ODD = 0
# streams as they are: as letters (ISO 32000-1, 7.4.3) they are a quarter larger and take longer
rl_config.useA85 = 0


class PdfPen:
    """Collects pages; `finish` gives the file's bytes."""

    def __init__(self, title: str, subject: str = "") -> None:
        self._buffer = io.BytesIO()
        self._canvas = Canvas(self._buffer, invariant=1, pageCompression=1)
        self._canvas.setTitle(printable(title)[:200])
        self._canvas.setSubject(printable(subject)[:500])
        self._canvas.setCreator("profiler")
        self._canvas.setAuthor("")
        self._canvas.setViewerPreference("PrintScaling", "None")
        self._canvas.setViewerPreference("Duplex", "Simplex")
        self._canvas.setViewerPreference("DisplayDocTitle", "true")

    def begin(self, drawing: Drawing) -> None:
        self._canvas.setPageSize((drawing.width * UNITS_PER_MM, drawing.height * UNITS_PER_MM))
        self._canvas.saveState()
        self._canvas.scale(UNITS_PER_MM, UNITS_PER_MM)
        self._canvas.setLineJoin(1)
        self._canvas.setLineCap(0)

    def layer(self, name: str) -> None:
        """Layers do not show in print."""

    def line(self, line: Line) -> None:
        self._stroke_colour(line.stroke.colour)
        self._canvas.setLineWidth(line.stroke.width)
        self._canvas.setDash(list(line.stroke.dash))
        path = self._canvas.beginPath()
        self._ring(path, line.points, line.closed)
        self._canvas.drawPath(path, stroke=1, fill=0)

    def area(self, area: Area) -> None:
        self._fill_colour(area.colour)
        path = self._canvas.beginPath()
        for ring in area.rings:
            self._ring(path, ring, True)
        self._canvas.drawPath(path, stroke=0, fill=1, fillMode=EVEN_ODD)

    def text(self, text: Text) -> None:
        content = in_face(text.text, text.bold)
        if not content.strip():
            return
        canvas = self._canvas
        canvas.saveState()
        self._fill_colour(text.colour)
        canvas.setFont(face_name(text.bold), text.size)
        canvas.translate(text.x, text.y)
        if text.angle:
            canvas.rotate(text.angle)
        place = {
            "start": canvas.drawString,
            "middle": canvas.drawCentredString,
            "end": canvas.drawRightString,
        }[text.anchor]
        place(0, 0, content)
        canvas.restoreState()

    def enter(self, inset: Inset) -> None:
        canvas = self._canvas
        canvas.saveState()
        x0, y0, x1, y1 = inset.window
        canvas.translate(*inset.at)
        canvas.scale(*inset.scale)
        canvas.translate(-x0, -y0)
        path = canvas.beginPath()
        path.rect(x0, y0, x1 - x0, y1 - y0)
        canvas.clipPath(path, stroke=0, fill=0)

    def leave(self) -> None:
        self._canvas.restoreState()

    def end(self) -> None:
        self._canvas.restoreState()
        self._canvas.showPage()

    def finish(self) -> bytes:
        """The whole document."""
        self._canvas.save()
        return self._buffer.getvalue()

    @staticmethod
    def _ring(path: object, points: Iterable[Point], closed: bool) -> None:
        for i, (x, y) in enumerate(points):
            (path.lineTo if i else path.moveTo)(x, y)  # type: ignore[attr-defined]
        if closed:
            path.close()  # type: ignore[attr-defined]

    def _stroke_colour(self, colour: str) -> None:
        r, g, b = _rgb(colour)
        # A grey as grey: printers then use black ink alone and edges stay sharp.
        if r == g == b:
            self._canvas.setStrokeGray(r)
        else:
            self._canvas.setStrokeColorRGB(r, g, b)

    def _fill_colour(self, colour: str) -> None:
        r, g, b = _rgb(colour)
        if r == g == b:
            self._canvas.setFillGray(r)
        else:
            self._canvas.setFillColorRGB(r, g, b)


def _rgb(colour: str) -> tuple[float, float, float]:
    value = int(colour.removeprefix("#"), 16)
    return (value >> 16) / 255, (value >> 8 & 255) / 255, (value & 255) / 255


def pdf_bytes(drawings: Iterable[Drawing], title: str, subject: str = "") -> bytes:
    """Drawings as one document, a page each."""
    pen = PdfPen(title, subject)
    for drawing in drawings:
        draw(drawing, pen)
    return pen.finish()
