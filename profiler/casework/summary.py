"""What the terminal says about a plan."""

from __future__ import annotations

from profiler.casework.mass import spoken_mass
from profiler.casework.plan import CasePlan
from profiler.casework.trace import Show
from profiler.findings import Level

HEADS = {
    Level.DOUBT: "In doubt, check before you rely on it:",
    Level.CAUTION: "Before you cut:",
    Level.NOTE: "Good to know:",
}


def summary_lines(plan: CasePlan, show: Show, unit: str) -> list[str]:
    """Sizes, then remarks by how much they matter."""
    h = plan.heights
    long, end = plan.pieces[0].length.mm, plan.pieces[2].length.mm

    def row(name: str, *mm: float, after: str = "") -> str:
        return f"{name:<28}{' × '.join(show(v) for v in mm)}{after}"

    f = plan.fingers
    mm = " mm" if unit == "mm" else ""
    lines = [
        row("Outside, closed", long, end, h.outside.mm, after=mm),
        row("Inside, closed", plan.inside.along.mm, plan.inside.across.mm, h.inside.mm, after=mm),
        row("Boards, before sawing", f.board_width.mm, after=f"{mm} wide"),
        row("Fingers", f.width.mm, after=f"{mm}, {f.count} of them"),
        row(
            "Saw cut, from below",
            f.line.mm,
            after=f"{mm}; {f.base_count} whole fingers stay on the base, {f.lid_count} on the lid",
        ),
        row("Lid, outside", h.lid.mm, after=mm),
        row("Base, outside", h.base.mm, after=mm),
    ]
    for room in plan.rooms:
        lines.append(row(f"Compartment, {room.side}", *room.useful, useful_height(plan), after=mm))
    lines.append(f"{'Mass of the case, about':<28}{spoken_mass(plan.weight.case)}")
    lines.append(row("Handle, from the tail end", plan.fittings.items[0].u.mm, after=mm))
    for sheet in plan.sheets:
        lines.append(
            row(
                f"Sheet, {sheet.stock}",
                sheet.sheet.length,
                sheet.sheet.width,
                after=f"{mm}, {100 * sheet.waste:.0f} % left over or waste",
            )
        )
    for level, head in HEADS.items():
        found = [q for q in plan.findings if q.level is level]
        if found:
            lines += ["", head, *(f"  {q.message} [{q.code}]" for q in found)]
    return lines


def useful_height(plan: CasePlan) -> float:
    """Of a compartment, from the lining of its floor to its cover, mm."""
    if plan.wall_height is None:
        return 0.0
    cover = next((p.thickness.mm for p in plan.pieces if p.name == "cover"), 0.0)
    return plan.wall_height.mm - cover - plan.wishes.room.lining
