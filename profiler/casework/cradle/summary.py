"""What the terminal says about a cradle."""

from __future__ import annotations

from profiler.casework.cradle.check import Checked
from profiler.casework.summary import HEADS
from profiler.casework.trace import Show

WIDTH = 28


def summary_lines(checked: Checked, show: Show, unit: str) -> list[str]:
    """Pieces, fit, play, then remarks by how much they matter."""
    plan = checked.plan
    mm = " mm" if unit == "mm" else ""
    lines = [f"{'Instrument above the floor':<{WIDTH}}{show(plan.lift.mm)}{mm}"]
    for piece in plan.pieces:
        sizes = [piece.size("length"), piece.size("height" if piece.upright else "depth")]
        words = " × ".join([*(show(s.mm) for s in sizes), show(piece.thickness)])
        count = f", {piece.layers} of them" if piece.layers > 1 else ""
        where = f"{show(piece.sizes[1].mm)} from the end board"
        notch = ""
        if any(s.name.endswith("notch above the floor") for s in piece.sizes):
            notch = f"; notch {show(piece.size('notch above the floor').mm)} up"
        lines.append(f"{piece.name.capitalize():<{WIDTH}}{words}{mm}{count}; {where}{notch}")
    lines += ["", "Gaps from the wood at rest, and how often it presses hard:"]
    for fit in checked.fit.pieces:
        chance = checked.chances[fit.piece.name]
        least = "at least " if fit.piece.at_least else ""
        sides = ", ".join(
            f"{name} {least if name == 'below' else ''}{show(v)}"
            for name, v in (
                ("below", fit.below),
                ("left", fit.left),
                ("right", fit.right),
                ("behind", fit.behind),
            )
            if v is not None
        )
        lines.append(
            f"  {fit.piece.name:<{WIDTH}}{sides}; tightest {show(fit.tightest.gap)} ±"
            f" {show(chance.u95)}; {chance.presses:.1%}"
        )
    for level, head in HEADS.items():
        found = [q for q in checked.findings if q.level is level]
        if found:
            lines += ["", head, *(f"  {q.message} [{q.code}]" for q in found)]
    return lines
