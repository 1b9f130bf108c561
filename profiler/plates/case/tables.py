"""Words of the case plan's sheets: sizes, cut list, where numbers come from, steps, cautions."""

from __future__ import annotations

from profiler.casework.mass import spoken_mass
from profiler.casework.plan import CasePlan
from profiler.casework.rules import RULES
from profiler.casework.sizes import sizes_of, stock_name
from profiler.casework.trace import Show
from profiler.casework.work import CAUTIONS, order_of_work
from profiler.findings import Level
from profiler.plates.case.flow import Block, Row, Words

HEADING_MM = 3.8
CUT_SHARES = (0.0, 0.05, 0.29, 0.34, 0.43, 0.51, 0.59, 0.72, 0.79)
SIZE_SHARES = (0.0, 0.22, 0.31, 0.63)


def key_blocks(plan: CasePlan, show: Show) -> list[Block]:
    """What a person wants to see first."""
    shares = (0.0, 0.62)
    h = plan.heights
    long = plan.piece("front board").length.mm
    end = plan.piece("head board").length.mm
    rows = [
        ("Outside, closed", f"{show(long)} × {show(end)} × {show(h.outside.mm)}"),
        (
            "Inside, closed",
            f"{show(plan.inside.along.mm)} × {show(plan.inside.across.mm)} × {show(h.inside.mm)}",
        ),
        ("Board width, before sawing", show(plan.fingers.board_width.mm)),
        ("Saw cut above the lower edge", show(plan.fingers.line.mm)),
        ("Fingers", f"{plan.fingers.count} of {show(plan.fingers.width.mm)}"),
        ("Lid / base, outside", f"{show(h.lid.mm)} / {show(h.base.mm)}"),
    ]
    for room in plan.rooms:
        length, width = room.useful
        rows.append((f"Compartment, {room.side}", f"{show(length)} × {show(width)}"))
    rows.append(("Mass without instrument, about", spoken_mass(plan.weight.case)))
    blocks: list[Block] = [Words("Sizes", HEADING_MM, bold=True)]
    blocks += [Row(r, shares, 2.7, rule=True) for r in rows]
    blocks.append(Words("", after=0.6))
    blocks.append(Words("Pieces", HEADING_MM, bold=True))
    for piece in plan.pieces:
        count = f"{piece.count} × " if piece.count > 1 else ""
        blocks.append(Words(f"{count}{piece.name}", 2.7, lead=piece.mark, after=0.15))
    return blocks


def cut_list_blocks(plan: CasePlan, show: Show) -> list[Block]:
    """The cut list as a table, and what the sheets lose."""
    heads = ("", "piece", "n", "length", "width", "thick", "stock", "grain", "note")
    blocks: list[Block] = [
        Words("Cut list, finished sizes", HEADING_MM, bold=True),
        Row(heads, CUT_SHARES, bold=True),
    ]
    for p in plan.pieces:
        cells = (
            p.mark,
            p.name,
            str(p.count),
            show(p.length.mm),
            show(p.width.mm),
            show(p.thickness.mm),
            stock_name(plan, p.use),
            p.grain,
            p.note,
        )
        blocks.append(Row(cells, CUT_SHARES, rule=True))
    blocks.append(Words("", after=0.8))
    for sheet in plan.sheets:
        count = f"{len(sheet.laid)} piece{'s' if len(sheet.laid) > 1 else ''}"
        blocks.append(
            Words(
                f"{sheet.stock}, {show(sheet.thickness)} thick: a sheet of"
                f" {show(sheet.sheet.length)} × {show(sheet.sheet.width)} holds"
                f" {count}; {100 * sheet.waste:.0f} % of it is left over or waste.",
                2.6,
            )
        )
    w = plan.weight
    parts = [f"wood and foam {spoken_mass(w.wood + w.foam)}"]
    for name, mass in (("hardware", w.hardware), ("instrument", w.instrument)):
        parts.append(f"{name} not known" if mass is None else f"{name} {spoken_mass(mass)}")
    blocks.append(
        Words(
            f"Mass, estimated (densities: common practice): {', '.join(parts)}; together"
            f" {spoken_mass(w.total)} of what is known. Centre of gravity {show(w.centre[0])} from"
            " the tail board's inside face; the instrument's is taken at its outline's middle.",
            2.6,
        )
    )
    return blocks


def work_blocks(plan: CasePlan, show: Show) -> list[Block]:
    """Order of work, then cautions."""
    blocks: list[Block] = [Words("Order of work", HEADING_MM, bold=True)]
    for number, step in enumerate(order_of_work(plan, show), start=1):
        blocks.append(Words(step, lead=f"{number}."))
    blocks.append(Words("", after=0.4))
    blocks.append(Words("Cautions", HEADING_MM, bold=True))
    blocks += [Words(c, lead="•") for c in CAUTIONS]
    return blocks


def remark_blocks(plan: CasePlan) -> list[Block]:
    """What the plan noticed, worst first."""
    order = {Level.DOUBT: 0, Level.CAUTION: 1, Level.NOTE: 2}
    names = {Level.DOUBT: "doubt", Level.CAUTION: "caution", Level.NOTE: "note"}
    found = sorted(plan.findings, key=lambda f: order[f.level])
    if not found:
        return []
    blocks: list[Block] = [Words("Noticed on the way", HEADING_MM, bold=True)]
    blocks += [Words(f"{names[f.level]}: {f.message} [{f.code}]", lead="•") for f in found]
    blocks.append(Words("", after=0.6))
    return blocks


def trace_blocks(plan: CasePlan, show: Show) -> list[Block]:
    """Where each number comes from."""
    blocks: list[Block] = [
        Words("Where the numbers come from", HEADING_MM, bold=True),
        Row(("size", "", "formed of", "rule"), SIZE_SHARES, 2.3, bold=True),
    ]
    for size in sizes_of(plan):
        cells = (size.name, show(size.mm), size.because(show), RULES[size.rule])
        blocks.append(Row(cells, SIZE_SHARES, 2.3, rule=True))
    return blocks
