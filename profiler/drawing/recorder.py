"""A pen that remembers what it was told, with every length in the page's own mm."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from profiler.drawing.model import Area, Drawing, Inset, Line, Point, Text

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Mark:
    """One thing on a page.

    Attributes:
        page: counted from 0.
        layer: its layer's name.
        item: a line, area or text in page mm, not cut off at the window.
        window: page mm, what can be seen of it lies inside.
    """

    page: int
    layer: str
    item: Line | Area | Text
    window: Box


@dataclass
class Recorder:
    """The test instrument: keeps pages and marks."""

    pages: list[tuple[float, float]] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    _layer: str = ""
    #: scale x, scale y, shift x, shift y of each inset entered, outermost first
    _frames: list[tuple[Box, Box]] = field(default_factory=list)

    def begin(self, drawing: Drawing) -> None:
        self.pages.append((drawing.width, drawing.height))
        self._frames = [((1.0, 1.0, 0.0, 0.0), (0.0, 0.0, drawing.width, drawing.height))]

    def layer(self, name: str) -> None:
        self._layer = name

    def line(self, line: Line) -> None:
        self._keep(replace(line, points=tuple(map(self._point, line.points))))

    def area(self, area: Area) -> None:
        self._keep(replace(area, rings=tuple(tuple(map(self._point, r)) for r in area.rings)))

    def text(self, text: Text) -> None:
        x, y = self._point((text.x, text.y))
        self._keep(replace(text, x=x, y=y))

    def enter(self, inset: Inset) -> None:
        (sx, sy, tx, ty), outer = self._frames[-1]
        ix, iy = inset.scale
        x0, y0, x1, y1 = inset.window
        dx, dy = inset.at[0] - x0 * ix, inset.at[1] - y0 * iy
        frame = (sx * ix, sy * iy, tx + sx * dx, ty + sy * dy)
        window = (
            max(outer[0], frame[0] * x0 + frame[2]),
            max(outer[1], frame[1] * y0 + frame[3]),
            min(outer[2], frame[0] * x1 + frame[2]),
            min(outer[3], frame[1] * y1 + frame[3]),
        )
        self._frames.append((frame, window))

    def leave(self) -> None:
        self._frames.pop()

    def end(self) -> None:
        self._frames = []

    def _point(self, p: Point) -> Point:
        sx, sy, tx, ty = self._frames[-1][0]
        return sx * p[0] + tx, sy * p[1] + ty

    def _keep(self, item: Line | Area | Text) -> None:
        self.marks.append(Mark(len(self.pages) - 1, self._layer, item, self._frames[-1][1]))
