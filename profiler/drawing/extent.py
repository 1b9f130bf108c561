"""What a drawing covers: its ink as shapes, for asking whether a piece of paper stays empty."""

from __future__ import annotations

import math

import shapely
from shapely.geometry.base import BaseGeometry

from profiler.drawing.lettering import width_of
from profiler.drawing.model import Area, Drawing, Inset, Item, Line, Text

#: what hangs below the baseline and rises above it, in ems
DESCENT, ASCENT = 0.25, 0.95


def text_box(text: Text) -> BaseGeometry:
    """The turned box round a line of lettering, mm."""
    width = width_of(text.text, text.size, text.bold)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    box = shapely.box(start, -DESCENT * text.size, start + width, ASCENT * text.size)
    c, s = math.cos(math.radians(text.angle)), math.sin(math.radians(text.angle))
    turned: BaseGeometry = shapely.affinity.affine_transform(box, [c, -s, s, c, text.x, text.y])
    return turned


def item_shape(item: Item) -> BaseGeometry:
    """The ink of one item, mm; of lettering and insets the box round it."""
    if isinstance(item, Line):
        points = (*item.points, item.points[0]) if item.closed else item.points
        chain = shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0])
        return chain.buffer(item.stroke.width / 2, cap_style="flat")
    if isinstance(item, Area):
        return shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in item.rings])
    if isinstance(item, Text):
        return text_box(item)
    x0, y0, x1, y1 = _inset_box(item)
    return shapely.box(x0, y0, x1, y1)


def drawing_shapes(drawing: Drawing) -> list[BaseGeometry]:
    """The ink of each item, in painting order."""
    return [item_shape(item) for item in drawing.items()]


def _inset_box(inset: Inset) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = inset.window
    x, y = inset.at
    return x, y, x + (x1 - x0) * inset.scale[0], y + (y1 - y0) * inset.scale[1]
