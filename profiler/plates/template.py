"""The cutting template: the outline with its clearance at full size, and all that belongs to it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely

from profiler.drawing.extent import item_shape
from profiler.drawing.lettering import shortened
from profiler.drawing.model import (
    Drawing,
    Item,
    Layer,
    Line,
    Point,
    Stroke,
    Text,
    moved,
)
from profiler.instrument.record import Measurement
from profiler.plates.figures import in_mm, spoken
from profiler.plates.notes import (
    CENTRELINE,
    CUT,
    CUT_DOUBTFUL,
    DOUBT_OVERLAY,
    INSTRUMENT,
    MOST_DOUBTS,
    STATION,
    Block,
    Wishes,
    bars_block,
    cautions_block,
    doubts_block,
    numbers_block,
    remarks_block,
    title_block,
)
from profiler.plates.offset import (
    Run,
    as_points,
    doubtful_runs,
    offset_outline,
    outline_polygon,
)

Layers = dict[str, list[Item]]

MARGIN_MM = 12.0
STATION_STEP_MM = 50
LABEL_MM = 3.2
NOTE_MM = 3.4
#: a line across may differ from its number by this and its uncertainty, mm
LINE_MISFIT_MM = 2.0
#: between the columns of notes
GUTTER_MM = 10.0
#: narrower than this the notes have no room, mm
NARROWEST_MM = 560.0


def shape_drawing(measurement: Measurement, wishes: Wishes, whole_cut: bool) -> Drawing:
    """The outline with its lines and labels, and nothing else: what goes onto tiles.

    Args:
        measurement: of the instrument.
        wishes: clearance and names.
        whole_cut: keep the cut one closed line, as machines want it, and put what is in doubt in
            a layer of its own; otherwise the cut line itself is dashed there.

    Raises:
        RequestError: a clearance that makes no sense.
        OutlineError: an outline that cannot be cut.
    """
    layers = _shape_layers(measurement, wishes, whole_cut)
    x0, y0, x1, y1 = shapely.total_bounds([item_shape(i) for v in layers.values() for i in v])
    by = (MARGIN_MM - x0, MARGIN_MM - y0)
    return Drawing(
        f"{shortened(wishes.title, 1.0, 60.0)}, template",
        x1 - x0 + 2 * MARGIN_MM,
        y1 - y0 + 2 * MARGIN_MM,
        tuple(Layer(n, tuple(moved(i, by) for i in items)) for n, items in layers.items()),
    )


def template_drawing(measurement: Measurement, wishes: Wishes, whole_cut: bool) -> Drawing:
    """One big page: the outline above, notes in columns below; arguments and errors as above."""
    shape = shape_drawing(measurement, wishes, whole_cut)
    width = max(shape.width, NARROWEST_MM)
    columns: list[tuple[float, tuple[Block, ...]]] = [
        (0.24, (title_block(wishes, whole_cut),)),
        (0.30, (numbers_block(measurement), remarks_block(measurement))),
        (0.24, (cautions_block(), doubts_block(measurement))),
        (0.22, (bars_block(),)),
    ]
    room = width - 2 * MARGIN_MM - (len(columns) - 1) * GUTTER_MM
    notes: list[Item] = []
    x, lowest = MARGIN_MM, 0.0
    for share, blocks in columns:
        y = 0.0
        for block in blocks:
            items, y = block(x, y, share * room, NOTE_MM)
            notes += items
            y -= NOTE_MM
        x += share * room + GUTTER_MM
        lowest = min(lowest, y)
    below = MARGIN_MM - lowest
    lift = (width - shape.width) / 2, below
    layers = [
        Layer(layer.name, tuple(moved(i, lift) for i in layer.items)) for layer in shape.layers
    ]
    layers.append(Layer("notes", tuple(moved(i, (0.0, below)) for i in notes)))
    return Drawing(shape.title, width, shape.height + below, tuple(layers))


def _shape_layers(measurement: Measurement, wishes: Wishes, whole_cut: bool) -> Layers:
    """Items by layer, in the instrument's frame."""
    outline = measurement.outline
    ring = offset_outline(outline, wishes.clearance_mm)
    runs = doubtful_runs(ring, outline, measurement.doubtful)
    layers: Layers = {"cut": [], "instrument": [], "centreline": [], "station": [], "doubt": []}
    layers["text"] = []
    if whole_cut or not measurement.doubtful:
        layers["cut"].append(Line(ring, CUT, closed=True))
    for run in runs:
        if run.doubt is not None:
            name, stroke = ("doubt", DOUBT_OVERLAY) if whole_cut else ("cut", CUT_DOUBTFUL)
            layers[name].append(Line(run.points, stroke))
        elif measurement.doubtful and not whole_cut:
            layers["cut"].append(Line(run.points, CUT))
    layers["instrument"].append(Line(as_points(outline), INSTRUMENT, closed=True))
    cut = shapely.Polygon(ring)
    _centreline(layers, cut)
    _stations(layers, measurement, cut)
    _names(layers, measurement, wishes)
    _doubt_numbers(layers, runs)
    return {name: items for name, items in layers.items() if items}


