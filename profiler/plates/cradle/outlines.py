"""A cradle piece at full size, by layers, and nothing else: what machines and tiles get.

Sheet frame of a board that stands across: mm, as seen from the tail, the instrument's left at the
left, the floor below. Of a block that lies flat: as seen from above, the tail at the left.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.cradle.plan import CradlePlan
from profiler.casework.trace import Show
from profiler.drawing.extent import text_box
from profiler.drawing.lettering import shortened, width_of
from profiler.drawing.marks import cross
from profiler.drawing.model import Item, Line, Point, Stroke, Text
from profiler.geometry.offset import grown, parts_of
from profiler.instrument.solid import Shape, Solid
from profiler.plates.notes import CENTRELINE, CUT, INSTRUMENT, STATION
from profiler.plates.offset import as_points

Layers = dict[str, list[Item]]

TRACE = Stroke(0.15, "#2050a0", (2.0, 1.0))
TOOL = Stroke(0.15, "#a02020", (5.0, 1.0))
#: registration crosses: the same height above the floor and the same distances from the centreline
#: on all boards of a cradle, mm
CROSS_UP_MM, CROSS_STEP_MM, CROSS_ARM_MM = 7.0, 10.0, 3.0
#: lettering on the wood
NAME_MM, SMALL_MM = 3.4, 2.4
#: lettering of what a line is
TINY_MM = 1.8
ALONG_STEP_MM, INCH_MM = 10.0, 25.4
#: lettering keeps so far from the line that is cut, mm; a button is cut at so many places
EDGE_MM, BUTTON_CUTS = 1.0, 13


@dataclass(frozen=True)
class Lines:
    """Lines beside the cut that were asked for.

    Attributes:
        trace: how far inside the cut a line runs that a pencil or a bit follows round a template;
            0 for none.
        tool: how far outside the cut a tool's middle runs: half its kerf or its radius; 0 for
            none.
    """

    trace: float = 0.0
    tool: float = 0.0


def seen(piece: CradlePiece) -> shapely.Polygon:
    """The piece's shape in the sheet frame."""
    if not piece.upright:
        return piece.shape
    return shapely.transform(piece.shape, lambda p: p * np.array([-1.0, 1.0]))


def in_inches(show: Show) -> bool:
    """Whether lengths are written in inches."""
    return show(INCH_MM).endswith('"')


def registers(plan: CradlePlan) -> float:
    """How far from the centreline the crosses stand on every board, mm."""
    reach = [
        min(-p.shape.bounds[0], p.shape.bounds[2]) - CROSS_ARM_MM - 3.0
        for p in plan.pieces
        if p.upright
    ]
    if not reach:
        return 0.0
    return max(CROSS_STEP_MM * int(min(reach) / CROSS_STEP_MM), 0.0)


def piece_layers(
    plan: CradlePlan, piece: CradlePiece, whose: str, show: Show, lines: Lines
) -> Layers:
    """Items by layer, sheet frame.

    Args:
        plan: the cradle that the piece belongs to.
        piece: one of its pieces.
        whose: instrument and customer, on the wood.
        show: how lengths are written.
        lines: beside the cut.
    """
    shape = seen(piece)
    layers: Layers = {"cut": [Line(_ring(shape), CUT, closed=True)]}
    for name, by, stroke in (("trace", -lines.trace, TRACE), ("tool", lines.tool, TOOL)):
        if by:
            for part in parts_of(grown(shape, by)):
                layers.setdefault(name, []).append(Line(_ring(part), stroke, closed=True))
    layers["centreline"] = []
    layers["station"] = []
    layers["text"] = []
    if piece.upright:
        _instrument(layers, plan, piece)
        _board_marks(layers, plan, piece, shape, show, lines.trace)
    else:
        _block_marks(layers, piece, shape, show, lines.trace)
    _on_the_wood(layers, piece, shape, whose, lines.trace)
    return {name: items for name, items in layers.items() if items}


