"""Plan, long section and cross-section, with dimensions."""

from __future__ import annotations

import numpy as np
import shapely

from profiler.casework.pieces import Box, Piece
from profiler.casework.plan import CasePlan
from profiler.drawing.model import Point
from profiler.plates.case.pencil import CHAIN, DASHED, FINE, HEAVY, PLAIN, SMALL_MM, Pencil, View

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


def long_section(plan: CasePlan) -> View:
    """Cut along the middle, seen from the front, closed; dashed is what stands behind."""

    def draw(p: Pencil) -> None:
        along, t = plan.inside.along.mm, plan.wishes.boards.mm
        h = _Levels(plan)
        for x0 in (-t, along):
            p.box("wood", x0, h.low, x0 + t, h.line, PLAIN, END_GRAIN)
            p.box("wood", x0, h.line, x0 + t, h.top, PLAIN, END_GRAIN)
        _panels(p, plan, h, 0.0, along)
        room = plan.wishes.room
        x0 = plan.at[0]
        body = plan.body
        floor = h.floor
        p.box("foam", x0, floor, x0 + body.length, floor + room.foam, FINE, FOAM)
        p.box(
            "instrument",
            x0,
            floor + room.foam,
            x0 + body.length,
            floor + room.foam + body.height,
            PLAIN,
            dash=DASHED,
        )
        p.text(
            (x0 + p.paper(3), (floor + room.foam + h.line) / 2),
            f"instrument, thickest place {p.show(body.height)}, on {p.show(room.foam)} of foam",
        )
        for room_ in plan.rooms[:1]:
            hw = plan.wall_height
            if hw is None:
                continue
            wall = plan.wishes.walls.mm
            walls = [room_.x0 - wall] + ([] if room_.to_end else [room_.x1])
            for x in walls:
                p.box("hidden", x, floor, x + wall, floor + hw.mm, FINE, dash=DASHED)
            top = floor + hw.mm
            p.line("hidden", ((room_.x0, top), (room_.x1, top)), FINE, DASHED)
            p.text(
                ((room_.x0 + room_.x1) / 2, floor + hw.mm / 2),
                f"wall {p.show(hw.mm)} high",
                SMALL_MM,
                "middle",
            )
        p.line(
            "saw",
            ((-t - p.paper(2), h.line), (along + t + p.paper(2), h.line)),
            HEAVY,
            DASHED,
            colour=SAW,
        )
        p.across(-t, along + t, h.low, -8, f"outside {p.show(along + 2 * t)}")
        p.across(0, along, h.top, 6, f"inside {p.show(along)}")
        _heights(p, plan, h, along + t)
        p.up(h.floor, h.ceiling, -t, -6, f"inside {p.show(h.ceiling - h.floor)}")

    return draw


def cross_section(plan: CasePlan) -> View:
    """Cut across, seen from the tail: back at the left."""

    def draw(p: Pencil) -> None:
        across, t = plan.inside.across.mm, plan.wishes.boards.mm
        h = _Levels(plan)
        for y0 in (-t, across):
            p.box("wood", y0, h.low, y0 + t, h.line, PLAIN, END_GRAIN)
            p.box("wood", y0, h.line, y0 + t, h.top, PLAIN, END_GRAIN)
        _panels(p, plan, h, 0.0, across)
        room, body = plan.wishes.room, plan.body
        y0 = across / 2 - body.width / 2
        floor = h.floor
        p.box("foam", y0, floor, y0 + body.width, floor + room.foam, FINE, FOAM)
        p.box(
            "instrument",
            y0,
            floor + room.foam,
            y0 + body.width,
            floor + room.foam + body.height,
            PLAIN,
            dash=DASHED,
        )
        hw = plan.wall_height
        wall = plan.wishes.walls.mm
        for one in plan.rooms:
            if hw is None:
                continue
            # seen from the tail, looking to the head, the instrument's left is on the left
            at = one.width if one.side == "back" else across - one.width - wall
            p.box("hidden", at, floor, at + wall, floor + hw.mm, FINE, dash=DASHED)
        if plan.rooms and hw is not None:
            one = plan.rooms[-1]
            at = one.width if one.side == "back" else across - one.width
            p.text(
                (at / 2 if one.side == "back" else (across + at) / 2, floor + hw.mm / 2),
                f"wall {p.show(hw.mm)} high",
                2.1,
                "middle",
            )
        p.line(
            "saw",
            ((-t - p.paper(2), h.line), (across + t + p.paper(2), h.line)),
            HEAVY,
            DASHED,
            colour=SAW,
        )
        p.text((-t, h.top + h.proud + p.paper(2)), "back B", bold=True)
        p.text((across + t, h.top + h.proud + p.paper(2)), "front A", anchor="end", bold=True)
        p.across(-t, across + t, h.low, -14, f"outside {p.show(across + 2 * t)}")
        p.across(0, across, h.low, -8, f"inside {p.show(across)}")
        _heights(p, plan, h, across + t)
        p.up(h.floor, h.ceiling, -t, -6, f"inside {p.show(h.ceiling - h.floor)}")

    return draw


class _Levels:
    """Heights of the closed case above the boards' lower edge, mm."""

    def __init__(self, plan: CasePlan) -> None:
        kerf, d = plan.fingers.kerf, plan.rabbet.depth.mm
        self.low = 0.0
        self.floor = d
        self.line = plan.fingers.line.mm
        self.top = plan.fingers.board_width.mm - kerf
        self.ceiling = self.top - d
        self.proud = plan.rabbet.proud


def _panels(p: Pencil, plan: CasePlan, h: _Levels, inner0: float, inner1: float) -> None:
    ledge = plan.rabbet.width.mm
    p.box("wood", inner0 - ledge, -h.proud, inner1 + ledge, h.floor, PLAIN, PANEL)
    p.box("wood", inner0 - ledge, h.ceiling, inner1 + ledge, h.top + h.proud, PLAIN, PANEL)


def _heights(p: Pencil, plan: CasePlan, h: _Levels, x: float) -> None:
    low, top = -h.proud, h.top + h.proud
    p.up(low, h.line, x, 8, f"base {p.show(plan.heights.base.mm)}")
    p.up(h.line, top, x, 8, f"lid {p.show(plan.heights.lid.mm)}")
    p.up(low, top, x, 21, f"closed {p.show(plan.heights.outside.mm)}")
