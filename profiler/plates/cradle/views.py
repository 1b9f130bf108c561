"""The fit check as pictures: each board cut through with the instrument in it; all from above."""

from __future__ import annotations

import numpy as np
import shapely

from profiler.casework.cradle.check import Checked
from profiler.casework.cradle.pieces import CradlePiece
from profiler.drawing.model import Anchor, Area, Point
from profiler.geometry.offset import grown, parts_of
from profiler.plates.case.pencil import CHAIN, DASHED, FINE, HEAVY, PLAIN, SMALL_MM, Pencil, View
from profiler.plates.case.views import WOOD
from profiler.plates.cradle.outlines import at_rest, seen

FELT, BODY, RED, BLUE = "#b9c7a8", "#c9d8ea", "#c03030", "#205090"
#: words of neighbouring stations stay this far apart, on paper
APART_MM = 3.4


def _points(ring: shapely.LinearRing) -> list[Point]:
    return [(float(x), float(y)) for x, y in np.asarray(ring.coords)[:-1]]


def _fill(p: Pencil, layer: str, shape: shapely.Polygon, colour: str, width: float) -> None:
    for part in parts_of(shape):
        rings = [_points(r) for r in (part.exterior, *part.interiors)]
        p.add("fill-" + layer, Area(tuple(tuple(r) for r in rings), colour))
        for ring in rings:
            p.line(layer, ring, width, closed=True)


def section_view(checked: Checked, piece: CradlePiece) -> View:
    """A board at its middle, seen from the tail, the instrument at rest."""
    plan = checked.plan

    def draw(p: Pencil) -> None:
        wood = seen(piece)
        y0, _, y1, top = wood.bounds
        p.line("floor", ((y0 - p.paper(4), 0.0), (y1 + p.paper(4), 0.0)), HEAVY)
        lining = piece.slot.lining if piece.slot is not None else piece.contact.lining
        around = shapely.box(y0, 0.0, y1, top)
        felt = grown(wood, lining.thickness).difference(wood).intersection(around)
        if lining.thickness:
            _fill(p, "lining", felt, FELT, FINE)
        _fill(p, "wood", wood, WOOD, PLAIN)
        shape = at_rest(plan.solid, piece, plan.lift.mm)
        mirrored = shapely.transform(shape, lambda q: q * np.array([-1.0, 1.0]))
        for part in parts_of(mirrored):
            p.add("fill-instrument", Area((tuple(_points(part.exterior)),), BODY))
            p.line("instrument", _points(part.exterior), PLAIN, closed=True, colour=BLUE)
        for words, y, anchor in (("left", y0, "start"), ("right", y1, "end")):
            inset = p.paper(1.5) if anchor == "start" else -p.paper(1.5)
            p.text((y + inset, top - p.paper(3.4)), words, SMALL_MM, anchor)  # type: ignore[arg-type]
        high = max(top, float(mirrored.bounds[3]) if not mirrored.is_empty else top)
        p.line("centreline", ((0.0, -p.paper(2)), (0.0, high + p.paper(3))), FINE, CHAIN)
        _gap_notes(p, checked, piece, (y0, y1, top, high))
        if any(s.name.endswith("notch above the floor") for s in piece.sizes):
            notch = piece.size("notch above the floor")
            p.up(0.0, piece.under, y1, 5, p.show(notch.mm))
        p.across(y0, y1, 0.0, -5, p.show(y1 - y0))
        x = piece.sizes[0].mm
        words = f"{piece.name}, {p.show(abs(x))} {'from' if x >= 0 else 'behind'} the tail"
        p.text((y0, -p.paper(11.5)), words, 2.7, bold=True)

    return draw