def _ring(shape: shapely.Polygon) -> tuple[Point, ...]:
    ring = shapely.Polygon(shape.exterior).normalize().exterior
    points = np.asarray(ring.coords)[:-1]
    return as_points(points[::-1] if not ring.is_ccw else points)


def at_rest(solid: Solid, piece: CradlePiece, lift: float) -> Shape:
    """y, z of what the piece's notch takes: cut at its middle, a strap button where it is widest
    within the piece."""
    shape = solid.slice_at(piece.middle, lift)
    if piece.slot is None:
        return shape
    button = solid.named("button")
    seen = [button.slice_at(float(x), lift) for x in np.linspace(*piece.span, BUTTON_CUTS)]
    return shapely.union_all([shape, *seen])


def _instrument(layers: Layers, plan: CradlePlan, piece: CradlePiece) -> None:
    """The instrument's own section at rest, thin, and what it is."""
    what = {"neck": "neck at rest", "headstock": "headstock at rest", "tail": "button at rest"}
    names = {"neck": ("neck",), "headstock": ("headstock", "tuners"), "tail": ("button",)}
    solid = plan.solid.named(*names[piece.key])
    for part in parts_of(at_rest(solid, piece, plan.lift.mm)):
        mirrored = shapely.transform(part, lambda p: p * np.array([-1.0, 1.0]))
        layers.setdefault("instrument", []).append(Line(_ring(mirrored), INSTRUMENT, closed=True))
        a, low, b, high = mirrored.bounds
        words, middle = what[piece.key], (a + b) / 2
        em = min(TINY_MM, TINY_MM * ((b - a) / 2 - 2.5) / width_of(words, TINY_MM))
        if em > 1.2 and high - low > 4.0:
            # left of the centreline's dashes
            layers.setdefault("text", []).append(
                Text(middle - 1.0, low + 0.62 * (high - low), words, em, "end")
            )


def _board_marks(
    layers: Layers,
    plan: CradlePlan,
    piece: CradlePiece,
    shape: shapely.Polygon,
    show: Show,
    trace: float,
) -> None:
    x0, y0, x1, y1 = shape.bounds
    layers["centreline"].append(Line(((0.0, y0 - 4.0), (0.0, y1 + 4.0)), CENTRELINE))
    side = registers(plan)
    for x in (-side, side) if side else ():
        layers["station"] += cross((x, CROSS_UP_MM), CROSS_ARM_MM)
        words = f"{show(side)} from centreline"
        half = width_of(words, TINY_MM) / 2 + EDGE_MM
        middle = min(max(x, x0 + half), x1 - half)  # not over the line that is cut
        layers["text"].append(Text(middle, 1.2, words, TINY_MM, "middle"))
    if x1 > 40.0:
        floor = "in the floor" if y0 < -1e-6 else "this edge on the floor"
        layers["text"].append(Text(6.0, y0 + 0.9, floor, TINY_MM))
    if y0 < -1e-6:  # what goes into the floor
        layers["station"].append(Line(((x0, 0.0), (x1, 0.0)), STATION))
        layers["text"].append(Text(x0 + 2, 0.6, "floor", SMALL_MM))
    if any(s.name.endswith("notch above the floor") for s in piece.sizes):
        notch = piece.size("notch above the floor")
        z = piece.under
        layers["station"] += [
            Line(((-5.0, z), (5.0, z)), STATION),
            Line(((2.0, 0.0), (2.0, z)), STATION),
        ]
        words = f"{show(notch.mm)} above the floor"
        # below the line for tracing, which follows the notch
        low = z - SMALL_MM - 1.0
        layers["text"].append(Text(3.0, low - trace if low - trace > 9.0 else low, words, SMALL_MM))
    for words, x, anchor in (("left", x0 + 1.5, "start"), ("right", x1 - 1.5, "end")):
        layers["text"].append(Text(x, y1 - SMALL_MM - 0.8, words, SMALL_MM, anchor))  # type: ignore[arg-type]


