"""`cradle.json` of a cradle. Its schema lies beside this file.

The same cradle gives the same bytes: fixed order, fixed rounding, no date, no paths.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib import resources
from typing import Any

import numpy as np

from profiler import __version__
from profiler.casework.cradle.certainty import Certainty
from profiler.casework.cradle.chance import Chance
from profiler.casework.cradle.check import Checked
from profiler.casework.cradle.fit import PieceFit
from profiler.casework.cradle.linings import Contact
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.trace import Show, Size
from profiler.jobs.rendering import rounded, warning_record

Record = dict[str, Any]

FORMAT = "profiler cradle plan"
VERSION = 1
CRADLE_NAME = "cradle.json"
#: decimals of mm in sizes and of gaps and shares
MM, GAP = 4, 3
ABOUT = (
    "Lengths in mm. Cradle frame: x from the instrument's tail along its centreline, y to its left,"
    " z up from the case's floor. shape is y, z of a board that stands across, or x, y of a block"
    " that lies flat; span is where it begins and ends along the third axis. Gaps are from the wood"
    " to the instrument, the lining left out; u95 is 95 %. known.u95 is of the"
    " instrument alone, without cut, place and foam. Chances are shares of 1."
)


def cradle_record(
    checked: Checked,
    show: Show,
    instrument: str = "",
    customer: str = "",
    options: Record | None = None,
    files: Sequence[str] = (),
) -> Record:
    """Everything that `cradle.json` holds.

    Args:
        checked: the cradle and its fit.
        show: how lengths are written in sentences.
        instrument, customer: names.
        options: what was typed, so that the case can plan the same cradle again.
        files: what is written along with it, by name.
    """
    plan, play = checked.plan, checked.fit.play
    berth = plan.berth
    return {
        "format": FORMAT,
        "version": VERSION,
        "program": f"profiler {__version__}",
        "about": ABOUT,
        "units": "mm",
        "files": list(files),
        "job": {"name": instrument, "customer": customer},
        "options": options or {},
        "lift": _size(plan.lift, show),
        "berth": {
            "source": berth.source,
            "tail": _mm(berth.tail),
            "head": _mm(berth.head),
            "right": _mm(berth.right),
            "left": _mm(berth.left),
        },
        "contacts": {name: _contact(c) for name, c in plan.wishes.scheme.contacts.items()},
        "pieces": [
            _piece(
                p, checked.fit_of(p), checked.chances.get(p.name), checked.known.get(p.name), show
            )
            for p in plan.pieces
        ],
        "not_made": [{"piece": u.name, "reason": u.reason} for u in plan.unmade],
        "play": {
            name: None if mm is None else rounded(mm, GAP)
            for name, mm in (
                ("tail", play.tail),
                ("head", play.head),
                ("right", play.right),
                ("left", play.left),
                ("sink", play.sink),
            )
        },
        "warnings": [warning_record(f) for f in checked.findings],
    }


def schema() -> Record:
    """The JSON Schema (draft 2020-12) of `cradle.json`."""
    text = resources.files("profiler.jobs").joinpath("cradleplan.schema.json").read_text("utf-8")
    loaded: Record = json.loads(text)
    return loaded


def _mm(value: float) -> float:
    return rounded(value, MM) or 0.0


def _size(size: Size, show: Show) -> Record:
    return {"name": size.name, "mm": _mm(size.mm), "rule": size.rule, "because": size.because(show)}


def _contact(c: Contact) -> Record:
    return {
        "lining": c.lining.kind,
        "thickness": _mm(c.lining.thickness),
        "gives": rounded(c.lining.give, GAP),
        "clearance": _mm(c.clearance),
        "bears": c.bears,
    }


def _piece(
    p: CradlePiece,
    fit: PieceFit | None,
    chance: Chance | None,
    known: Certainty | None,
    show: Show,
) -> Record:
    ring = np.asarray(p.shape.exterior.coords)[:-1]
    return {
        "name": p.name,
        "upright": p.upright,
        "stock": p.stock,
        "thickness": _mm(p.thickness),
        "layers": p.layers,
        "let_in": p.joint,
        "grain": "along the piece",
        "sizes": [_size(s, show) for s in p.sizes],
        "span": [_mm(v) for v in p.span],
        "wood_beside": _mm(p.beside),
        "wood_under": _mm(p.under),
        "shape": [[_mm(a), _mm(b)] for a, b in ring],
        "fit": None if fit is None or chance is None or known is None else _fit(fit, chance, known),
    }


def _fit(fit: PieceFit, chance: Chance, known: Certainty) -> Record:
    sides = {"below": fit.below, "right": fit.right, "left": fit.left, "behind": fit.behind}
    return {
        "bears": fit.piece.contact.bears,
        "at_least": fit.piece.at_least,
        "known": {
            "u95": rounded(known.worst, GAP),
            "promised": known.promised,
            "mostly": known.mostly,
            "reading": known.reading,
        },
        "gaps": {k: None if v is None else rounded(v, GAP) for k, v in sides.items()},
        "tightest": {
            "at": [rounded(v, GAP) for v in fit.tightest.at],
            "gap": rounded(fit.tightest.gap, GAP),
            "u95": rounded(chance.u95, GAP),
            "mostly": chance.mostly,
        },
        "contact_length": rounded(fit.contact, GAP),
        "chance_presses": rounded(chance.presses, 4),
        "chance_touches": None if chance.touches is None else rounded(chance.touches, 4),
        "chance_hangs": None if chance.hangs is None else rounded(chance.hangs, 4),
    }