def _gap_notes(
    p: Pencil, checked: Checked, piece: CradlePiece, box: tuple[float, float, float, float]
) -> None:
    """The tightest place, and the least gap below and on either side."""
    fit = checked.fit_of(piece)
    if fit is None:
        return
    y0, y1, _, high = box
    _, y, z = fit.tightest.at
    words = f"tightest: gap {p.show(fit.tightest.gap)}"
    # above the other gaps, so that both fit over a narrow board
    at = (y0 * 0.55, high + p.paper(7.5))
    p.line("text", (at, (-y, z)), FINE, colour=RED)
    p.dot((-y, z), 1.0)
    p.text((at[0], at[1] + p.paper(0.8)), words, SMALL_MM, "middle", colour=RED)
    rest = [
        f"{name} {p.show(mm)}"
        for name, mm in (
            ("below", fit.below),
            ("left", fit.left),
            ("right", fit.right),
            ("behind", fit.behind),
        )
        if mm is not None
    ]
    p.text((y1, high + p.paper(4.3)), "least gaps: " + ", ".join(rest), SMALL_MM, "end")


def plan_view(checked: Checked) -> View:
    """All pieces from above, tail at the left, with their stations."""
    plan = checked.plan

    def draw(p: Pencil) -> None:
        berth = plan.berth
        p.box("case", berth.tail, berth.right, berth.head, berth.left, HEAVY)
        for lane in berth.lanes:
            for y in (lane.right, lane.left):
                p.line("case", ((lane.x0, y), (lane.x1, y)), FINE, DASHED)
        for piece in plan.pieces:
            if piece.upright:
                x0, x1 = piece.span
                y0, _, y1, _ = piece.shape.bounds
                _fill(p, "wood", shapely.box(x0, y0, x1, y1), WOOD, PLAIN)
            else:
                _fill(p, "wood", piece.shape, WOOD, PLAIN)
        p.line("instrument", _points(plan.solid.plan.exterior), PLAIN, closed=True, colour=BLUE)
        line = ((berth.tail - p.paper(3), 0.0), (berth.head + p.paper(3), 0.0))
        p.line("centreline", line, FINE, CHAIN)
        _stations(p, checked)
        _tight_places(p, checked)
        p.across(berth.tail, berth.head, berth.left, 6, f"inside {p.show(berth.head - berth.tail)}")
        p.up(berth.right, berth.left, berth.head, 7, f"inside {p.show(berth.left - berth.right)}")

    return draw


def _stations(p: Pencil, checked: Checked) -> None:
    """Distances of each board's tail face from the end board's inside."""
    berth = checked.plan.berth
    level = berth.right - p.paper(3)
    last = -1e9
    for piece in sorted(checked.plan.pieces, key=lambda q: q.sizes[1].mm):
        if not piece.upright and not piece.name.endswith("right"):
            continue
        x = piece.span[0] if piece.upright else float(piece.shape.bounds[0])
        at = max(x, last + p.paper(APART_MM))
        last = at
        ends = ((x, level + p.paper(1.5)), (x, level), (at, level - p.paper(3)))
        p.line("station", ends, FINE)
        name = piece.name.removesuffix(" right") if not piece.upright else piece.name
        words = f"{name} {p.show(piece.sizes[1].mm)}"
        p.text((at + p.paper(0.8), level - p.paper(3.6)), words, 2.1, "end", 90.0)
    p.text(
        (berth.tail, level - p.paper(1.2)), "tail faces, from the end board's inside:", 2.1, "end"
    )


def _tight_places(p: Pencil, checked: Checked) -> None:
    for fit in checked.fit.pieces:
        x, y, _ = fit.tightest.at
        p.dot((x, y), 1.0)
        if not fit.piece.upright:
            # into the instrument, where there is room for words
            i = int(np.argmin(fit.gaps - fit.linings))
            way = fit.towards[i, :2] / max(float(np.hypot(*fit.towards[i, :2])), 1e-9)
            at = (x + p.paper(6.0) * float(way[0]), y + p.paper(6.0) * float(way[1]))
            p.line("text", ((x, y), at), FINE, colour=RED)
            words = f"gap {p.show(fit.tightest.gap)}"
            anchor: Anchor = "start" if way[0] > 0.3 else "middle"
            shift = p.paper(0.8) if y < 0 else -p.paper(2.4)
            p.text((at[0], at[1] + shift), words, SMALL_MM, anchor, colour=RED)
