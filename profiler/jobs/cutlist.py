"""`cut-list.csv`: opens in a spreadsheet, which runs nothing and makes no dates of fractions."""

from __future__ import annotations

import csv
import io

from profiler.casework.plan import CasePlan
from profiler.casework.sizes import stock_name
from profiler.casework.trace import Show

#: what a spreadsheet would run as a formula when a cell begins with it
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def cut_list_csv(plan: CasePlan, show: Show, unit: str) -> bytes:
    """The cut list for a spreadsheet: mm as numbers, and lengths as the drawings write them.

    Args:
        plan: the case.
        show: how the drawings write lengths.
        unit: of `show`, for the heads of its columns.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        (
            "mark",
            "piece",
            "count",
            "length mm",
            "width mm",
            "thickness mm",
            f"length, {unit}",
            f"width, {unit}",
            f"thickness, {unit}",
            "stock",
            "grain",
            "note",
        )
    )
    for p in plan.pieces:
        sizes = (p.length.mm, p.width.mm, p.thickness.mm)
        writer.writerow(
            safe_cell(cell)
            for cell in (
                p.mark,
                p.name,
                str(p.count),
                *(f"{mm:.2f}" for mm in sizes),
                *(_spelled(show(mm), unit) for mm in sizes),
                stock_name(plan, p.use),
                p.grain,
                p.note,
            )
        )
    return out.getvalue().encode("utf-8-sig")


def safe_cell(text: str) -> str:
    """The text so that a spreadsheet shows it and runs nothing; numbers stay numbers."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    if text.startswith(FORMULA_SIGNS) or clean.lstrip().startswith(FORMULA_SIGNS):
        return f"'{clean}"
    return clean


def _spelled(words: str, unit: str) -> str:
    """With its unit, since a bare 3/8 becomes a date in a spreadsheet."""
    return words if words.endswith(('"', unit)) else f"{words} {unit}"
