"""Long section and cross-section of the closed case, with dimensions."""

from __future__ import annotations

from profiler.casework.plan import CasePlan
from profiler.plates.case.pencil import DASHED, FINE, HEAVY, PLAIN, SMALL_MM, Pencil, View
from profiler.plates.case.views import END_GRAIN, FOAM, PANEL, SAW


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
        for piece in plan.pieces:
            for place in piece.places[:1] if piece.profile else ():
                if place.axes[2][1] == "x":
                    x, _, low, x1, _, high = place.box_to_case(piece.box)
                    p.box("hidden", x, low, x1, high, FINE, dash=DASHED)
                    p.text(((x + x1) / 2, low + p.paper(1)), piece.mark, SMALL_MM, "middle")
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