def _centreline(layers: Layers, cut: shapely.Polygon) -> None:
    x0, _, x1, _ = cut.bounds
    layers["centreline"].append(Line(((x0 - 10, 0.0), (x1 + 10, 0.0)), CENTRELINE))
    layers["text"].append(Text(x0 - 11, 1.5, "tail", LABEL_MM, "end"))
    layers["text"].append(Text(x1 + 11, 1.5, "head", LABEL_MM))


def _stations(layers: Layers, measurement: Measurement, cut: shapely.Polygon) -> None:
    """A mark every 50 mm along the centreline, and a line across at each named width."""
    outline = outline_polygon(measurement.outline)
    x0, _, x1, _ = outline.bounds
    step = STATION_STEP_MM
    for mark in range(step * int(np.ceil(x0 / step)), int(np.floor(x1)) + 1, step):
        x = float(mark)
        layers["station"].append(Line(((x, -3.0), (x, 3.0)), STATION))
        for a, b in _crossings(cut, x):
            layers["station"] += [
                Line(((x, a), (x, min(a + 4.0, b))), STATION),
                Line(((x, max(b - 4.0, a)), (x, b)), STATION),
            ]
        layers["text"].append(Text(x + 0.8, 0.8, str(mark), 2.4))
    used: list[float] = []
    for name, quantity in sorted(measurement.widths.items(), key=lambda i: i[1].x or 0.0):
        if quantity.x is None or quantity.value is None:
            continue
        x = float(quantity.x)
        pieces = _crossings(outline, x)
        if not pieces:
            continue
        low, high = pieces[0][0], pieces[-1][1]
        if abs(high - low - quantity.value) > LINE_MISFIT_MM + (quantity.u95 or 0.0):
            # Something that the width leaves out, as tuners, stands beside: the line is as long
            # as the number says, about the centreline.
            low, high = -quantity.value / 2, quantity.value / 2
        # Labels of stations close together stand side by side.
        at = max([x, *(u + LABEL_MM * 1.5 for u in used[-1:])])
        used.append(at)
        above = _top_near(cut, at) + 4.0
        layers["station"].append(Line(((x, low), (x, high)), STATION))
        layers["station"].append(Line(((x, high), (x, above - 2), (at, above)), Stroke(0.06)))
        words = f"{spoken(name)} {in_mm(quantity)}, x {x:.1f}"
        layers["text"].append(
            Text(
                at + 0.36 * LABEL_MM, above + 1, shortened(words, LABEL_MM, 90), LABEL_MM, angle=90
            )
        )


