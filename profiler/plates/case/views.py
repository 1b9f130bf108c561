"""The plan: from above, lid off, with dimensions."""

from __future__ import annotations

import numpy as np
import shapely

from profiler.casework.pieces import Box, Piece
from profiler.casework.plan import CasePlan
from profiler.drawing.model import FILL, Area, Point
from profiler.plates.case.pencil import CHAIN, DASHED, FINE, HEAVY, PLAIN, Pencil, View

WOOD, END_GRAIN, PANEL, FOAM = "#f1e4cb", "#dcc7a0", "#e7d6b4", "#e4e4e4"
SAW = "#c03030"


def plan_view(plan: CasePlan) -> View:
    """From above, lid off: tail at the left, back board with the hinges on top."""

    def draw(p: Pencil) -> None:
        along, across, t = plan.inside.along.mm, plan.inside.across.mm, plan.wishes.boards.mm
        p.box("wood", -t, -t, along + t, across + t, HEAVY, WOOD)
        p.box("wood", 0, 0, along, across, PLAIN, "#ffffff")
        w = plan.rabbet.width.mm
        p.box("hidden", -w, -w, along + w, across + w, FINE, dash=DASHED)
        _grooves(p, plan)
        for piece, box in _placed(plan):
            if piece.use == "boards" and piece.name != "cleat":
                continue
            if piece.profile:
                _cradle(p, piece, box)
                continue
            if piece.name.startswith(("cross wall", "wall beside", "cleat")):
                fill = END_GRAIN if piece.name != "cleat" else WOOD
                p.box("wood", box[0], box[1], box[3], box[4], PLAIN, fill)
            elif piece.name == "cover":
                p.box("hidden", box[0], box[1], box[3], box[4], FINE, dash=DASHED)
        _instrument(p, plan)
        p.line(
            "centreline",
            ((-t - p.paper(3), across / 2), (along + t + p.paper(3), across / 2)),
            FINE,
            CHAIN,
        )
        _ends(p, along, across, t)
        p.across(0, along, -t, -9, f"inside {p.show(along)}")
        p.across(-t, along + t, -t, -15, f"outside {p.show(along + 2 * t)}")
        p.up(0, across, along + t, 11, f"inside {p.show(across)}")
        p.up(-t, across + t, along + t, 17, f"outside {p.show(across + 2 * t)}")
        _rooms(p, plan)
        _stations(p, plan)
        _hardware(p, plan)

    return draw


def _cradle(p: Pencil, piece: Piece, box: Box) -> None:
    """A cradle piece from above."""
    place = piece.places[-1]
    if place.axes[2][1] == "x":
        p.box("wood", box[0], box[1], box[3], box[4], PLAIN, END_GRAIN)
        return
    ring = tuple(place.to_case((u, v, 0.0))[:2] for u, v in piece.profile)
    p.add(FILL, Area((ring,), WOOD))
    p.line("wood", ring, PLAIN, closed=True)


def _hardware(p: Pencil, plan: CasePlan) -> None:
    """Latches, hinges and handle at the outside; feet below, dashed."""
    across, t = plan.inside.across.mm, plan.wishes.boards.mm
    w = plan.wishes.hardware
    for f in plan.fittings.items:
        x = f.u.mm - t
        if f.board == "floor":
            ring = shapely.Point(x, f.v - t).buffer(8.0, quad_segs=8)
            p.line("hidden", _ring(ring), FINE, DASHED, closed=True)
            continue
        y, way = (-t, -1) if f.board == "front" else (across + t, 1)
        half = (w.handle if f.kind == "handle" else w.width) / 2
        p.box("hardware", x - half, y, x + half, y + way * p.paper(1.2), PLAIN, "#b0b0b0")


def _grooves(p: Pencil, plan: CasePlan) -> None:
    t, across, along = plan.wishes.boards.mm, plan.inside.across.mm, plan.inside.along.mm
    for g in plan.grooves:
        a, b = g.u - t, g.u + g.width - t
        if g.board == "front":
            p.box("groove", a, -g.depth, b, 0, FINE, "#ffffff")
        elif g.board == "back":
            p.box("groove", a, across, b, across + g.depth, FINE, "#ffffff")
        elif g.board == "head":
            p.box("groove", along, a, along + g.depth, b, FINE, "#ffffff")


def _placed(plan: CasePlan) -> list[tuple[Piece, Box]]:
    return [(x, q.box_to_case(x.box)) for x in plan.pieces for q in x.places]


def _ring(shape: shapely.Polygon) -> list[Point]:
    thin = shape.simplify(0.05)
    return [(float(x), float(y)) for x, y in np.asarray(thin.exterior.coords)[:-1]]


def _instrument(p: Pencil, plan: CasePlan) -> None:
    shape = plan.outline
    p.line("instrument", _ring(shape), PLAIN, closed=True, colour="#205090")
    room = plan.wishes.room
    around = shape.buffer(room.side + room.lining)
    p.line("clearance", _ring(around), FINE, DASHED, closed=True, colour="#205090")


def _ends(p: Pencil, along: float, across: float, t: float) -> None:
    x = -t - p.paper(2.5)
    p.text((x, across / 2 + p.paper(1.5)), "tail C", anchor="middle", angle=90.0, bold=True)
    p.text(
        (along + t + p.paper(3.8), across / 2 + p.paper(1.5)),
        "head D",
        anchor="middle",
        angle=90.0,
        bold=True,
    )
    p.text((p.paper(2), -t - p.paper(4.2)), "front A (latches, handle)", bold=True)
    p.text((p.paper(2), across + t + p.paper(2.0)), "back B (hinges)", bold=True)


def _rooms(p: Pencil, plan: CasePlan) -> None:
    across = plan.inside.across.mm
    for room in plan.rooms:
        back = room.side == "back"
        y0, y1 = (across - room.width, across) if back else (0.0, room.width)
        length, width = room.useful
        x, y = (room.x0 + room.x1) / 2, (y0 + y1) / 2
        words = f"{p.show(length)} × {p.show(width)}"
        p.text((x, y + p.paper(0.4)), words, anchor="middle", bold=True)
        if room.lining:
            p.text((x, y - p.paper(2.8)), "between linings", 2.1, "middle")
        if back:
            t = plan.wishes.boards.mm
            p.across(room.x0, room.x1, across + t, 7)
            if not room.to_end:
                p.across(room.x1, plan.inside.along.mm, across + t, 7)
            else:
                continue


def _stations(p: Pencil, plan: CasePlan) -> None:
    """Short marks on the centreline, named below the plan; distances from the tail's inside."""
    across, t = plan.inside.across.mm, plan.wishes.boards.mm
    level = -t - p.paper(20)
    names: list[tuple[float, float, str]] = []
    for s in plan.stations:
        x = s.x.mm
        p.line("station", ((x, across / 2 - p.paper(2)), (x, across / 2 + p.paper(2))), PLAIN)
        at = max(x, names[-1][1] + p.paper(3.4)) if names else x
        names.append((x, at, f"{s.name} {p.show(x)}"))
    for x, at, words in names:
        p.line("station", ((x, level), (x, level - p.paper(1.5)), (at, level - p.paper(4))), FINE)
        p.text((at + p.paper(0.8), level - p.paper(4.6)), words, 2.1, "end", 90.0)
    if names:
        p.line("station", ((0.0, level), (names[-1][0], level)), FINE)
        words = "from the tail board's inside"
        p.text((p.paper(1), level + p.paper(0.7)), words, 2.1)
