"""`plan.json` of a case. Its schema lies beside this file.

The same plan gives the same bytes: fixed order, fixed rounding, no date, no paths.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import is_dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from profiler import __version__
from profiler.casework.nesting import SheetPlan
from profiler.casework.pieces import Piece
from profiler.casework.plan import CasePlan
from profiler.casework.rules import RULES
from profiler.casework.sizes import sizes_of, stock_name
from profiler.casework.stock import Stock
from profiler.casework.trace import Show, Size
from profiler.casework.work import CAUTIONS, order_of_work, stop_notes

Record = dict[str, Any]

FORMAT = "profiler case plan"
VERSION = 1
PLAN_NAME = "plan.json"
#: what a plan's files end with
SUFFIXES = (".pdf", ".svg", ".dxf", ".csv", ".json")
#: decimals of mm; a saw does not know the third, but sums must come out
DIGITS = 4
ABOUT = (
    "Lengths in mm, masses in kg. Case frame: x from the tail board's inside face to the head, y"
    " from the front board's inside face to the back board, z up from the boards' lower edge, as"
    " glued up before the lid is sawn off. Piece frame: u along the length from the first named"
    " end, v up, w into the wood from the marked face; a place gives the piece frame's origin and"
    " which way u, v, w run. A size's value is the sum of its terms, times each, plus rounded_up,"
    " where sum is true."
)


def plan_record(
    plan: CasePlan,
    show: Show,
    instrument: str = "",
    customer: str = "",
    files: Sequence[str] = (),
) -> Record:
    """Everything that `plan.json` holds.

    Args:
        plan: the case.
        show: how lengths are written in sentences.
        instrument, customer: names.
        files: what is written along with it, by name.
    """
    sizes = sizes_of(plan)
    f = plan.fingers
    return {
        "format": FORMAT,
        "version": VERSION,
        "program": f"profiler {__version__}",
        "about": ABOUT,
        "units": "mm",
        "files": list(files),
        "job": {"name": instrument, "customer": customer},
        "instrument": {
            "source": plan.body.source,
            "length": _mm(plan.body.length),
            "width": _mm(plan.body.width),
            "height": _mm(plan.body.height),
            "tail_at": [_mm(v) for v in plan.at],
            "outline": [
                [_mm(x), _mm(y)] for x, y in np.asarray(plan.outline.exterior.coords)[:-1].tolist()
            ],
        },
        "wishes": _plain(plan.wishes),
        "sizes": [_size(s, show) for s in sizes],
        "rules": {key: RULES[key] for key in sorted({s.rule for s in sizes})},
        "box": {
            "inside": [
                _mm(v)
                for v in (plan.inside.along.mm, plan.inside.across.mm, plan.heights.inside.mm)
            ],
            "outside": [
                _mm(v)
                for v in (
                    plan.pieces[0].length.mm,
                    plan.pieces[2].length.mm,
                    plan.heights.outside.mm,
                )
            ],
            "lid": _mm(plan.heights.lid.mm),
            "base": _mm(plan.heights.base.mm),
            "saw_cut": [_mm(f.line.mm), _mm(f.line.mm + f.kerf)],
            "fingers": [_mm(e) for e in f.edges],
            "fingers_on_base": f.base_count,
            "rabbet": {"width": _mm(plan.rabbet.width.mm), "depth": _mm(plan.rabbet.depth.mm)},
        },
        "compartments": [
            {
                "side": r.side,
                "from": _mm(r.x0),
                "to": _mm(r.x1),
                "width": _mm(r.width),
                "useful": [_mm(v) for v in r.useful],
                "reaches_head_board": r.to_end,
            }
            for r in plan.rooms
        ],
        "pieces": [_piece(p, plan) for p in plan.pieces],
        "grooves": [
            {
                "board": g.board,
                "from_first_end": _mm(g.u),
                "width": _mm(g.width),
                "depth": _mm(g.depth),
                "wall": g.wall,
            }
            for g in plan.grooves
        ],
        "stop_settings": list(stop_notes(plan)),
        "fittings": [
            {"kind": q.kind, "board": q.board, "u": _mm(q.u.mm), "v": _mm(q.v)}
            for q in plan.fittings.items
        ],
        "longest_screw": _mm(plan.fittings.screw.mm),
        "stations": [
            {
                "name": s.name,
                "x": _mm(s.x.mm),
                "room": None if s.room is None else _mm(s.room.mm),
                "lift": _mm(s.lift.mm),
            }
            for s in plan.stations
        ],
        "weight": {
            "wood": round(plan.weight.wood, 3),
            "foam": round(plan.weight.foam, 3),
            "hardware": plan.weight.hardware,
            "instrument": plan.weight.instrument,
            "centre": [_mm(v) for v in plan.weight.centre],
        },
        "sheets": [_sheet(s) for s in plan.sheets],
        "order_of_work": list(order_of_work(plan, show)),
        "cautions": list(CAUTIONS),
        "warnings": [
            {"code": w.code, "level": w.level.value, "message": w.message, "where": w.where}
            for w in plan.findings
        ],
    }


def left_over(
    folder: Path, files: Iterable[str], plan: str = PLAN_NAME, kind: str = FORMAT
) -> list[Path]:
    """Files of an earlier plan in `folder` that a new one of these `files` does not replace.

    Only what the earlier record, `plan` of the format `kind`, names as its own, and nothing where
    that cannot be read.
    """
    try:
        old = json.loads((folder / plan).read_text(encoding="utf-8"))
        names = old["files"] if old["format"] == kind else []
        paths = [folder / n for n in names if n not in set(files) and n == Path(n).name]
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return []
    return [p for p in paths if p.suffix in SUFFIXES and p.is_file()]


def schema() -> Record:
    """The JSON Schema (draft 2020-12) of `plan.json`."""
    text = resources.files("profiler.jobs").joinpath("caseplan.schema.json").read_text("utf-8")
    loaded: Record = json.loads(text)
    return loaded


def _mm(value: float) -> float:
    return round(float(value), DIGITS) + 0.0


def _size(size: Size, show: Show) -> Record:
    return {
        "name": size.name,
        "mm": _mm(size.mm),
        "rule": size.rule,
        "because": size.because(show),
        "sum": size.is_sum,
        "terms": [{"name": t.name, "mm": _mm(t.mm), "times": t.times} for t in size.terms],
        "rounded_up": _mm(size.rounded_up),
    }


def _piece(piece: Piece, plan: CasePlan) -> Record:
    return {
        "mark": piece.mark,
        "name": piece.name,
        "count": piece.count,
        "length": _mm(piece.length.mm),
        "width": _mm(piece.width.mm),
        "thickness": _mm(piece.thickness.mm),
        "use": piece.use,
        "stock": stock_name(plan, piece.use),
        "grain": piece.grain,
        "ends": list(piece.ends),
        "cuts": [
            {
                "kind": c.kind,
                "box": [_mm(v) for v in c.box],
                "label": c.label,
                "made": c.made,
            }
            for c in piece.cuts
        ],
        "places": [
            {"origin": [_mm(v) for v in q.origin], "axes": list(q.axes), "part": q.part}
            for q in piece.places
        ],
        "note": piece.note,
        **({"profile": [[_mm(u), _mm(v)] for u, v in piece.profile]} if piece.profile else {}),
    }


def _sheet(sheet: SheetPlan) -> Record:
    return {
        "stock": sheet.stock,
        "thickness": _mm(sheet.thickness),
        "length": _mm(sheet.sheet.length),
        "width": _mm(sheet.sheet.width),
        "trim": _mm(sheet.trim),
        "waste_percent": round(100 * sheet.waste, 1),
        "pieces": [
            {
                "mark": q.mark,
                "x": _mm(q.x),
                "y": _mm(q.y),
                "length": _mm(q.length),
                "width": _mm(q.width),
            }
            for q in sheet.laid
        ],
    }


def _plain(value: Any) -> Any:
    """Choices as plain values; a stock by its name and thickness."""
    if isinstance(value, Stock):
        return {"name": value.name, "thickness": _mm(value.mm)}
    if is_dataclass(value) and not isinstance(value, type):
        return {k: _plain(getattr(value, k)) for k in value.__dataclass_fields__}
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return _mm(value) if isinstance(value, float) else value