def _crossings(polygon: shapely.Polygon, x: float) -> list[Point]:
    """Where the line across at x is inside: (lower y, upper y) of each piece, upwards."""
    _, y0, _, y1 = polygon.bounds
    across = polygon.intersection(shapely.LineString([(x, y0 - 1), (x, y1 + 1)]))
    pieces = [p.bounds for p in shapely.get_parts(across) if p.length > 0]
    return sorted((b[1], b[3]) for b in pieces)


def _top_near(polygon: shapely.Polygon, x: float) -> float:
    """The highest point of the shape within a label's breadth of x."""
    strip = polygon.intersection(shapely.box(x - 4, -1e4, x + 4, 1e4))
    return float(strip.bounds[3]) if not strip.is_empty else float(polygon.bounds[3])


def _doubt_numbers(layers: Layers, runs: list[Run]) -> None:
    """A number in a circle outside the cut near the middle of each doubtful run, off the words."""
    taken = [item_shape(item) for item in layers["text"]]
    for run in runs:
        if run.doubt is None or run.doubt >= MOST_DOUBTS or len(run.points) < 2:
            continue
        places = [_beside(run, share) for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9)]
        circles = [shapely.Point(p).buffer(3.2, quad_segs=12) for p in places]
        free = [i for i, c in enumerate(circles) if not any(c.distance(t) < 1.5 for t in taken)]
        choice = free[0] if free else 0
        x, y = places[choice]
        ring = as_points(np.asarray(circles[choice].exterior.coords)[:-1])
        layers["text"].append(Line(ring, Stroke(0.2), closed=True))
        layers["text"].append(
            Text(x, y - 0.36 * LABEL_MM, str(run.doubt + 1), LABEL_MM, "middle", bold=True)
        )
        taken.append(circles[choice])


def _beside(run: Run, share: float) -> Point:
    """7 mm outside the cut, `share` of the way along a run."""
    chain = shapely.LineString(run.points)
    here = chain.interpolate(share, normalized=True)
    ahead = chain.interpolate(min(1.0, share + 0.5 / max(chain.length, 1.0)), normalized=True)
    dx, dy = ahead.x - here.x, ahead.y - here.y
    norm = float(np.hypot(dx, dy)) or 1.0
    # The ring runs anticlockwise, so outside is to the right of it.
    return here.x + 7.0 * dy / norm, here.y - 7.0 * dx / norm


def _names(layers: Layers, measurement: Measurement, wishes: Wishes) -> None:
    """Inside the outline, so that the sheet stays known once it is cut out."""
    outline = outline_polygon(measurement.outline)
    x0, _, x1, _ = outline.bounds
    lines = [q.x for q in measurement.widths.values() if q.x is not None and x0 < q.x < x1]
    posts = sorted([x0 + 4.0, *map(float, lines), x1 - 4.0])
    # Between two lines across, in the widest place that is deep enough.
    gaps = [(b - a, a) for a, b in pairwise(posts)]
    deep = [(room, a) for room, a in gaps if _depth(outline, a, room) > 40.0]
    room, left = max(deep or gaps)
    x, room = left + 5.0, room - 10.0
    size = 6.0
    layers["text"].append(
        Text(x, -16.0, shortened(wishes.title, size, room, bold=True), size, bold=True)
    )
    y = -23.0
    for words in (
        f"for {wishes.customer.strip()}" if wishes.customer.strip() else "",
        f"cut line: outline + {wishes.clearance_mm:g} mm",
        "soundboard up" + ("; dashed: in doubt" if measurement.doubtful else ""),
    ):
        if words:
            layers["text"].append(Text(x, y, shortened(words, LABEL_MM, room), LABEL_MM))
            y -= LABEL_MM * 1.4


def _depth(outline: shapely.Polygon, left: float, room: float) -> float:
    """How far the outline reaches below the centreline all along a stretch, mm."""
    depths = []
    for x in np.linspace(left + 0.15 * room, left + 0.85 * room, 5):
        pieces = _crossings(outline, float(x))
        depths.append(-pieces[0][0] if pieces else 0.0)
    return min(depths)
