"""The small outline drawing on the summary page: dimensioned, keyed to the table by letters."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

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
#: labels in a row are so far apart, mm; room is left for so many rows
_APART_MM, _LEAST_ROWS = 1.0, 2


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
    x0 = left + (room - scale * (high[0] - low[0])) / 2 - scale * low[0]
    labels = _labels(measurement, wording, lambda x: x0 + scale * x, size)
    rows = max([_LEAST_ROWS, *(label.row + 1 for label in labels)])
    y0 = top - (rows + 0.2) * size * LEADING - 2 - scale * high[1]

    def place(points: Array) -> tuple[Point, ...]:
        return tuple((x0 + scale * float(x), y0 + scale * float(y)) for x, y in points)

    # no eye sees a point that lies so near the line; a page of numbers takes long to write
    fewer = shapely.LinearRing(outline).simplify(UNSEEN_MM / scale)
    ring = place(np.asarray(fewer.coords)[:-1])
    items: list[Item] = [Area((ring,), WOOD), Line(ring, OUTLINE, closed=True)]
    items += [Line(place(run), DOUBTFUL) for run in _doubtful(measurement)]
    tail, head = place(np.array([[low[0] - 5 / scale, 0.0], [high[0] + 5 / scale, 0.0]]))
    items.append(Line((tail, head), CENTRELINE))
    items += _widths(measurement, labels, place, top - rows * size * LEADING, size)
    bottom = y0 + scale * low[1]
    items += _length(
        measurement, wording, (x0 + scale * low[0], x0 + scale * high[0]), bottom - 5, size
    )
    items += _scale(left, bottom - 5 - 2.4 * size, scale, size)
    return items, bottom - 5 - 3.2 * size


def _doubtful(measurement: Measurement) -> Iterator[Array]:
    for stretch in measurement.doubtful:
        yield measurement.outline[stretch.indices(len(measurement.outline))]


@dataclass(frozen=True)
class _Label:
    """What stands over a width: its place along the instrument, mm, the words, the row, counted
    from the drawing up, and the lowest row with a label over its line."""

    x: float
    words: str
    row: int
    lowest: int


def _labels(
    measurement: Measurement, wording: Wording, across: Callable[[float], float], size: float
) -> list[_Label]:
    """Labels of the widths that are drawn, in rows so that none lies over another."""
    labels: list[_Label] = []
    ends: list[float] = []
    spans: list[tuple[float, float, int]] = []
    for name, letter in station_letters(measurement).items():
        width = measurement.widths[name]
        if width.x is None:
            continue
        if not np.isfinite(extent_at(measurement.outline, np.array([width.x]))).all():
            continue
        words = f"{letter}  {wording.say(width.value or 0.0)}"
        middle, half = across(width.x), width_of(words, size) / 2
        free = (row for row, end in enumerate(ends) if middle - half > end + _APART_MM)
        row = next(free, len(ends))
        ends[row : row + 1] = [middle + half]
        spans.append((middle - half, middle + half, row))
        lowest = min(at for start, end, at in spans if start < middle < end)
        labels.append(_Label(width.x, words, row, min(lowest, row)))
    return labels


def _widths(
    measurement: Measurement,
    labels: Sequence[_Label],
    place: Callable[[Array], tuple[Point, ...]],
    lowest: float,
    size: float,
) -> Iterator[Item]:
    for label in labels:
        low, high = extent_at(measurement.outline, np.array([label.x]))
        under, over = place(np.array([[label.x, low[0]], [label.x, high[0]]]))
        y, end = (lowest + size * ((row + 1) * LEADING - 1.0) for row in (label.row, label.lowest))
        yield Line((under, over), THIN)
        yield Line((over, (over[0], end - 0.3 * size)), Stroke(0.1, FAINT))
        yield Text(over[0], y, label.words, size, anchor="middle", colour=PENCIL)


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
