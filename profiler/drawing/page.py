"""A sheet of the user's paper and the part of it that a printer reaches."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.paper import Paper


@dataclass(frozen=True)
class Margins:
    """White or lettered strips along the four edges, mm."""

    left: float
    right: float
    bottom: float
    top: float


#: the lower and left strip carry check bars; office printers leave about 6 mm white all round
TILE_MARGINS = Margins(left=15.0, right=8.0, bottom=17.0, top=8.0)


@dataclass(frozen=True)
class Page:
    """Paper as it is turned, with its margins."""

    paper: Paper
    landscape: bool = False
    margins: Margins = TILE_MARGINS

    @property
    def width(self) -> float:
        return self.paper.height_mm if self.landscape else self.paper.width_mm

    @property
    def height(self) -> float:
        return self.paper.width_mm if self.landscape else self.paper.height_mm

    @property
    def window(self) -> tuple[float, float, float, float]:
        """x0, y0, x1, y1 inside the margins, mm."""
        m = self.margins
        return m.left, m.bottom, self.width - m.right, self.height - m.top
