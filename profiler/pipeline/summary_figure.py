"""The small outline drawing on the summary page: dimensioned, keyed to the table by letters."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.drawing.lettering import width_of
from profiler.drawing.model import Area, Item, Line, Point, Stroke, Text
from profiler.geometry.curves import extent_at
from profiler.instrument.record import Measurement
from profiler.pipeline.wording import Wording
from profiler.plates.pieces import LEADING

Array = NDArray[np.float64]

PENCIL = "#343230"
FAINT = "#969084"
INK = "#1054a8"
VERMILION = "#d63a16"
WOOD = "#f6f1e6"

OUTLINE = Stroke(0.4, INK)
DOUBTFUL = Stroke(0.6, VERMILION)
CENTRELINE = Stroke(0.15, PENCIL, dash=(5.0, 1.2, 0.8, 1.2))
THIN = Stroke(0.15, PENCIL)
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: on paper, mm
UNSEEN_MM = 0.01
#: drawn no taller than this, mm
TALLEST_MM = 62.0


def station_letters(measurement: Measurement) -> dict[str, str]:
    """A letter for each width that is known, from tail to head."""
    known = [
        (q.x, name)
        for name, q in measurement.widths.items()
        if q.value is not None and q.x is not None
    ]
    return {name: LETTERS[i % 26] for i, (_, name) in enumerate(sorted(known))}


def outline_figure(
    measurement: Measurement,
    wording: Wording,
    left: float,
    top: float,
    room: float,
    size: float,
) -> tuple[list[Item], float]:
    """The outline to fit, with its length, its widths and a scale.

    Args:
        measurement: of the instrument.
        wording: which unit the dimensions have.
        left, top, room: where it hangs and how wide it may be, page mm.
        size: of the lettering, mm.

    Returns:
        the items, and the page y below them.
    """
    outline = measurement.outline
    low, high = outline.min(axis=0), outline.max(axis=0)
    scale = min((room - 4) / (high[0] - low[0]), TALLEST_MM / (high[1] - low[1]))
    label_room = 2.2 * size * LEADING
    x0 = left + (room - scale * (high[0] - low[0])) / 2 - scale * low[0]
    y0 = top - label_room - 2 - scale * high[1]

    def place(points: Array) -> tuple[Point, ...]:
        return tuple((x0 + scale * float(x), y0 + scale * float(y)) for x, y in points)

    # no eye sees a point that lies so near the line; a page of numbers takes long to write
    fewer = shapely.LinearRing(outline).simplify(UNSEEN_MM / scale)
    ring = place(np.asarray(fewer.coords)[:-1])
    items: list[Item] = [Area((ring,), WOOD), Line(ring, OUTLINE, closed=True)]
    items += [Line(place(run), DOUBTFUL) for run in _doubtful(measurement)]
    tail, head = place(np.array([[low[0] - 5 / scale, 0.0], [high[0] + 5 / scale, 0.0]]))
    items.append(Line((tail, head), CENTRELINE))
    items += _widths(measurement, wording, place, top, size)
    bottom = y0 + scale * low[1]
    items += _length(
        measurement, wording, (x0 + scale * low[0], x0 + scale * high[0]), bottom - 5, size
    )
    items += _scale(left, bottom - 5 - 2.4 * size, scale, size)
    return items, bottom - 5 - 3.2 * size


def _doubtful(measurement: Measurement) -> Iterator[Array]:
    for stretch in measurement.doubtful:
        yield measurement.outline[stretch.indices(len(measurement.outline))]


def _widths(
    measurement: Measurement,
    wording: Wording,
    place: Callable[[Array], tuple[Point, ...]],
    top: float,
    size: float,
) -> Iterator[Item]:
    last_right, raised = -np.inf, False
    letters = station_letters(measurement)
    for name in letters:
        width = measurement.widths[name]
        low, high = extent_at(measurement.outline, np.array([width.x]))
        if not np.isfinite([low[0], high[0]]).all():
            continue
        under, over = place(np.array([[width.x, low[0]], [width.x, high[0]]]))
        words = f"{letters[name]}  {wording.say(width.value or 0.0)}"
        half = width_of(words, size) / 2
        raised = over[0] - half < last_right + 1 and not raised
        last_right = over[0] + half
        y = top - size * (1.0 if raised else 1.0 + LEADING)
        yield Line((under, over), THIN)
        yield Line((over, (over[0], y - 0.3 * size)), Stroke(0.1, FAINT))
        yield Text(over[0], y, words, size, anchor="middle", colour=PENCIL)


def _length(
    measurement: Measurement, wording: Wording, ends: tuple[float, float], y: float, size: float
) -> Iterator[Item]:
    a, b = ends
    words = (
        "length not known"
        if measurement.length.value is None
        else f"length {wording.say(measurement.length.value)}"
    )
    half = width_of(words, size) / 2 + 1.5
    middle = (a + b) / 2
    yield Line(((a, y), (middle - half, y)), THIN)
    yield Line(((middle + half, y), (b, y)), THIN)
    for x, way in ((a, 1), (b, -1)):
        yield Line(((x, y - 2), (x, y + 2)), THIN)
        yield Area((((x, y), (x + way * 2.4, y + 0.6), (x + way * 2.4, y - 0.6)),), PENCIL)
    yield Text(middle, y - 0.36 * size, words, size, anchor="middle", colour=PENCIL)


def _scale(left: float, y: float, scale: float, size: float) -> Iterator[Item]:
    """100 mm at the drawing's scale, ten white and black pieces like a map's."""
    for i in range(10):
        x = left + i * 10 * scale
        corners = ((x, y), (x + 10 * scale, y), (x + 10 * scale, y + 1), (x, y + 1))
        yield Area((corners,), PENCIL) if i % 2 == 0 else Line(corners, Stroke(0.1, PENCIL), True)
    yield Text(
        left + 100 * scale + 2,
        y,
        f"100 mm. Drawn at 1 : {1 / scale:.2g}, not for cutting.",
        0.85 * size,
        colour=FAINT,
    )