def _block_marks(
    layers: Layers, piece: CradlePiece, shape: shapely.Polygon, show: Show, trace: float
) -> None:
    """Distances from the instrument's tail along the edge at the board, and of the centreline."""
    x0, y0, x1, y1 = shape.bounds
    left = y0 > 0  # the instrument's left: its board is the upper edge
    edge, way = (y1, -1.0) if left else (y0, 1.0)
    inches = in_inches(show)
    step, every, unit = (INCH_MM / 2, 4, INCH_MM) if inches else (ALONG_STEP_MM, 5, 1.0)
    for mark in range(int(np.ceil(x0 / step)), int(np.floor(x1 / step)) + 1):
        x = mark * step
        long = 3.0 if mark % every == 0 else 1.8
        layers["station"].append(Line(((x, edge), (x, edge + way * long)), STATION))
        if mark % every == 0 and x0 + 4 < x < x1 - 4:
            at = edge + way * (long + 0.6) - (SMALL_MM * 0.73 if left else 0.0)
            layers["text"].append(Text(x, at, f"{x / unit:.0f}", 2.0, "middle"))
    inner = y0 if left else y1
    board = "left" if left else "right"
    told = (
        f"this edge at the {board} side board, tail end at the left;",
        f"numbers count {'inches' if inches else 'mm'} from the tail",
    )
    rows = []
    for row, words in enumerate(told if left else told[::-1]):
        at = (
            edge
            + way * (_clear_of(trace, 8.4, 2 * 2.2) + 2.2 * row)
            + (0.0 if left else -TINY_MM * 0.73)
        )
        rows.append(Text(x0 + _clear_of(trace), at, words, TINY_MM))
    layers["text"] += _where_there_is_wood(rows, shape)
    words = f"centreline {show(abs(inner))} from this edge"
    at = inner - SMALL_MM - 1.0 if left else inner + 1.0
    layers["text"].append(Text(x0, at, words, 2.0))


def _where_there_is_wood(rows: list[Text], shape: shapely.Polygon) -> list[Text]:
    """Lines of words moved along to the first place where they keep off the line that is cut; as
    they are where there is none."""
    inside = shape.buffer(-EDGE_MM)
    for by in np.arange(0.0, shape.bounds[2] - shape.bounds[0], 1.0):
        placed = [replace(t, x=t.x + float(by)) for t in rows]
        if all(inside.contains(text_box(t)) for t in placed):
            return placed
    return rows


def _clear_of(trace: float, wanted: float = 1.5, long: float = 20.0) -> float:
    """How far inside an edge words begin, mm: not across a line that runs `trace` inside it."""
    ends = wanted + long
    return trace + 1.5 if wanted - 1.0 < trace < ends else wanted


def _on_the_wood(
    layers: Layers, piece: CradlePiece, shape: shapely.Polygon, whose: str, trace: float
) -> None:
    """Name, owner and grain on the wood itself, so that it stays known once it is cut out."""
    face = "this face to the tail" if piece.upright else "this face up"
    # a block is narrow: its name goes on two lines
    parts = [piece.name] if piece.upright else piece.name.replace(", ", ",\n").split("\n")
    lines = [(words, NAME_MM, True) for words in parts]
    lines += [(whose, SMALL_MM, False), (face, SMALL_MM, False)]
    within = _within(piece, shape, trace)
    if piece.upright and within is None:
        x0, _, _, y1 = shape.bounds
        top = min(min(max(piece.under, 12.0), y1) - 1.5, 22.0)
        size = min(1.0, top / 14.0)
        # where the wood is low the words stand beside the cross, else above it
        x = x0 + 3.0 if top > 19.0 else x0 + 3.0 * CROSS_ARM_MM + CROSS_STEP_MM
        y, room = top, -x - 5.0
    else:
        box = within or _inner_box(_without_ruler(shape))
        x, y, room = box[0] + 1.5, box[3] - 1.5, box[2] - box[0] - 3.0
        widest = max(width_of(words, NAME_MM, bold=True) for words in parts)
        tall = box[3] - box[1] - (2.0 if piece.upright else 7.0)
        size = max(0.45, min(1.0, tall / (10.0 + 4.6 * (len(parts) - 1)), 0.97 * room / widest))
    for words, em, bold in lines:
        em *= size
        y -= em
        if words:
            layers["text"].append(Text(x, y, shortened(words, em, room, bold), em, bold=bold))
        y -= 0.35 * em
    _grain(layers, piece, shape, x, y - 1.2, min(room, 26.0), trace)


