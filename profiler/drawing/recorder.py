"""A pen that remembers what it was told, with every length in the page's own mm."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from profiler.drawing.frames import Box, Frame, page_frame
from profiler.drawing.model import Area, Drawing, Inset, Line, Text


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
    _frames: list[Frame] = field(default_factory=list)

    def begin(self, drawing: Drawing) -> None:
        self.pages.append((drawing.width, drawing.height))
        self._frames = [page_frame(drawing.width, drawing.height)]

    def layer(self, name: str) -> None:
        self._layer = name

    def line(self, line: Line) -> None:
        to_page = self._frames[-1].to_page
        self._keep(replace(line, points=tuple(map(to_page, line.points))))

    def area(self, area: Area) -> None:
        to_page = self._frames[-1].to_page
        self._keep(replace(area, rings=tuple(tuple(map(to_page, r)) for r in area.rings)))

    def text(self, text: Text) -> None:
        x, y = self._frames[-1].to_page((text.x, text.y))
        self._keep(replace(text, x=x, y=y))

    def enter(self, inset: Inset) -> None:
        self._frames.append(self._frames[-1].inner(inset))

    def leave(self) -> None:
        self._frames.pop()

    def end(self) -> None:
        self._frames = []

    def _keep(self, item: Line | Area | Text) -> None:
        self.marks.append(Mark(len(self.pages) - 1, self._layer, item, self._frames[-1].window))
