"""Whether words on a sheet run into each other or off the paper."""

from __future__ import annotations

import shapely

from profiler.drawing.extent import text_box
from profiler.drawing.model import Drawing, Text
from profiler.drawing.pen import draw
from profiler.drawing.recorder import Recorder


def clashes(drawing: Drawing, rim: float = 4.0) -> list[str]:
    """Pairs of words that overlap, and words nearer to the paper's edge than `rim` mm."""
    pen = Recorder()
    draw(drawing, pen)
    # Only whole words: what is shown small or cut off in an inset is not for reading.
    page = (0.0, 0.0, drawing.width, drawing.height)
    texts = [m.item for m in pen.marks if isinstance(m.item, Text) and m.window == page]
    texts = [t for t in texts if t.text.strip()]
    # A hair smaller, since one line may touch the next.
    boxes = [text_box(t).buffer(-0.12 * t.size) for t in texts]
    tree = shapely.STRtree(boxes)
    found = [
        f"'{texts[a].text[:40]}' and '{texts[b].text[:40]}'"
        for a, b in tree.query(boxes, predicate="intersects").T
        if a < b
    ]
    inside = shapely.box(rim, rim, drawing.width - rim, drawing.height - rim)
    found += [
        f"'{t.text[:40]}' at the edge"
        for t, b in zip(texts, boxes, strict=True)
        if not inside.contains(b)
    ]
    return found