def _within(
    piece: CradlePiece, shape: shapely.Polygon, trace: float
) -> tuple[float, float, float, float] | None:
    """Room for words inside the line for tracing; None without such a line, or without room."""
    if not trace:
        return None
    inside = grown(shape, -trace).intersection(shape if piece.upright else _without_ruler(shape))
    least = (22.0, 9.0) if piece.upright else (14.0, 11.0)
    if piece.upright:  # left of the centreline, above the crosses
        x0, _, _, y1 = shape.bounds
        above = CROSS_UP_MM + CROSS_ARM_MM
        inside = inside.intersection(shapely.box(x0, above, -4.0, y1))
    rest = parts_of(inside)
    if not rest:
        return None
    box = _inner_box(max(rest, key=lambda p: p.area))
    # words in such a corner would be too small to be read
    return box if box[2] - box[0] > least[0] and box[3] - box[1] > least[1] else None


def _grain(
    layers: Layers,
    piece: CradlePiece,
    shape: shapely.Polygon,
    x: float,
    y: float,
    length: float,
    trace: float,
) -> None:
    """An arrow along the grain."""
    if piece.upright:  # at the right, level with the names
        x1 = float(shape.bounds[2])
        y = max(4.0, min(piece.under, 22.0) - 6.0)
        if y < CROSS_UP_MM + CROSS_ARM_MM + 1.5:  # beside the cross, not across it
            x1 -= 3.0 * CROSS_ARM_MM + CROSS_STEP_MM - 3.0
        x = x1 - length - max(3.0, trace + 1.5) - width_of("grain", SMALL_MM)
    a, b = (x, y), (x + length, y)
    layers["text"] += [
        Line((a, b), Stroke(0.25)),
        Line(((b[0] - 2.2, y + 0.9), b, (b[0] - 2.2, y - 0.9)), Stroke(0.25)),
        Line(((a[0] + 2.2, y + 0.9), a, (a[0] + 2.2, y - 0.9)), Stroke(0.25)),
    ]
    if piece.upright:
        layers["text"].append(Text(b[0] + 1.0, y - 0.8, "grain", SMALL_MM))
    else:
        layers["text"].append(Text(a[0], y - SMALL_MM - 0.6, "grain", SMALL_MM))


def _without_ruler(shape: shapely.Polygon) -> shapely.Polygon:
    """A block without the strip that its marks from the tail take."""
    x0, y0, x1, y1 = shape.bounds
    strip = shapely.box(x0, y1 - 12.0, x1, y1) if y0 > 0 else shapely.box(x0, y0, x1, y0 + 12.0)
    rest = parts_of(shape.difference(strip))
    return rest[0] if rest else shape


def _inner_box(shape: shapely.Polygon) -> tuple[float, float, float, float]:
    """A roomy upright rectangle inside a block, grown from its widest spot."""
    spot = shapely.maximum_inscribed_circle(shape, tolerance=0.5)
    x, y = spot.coords[0]
    r = float(spot.length) / np.sqrt(2)
    box = [x - r, y - r, x + r, y + r]
    for _ in range(80):
        moved = False
        for side in (0, 2, 1, 3):
            longer = list(box)
            longer[side] += -1.0 if side < 2 else 1.0
            if shape.contains(shapely.box(*longer)):
                box, moved = longer, True
        if not moved:
            break
    return box[0], box[1], box[2], box[3]
