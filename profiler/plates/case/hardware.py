"""Front and back of the closed case from outside: latches, hinges and handle with their places."""

from __future__ import annotations

from typing import Literal

from profiler.casework.fittings import Fitting
from profiler.casework.plan import CasePlan
from profiler.plates.case.pencil import DASHED, FINE, HEAVY, PLAIN, SMALL_MM, Pencil, View
from profiler.plates.case.views import SAW, WOOD

METAL = "#c4c8cc"


def outside_view(plan: CasePlan, side: Literal["front", "back"]) -> View:
    """One long side; distances are from the tail end to the middle of the hardware."""

    def draw(p: Pencil) -> None:
        length = plan.pieces[0].length.mm
        high = plan.fingers.board_width.mm - plan.fingers.kerf
        line, proud = plan.fingers.line.mm, plan.rabbet.proud
        turned = side == "back"  # from outside, the back has its tail on the right

        def x(u: float) -> float:
            return length - u if turned else u

        p.box("wood", 0, -proud, length, high + proud, HEAVY, WOOD)
        p.line("saw", ((-p.paper(3), line), (length + p.paper(3), line)), PLAIN, colour=SAW)
        for g in plan.grooves:
            if g.board == side:
                a, b = sorted((x(g.u), x(g.u + g.width)))
                p.box("hidden", a, 0, b, high, FINE, dash=DASHED)
        mine = [f for f in plan.fittings.items if f.board == side]
        for level, f in enumerate(sorted(mine, key=lambda f: f.u.mm)):
            _fitting(p, plan, f, x(f.u.mm))
            p.across(x(0.0), x(f.u.mm), -proud, -6.0 - 5.5 * level)
        p.up(-proud, line, length if not turned else 0.0, 8 if not turned else -8)
        left, right = ("head", "tail") if turned else ("tail", "head")
        p.text((p.paper(2), high + proud + p.paper(1.5)), f"{left} end", bold=True)
        p.text(
            (length - p.paper(2), high + proud + p.paper(1.5)),
            f"{right} end",
            anchor="end",
            bold=True,
        )

    return draw


def _fitting(p: Pencil, plan: CasePlan, f: Fitting, at: float) -> None:
    w, line = plan.wishes.hardware, plan.fingers.line.mm
    if f.kind == "handle":
        high = min(30.0, 0.4 * line)
        p.box(
            "hardware",
            at - w.handle / 2,
            f.v - high / 2,
            at + w.handle / 2,
            f.v + high / 2,
            PLAIN,
            METAL,
            over=True,
        )
        p.text((at, f.v - p.paper(0.8)), "handle", SMALL_MM, "middle")
        return
    up, down = (
        (w.latch_upper, w.latch_lower) if f.kind == "latch" else (w.hinge_upper, w.hinge_lower)
    )
    x0, x1 = at - w.width / 2, at + w.width / 2
    p.box("hardware", x0, line - down, x1, line + up, PLAIN, METAL, over=True)
    p.line("hardware", ((at - w.width / 2, line), (at + w.width / 2, line)), PLAIN)
    p.text((at, line - down / 2 - p.paper(0.8)), f.kind, SMALL_MM, "middle")
