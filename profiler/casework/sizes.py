"""Every computed size of a plan in one list, and what the shop calls each stock."""

from __future__ import annotations

from collections.abc import Iterable

from profiler.casework.plan import CasePlan
from profiler.casework.trace import Size


def sizes_of(plan: CasePlan) -> list[Size]:
    """Every computed size once, in the order of the work."""
    found: list[Size] = [
        plan.wishes.boards.thickness,
        plan.wishes.panels.thickness,
        plan.wishes.walls.thickness,
        plan.inside.along,
        plan.inside.across,
        plan.inside.deep,
        plan.rabbet.width,
        plan.rabbet.depth,
        plan.asked_lid,
        plan.asked_base,
        plan.fingers.width,
        plan.fingers.board_width,
        plan.fingers.line,
        plan.heights.high_sawn,
        plan.heights.inside_sawn,
        plan.heights.outside,
        plan.heights.inside,
        plan.heights.lid,
        plan.heights.base,
        plan.groove_sizes.width,
        plan.groove_sizes.board_depth,
        plan.groove_sizes.wall_depth,
    ]
    for piece in plan.pieces:
        found += [piece.length, piece.width, piece.thickness, *piece.extra]
    found += [f.u for f in plan.fittings.items]
    found.append(plan.fittings.screw)
    for s in plan.stations:
        found += [q for q in (s.x, s.room, s.lift) if q is not None]
    return _once(found)


def _once(sizes: Iterable[Size]) -> list[Size]:
    seen: dict[tuple[str, float], Size] = {}
    for size in sizes:
        seen.setdefault((size.name, round(size.mm, 4)), size)
    return list(seen.values())


def stock_name(plan: CasePlan, use: str) -> str:
    """What a maker asks for at the shop."""
    w = plan.wishes
    stocks = {s.use: s.name for s in (w.boards, w.panels, w.walls, *w.others)}
    if use == "cover wood":
        return plan.wishes.storage.cover
    return stocks.get(use, "scrap" if use == "slips" else use)
