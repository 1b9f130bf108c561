"""Where an inset's millimetres fall on the page, for pens that put down page millimetres only."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.drawing.model import Inset, Point

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Frame:
    """Page = inner * scale + shift; `window` is the visible part, page mm."""

    scale: Point
    shift: Point
    window: Box

    def to_page(self, p: Point) -> Point:
        """A point of the inner drawing, in page mm."""
        return self.scale[0] * p[0] + self.shift[0], self.scale[1] * p[1] + self.shift[1]

    def inner(self, inset: Inset) -> Frame:
        """The frame inside an inset that is drawn in this one."""
        x0, y0, x1, y1 = inset.window
        corner = self.to_page(inset.at)
        scale = self.scale[0] * inset.scale[0], self.scale[1] * inset.scale[1]
        shift = corner[0] - scale[0] * x0, corner[1] - scale[1] * y0
        low = scale[0] * x0 + shift[0], scale[1] * y0 + shift[1]
        high = scale[0] * x1 + shift[0], scale[1] * y1 + shift[1]
        outer = self.window
        return Frame(
            scale,
            shift,
            (
                max(outer[0], low[0]),
                max(outer[1], low[1]),
                min(outer[2], high[0]),
                min(outer[3], high[1]),
            ),
        )


def page_frame(width: float, height: float) -> Frame:
    """The frame of a page itself."""
    return Frame((1.0, 1.0), (0.0, 0.0), (0.0, 0.0, width, height))
