"""Typed options to the wishes of a cradle, with the defaults of mm and of inches."""

from __future__ import annotations

import re
from collections.abc import Sequence

from profiler.casework.cradle.linings import Scheme
from profiler.casework.cradle.wishes import PIECES, CradleWishes, Wood
from profiler.casework.stock import stock_findings, stock_for
from profiler.errors import RequestError
from profiler.findings import Finding
from profiler.pipeline.casing.typed import Typed
from profiler.units import MM_PER_INCH, optional_length

IN = MM_PER_INCH
#: what a workshop with this rule has at hand, mm (common practice, no source)
NOMINAL = {"mm": 12.0, "in": IN / 2}
BIT_RADIUS = {"mm": 3.0, "in": IN / 8}


def wishes_from(typed: Typed) -> tuple[CradleWishes, tuple[Finding, ...]]:
    """All choices, and what had to be said about the stock.

    Raises:
        RequestError: something that makes no sense.
    """
    plain = CradleWishes()
    stock, names, remarks = _stock(typed)
    pieces = tuple(
        word.strip().lower() for word in (typed.text("pieces") or "").split(",") if word.strip()
    )
    wood = Wood(
        beside=typed.length_or("wood_beside", plain.wood.beside),
        under=typed.length_or("wood_under", plain.wood.under),
    )
    hold = float(typed.text("hold") or plain.hold)
    return (
        CradleWishes(
            pieces=pieces or PIECES,
            scheme=scheme_from(typed),
            stock=stock,
            stock_names=names,
            let_in={"": "glued", **_by_piece(typed.many("let_in"), "--let-in")},
            at={
                piece: _length(typed, text, f"--at {piece}")
                for piece, text in _by_piece(typed.many("at"), "--at", alone=False).items()
            },
            hold=hold,
            bit_radius=typed.length_or("bit_radius", BIT_RADIUS[typed.units]),
            groove_depth=typed.length_or("groove_depth", plain.groove_depth),
            dado_depth=typed.length_or("dado_depth", plain.dado_depth),
            wood=wood,
        ),
        remarks,
    )


def scheme_from(typed: Typed) -> Scheme:
    """Linings and clearances.

    Raises:
        RequestError: an unknown contact or lining, or numbers that make no sense.
    """
    scheme = Scheme()
    for text in typed.many("lining"):
        where, equals, rest = text.partition("=")
        if not equals:
            raise RequestError(
                f"--lining: '{text}' does not say where. Write neck=leather:2mm, or"
                " body=foam:15mm:30%."
            )
        kind, *more = (part.strip() for part in rest.split(":"))
        if len(more) > 2:
            raise RequestError(f"--lining: '{text}' has too many parts: kind:thickness:give.")
        thick = _length(typed, more[0], f"--lining {where}") if more and more[0] else None
        give = _share(more[1], where) if len(more) > 1 else None
        scheme = scheme.with_lining(where.strip().lower(), kind.lower(), thick, give)
    for where, text in _by_piece(typed.many("clearance"), "--clearance", alone=False).items():
        scheme = scheme.with_clearance(where, _length(typed, text, f"--clearance {where}"))
    return scheme


def _stock(
    typed: Typed,
) -> tuple[dict[str, float], dict[str, str], tuple[Finding, ...]]:
    nominal = {"": NOMINAL[typed.units]}
    actual: dict[str, float] = {}
    for option, into in (("stock", nominal), ("stock_actual", actual)):
        name = "--" + option.replace("_", "-")
        for piece, text in _by_piece(typed.many(option), name).items():
            into[piece] = _length(typed, text, f"{name} {piece}".strip())
    kinds = {
        piece: stock_for("stock", nominal.get(piece, nominal[""]), actual.get(piece))
        for piece in {*nominal, *actual}
    }
    remarks = stock_findings([kinds[""]])
    return {p: k.mm for p, k in kinds.items()}, {p: k.name for p, k in kinds.items()}, remarks


def _by_piece(texts: Sequence[str], option: str, alone: bool = True) -> dict[str, str]:
    """'neck=18mm' by piece; without a piece, for all where that makes sense."""
    found = {}
    for text in texts:
        piece, equals, value = text.partition("=")
        if equals:
            found[piece.strip().lower()] = value.strip()
        elif alone:
            found[""] = text.strip()
        else:
            raise RequestError(f"{option}: '{text}' does not say where. Write neck={text}.")
    return found


def _length(typed: Typed, text: str, option: str) -> float:
    mm = optional_length(text, typed.units, option)
    assert mm is not None
    return mm


def _share(text: str, where: str) -> float:
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*%?\s*", text)
    if not found:
        raise RequestError(
            f"--lining {where}: '{text}' is not how much it gives: write a percentage, as 15%."
        )
    return float(found[1].replace(",", ".")) / 100
