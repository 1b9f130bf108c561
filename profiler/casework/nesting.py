"""Pieces laid out on the sheets at hand, with kerf, trim and grain.

The packing itself is the library's (guillotine cuts only, since a saw cuts from edge to edge).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import rectpack

from profiler.casework.pieces import Piece
from profiler.casework.wishes import SheetSize
from profiler.casework.words import both
from profiler.errors import RequestError

#: the library wants whole numbers: 1/100 mm
UNIT = 100
#: the library's rules for where a piece goes and where the rest is split, and which piece is next
WAYS = tuple(
    (place, order)
    for place in (
        rectpack.GuillotineBssfSas,
        rectpack.GuillotineBafSlas,
        rectpack.GuillotineBssfMaxas,
        rectpack.GuillotineBlsfMinas,
    )
    for order in (rectpack.SORT_LSIDE, rectpack.SORT_AREA, rectpack.SORT_SSIDE)
)
#: sheets of one size that are tried
MOST_SHEETS = 6


@dataclass(frozen=True)
class Laid:
    """A piece on a sheet: lower left corner and size along and across the sheet's grain, mm."""

    mark: str
    name: str
    x: float
    y: float
    length: float
    width: float


@dataclass(frozen=True)
class SheetPlan:
    """One sheet.

    Attributes:
        stock: its name.
        thickness: mm.
        sheet: its size.
        laid: pieces on it.
        trim: cut off all round, mm.
    """

    stock: str
    thickness: float
    sheet: SheetSize
    laid: tuple[Laid, ...]
    trim: float

    @property
    def waste(self) -> float:
        """Part of the sheet that no piece uses, 0 to 1."""
        used = sum(p.length * p.width for p in self.laid)
        return 1.0 - used / (self.sheet.length * self.sheet.width)


def lay_out(
    pieces: Sequence[Piece],
    stock: str,
    thickness: float,
    sheets: Sequence[SheetSize],
    saw: float,
    trim: float,
) -> tuple[SheetPlan, ...]:
    """All pieces of one stock on as little sheet as there is.

    Args:
        pieces: of that stock; `count` of each are laid.
        stock, thickness: for the plan.
        sheets: sizes at hand, any number of each.
        saw: kerf between pieces, mm.
        trim: off each edge, mm.

    Raises:
        RequestError: a piece is larger than the largest sheet, or there are too many.
    """
    if not pieces:
        return ()
    for piece in pieces:
        if not any(_fits(piece, s, trim) for s in sheets):
            raise _too_large(piece, stock, sheets, trim)
    best: tuple[float, tuple[SheetPlan, ...]] | None = None
    for bins in _choices(sheets):
        area = sum(s.length * s.width for s in bins)
        if best is not None and area >= best[0]:
            continue
        if area < sum(p.length.mm * p.width.mm * p.count for p in pieces):
            continue
        for way in WAYS:
            plans = _pack(pieces, stock, thickness, bins, saw, trim, way)
            if plans is not None:
                best = (sum(p.sheet.length * p.sheet.width for p in plans), plans)
                break
    if best is None:
        raise RequestError(
            f"The pieces of {stock} need more than {MOST_SHEETS} sheets of the sizes at hand. Give"
            " a larger one with --sheet."
        )
    return best[1]


def _too_large(piece: Piece, stock: str, sheets: Sequence[SheetSize], trim: float) -> RequestError:
    big = max(sheets, key=lambda s: s.length * s.width)
    length, width = piece.length.mm, piece.width.mm
    need_long, need_wide = length + 2 * trim, width + 2 * trim
    return RequestError(
        f"The {piece.name} ({both(length)} × {both(width)}) does not fit the largest"
        f" sheet of {stock} at hand ({both(big.length)} × {both(big.width)}, of which"
        f" {both(trim)} is trimmed off each edge). The nearest sheet that will do:"
        f" {both(need_long)} × {both(need_wide)}, as --sheet."
    )


def _fits(piece: Piece, sheet: SheetSize, trim: float) -> bool:
    return (
        piece.length.mm <= sheet.length - 2 * trim + 1e-9
        and piece.width.mm <= sheet.width - 2 * trim + 1e-9
    )


def _choices(sheets: Sequence[SheetSize]) -> list[list[SheetSize]]:
    """Handfuls of sheets, least area first: n of one size, or n small ones and one large."""
    sizes = sorted(set(sheets), key=lambda s: s.length * s.width)
    found = [[s] * n for s in sizes for n in range(1, MOST_SHEETS + 1)]
    found += [
        [large, *([small] * n)]
        for i, small in enumerate(sizes)
        for large in sizes[i + 1 :]
        for n in range(1, MOST_SHEETS)
    ]
    return sorted(found, key=lambda b: (sum(s.length * s.width for s in b), len(b)))


def _pack(
    pieces: Sequence[Piece],
    stock: str,
    thickness: float,
    bins: Sequence[SheetSize],
    saw: float,
    trim: float,
    way: tuple[Any, Any],
) -> tuple[SheetPlan, ...] | None:
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        bin_algo=rectpack.PackingBin.BFF,
        pack_algo=way[0],
        sort_algo=way[1],
        rotation=False,  # the grain runs along every piece
    )
    wanted = 0
    for number, piece in enumerate(pieces):
        size = _up(piece.length.mm + saw), _up(piece.width.mm + saw)
        for _ in range(piece.count):
            packer.add_rect(*size, rid=number)
            wanted += 1
    for sheet in bins:
        # the last piece of a row needs no kerf beyond it
        packer.add_bin(
            int((sheet.length - 2 * trim + saw) * UNIT), int((sheet.width - 2 * trim + saw) * UNIT)
        )
    packer.pack()
    placed = packer.rect_list()
    if len(placed) < wanted:
        return None
    plans = []
    for abin in packer:
        laid = tuple(
            Laid(
                pieces[r.rid].mark,
                pieces[r.rid].name,
                trim + r.x / UNIT,
                trim + r.y / UNIT,
                pieces[r.rid].length.mm,
                pieces[r.rid].width.mm,
            )
            for r in abin
        )
        if laid:
            sheet = _sheet_of(abin, bins, saw, trim)
            plans.append(SheetPlan(stock, thickness, sheet, laid, trim))
    return tuple(plans)


def _sheet_of(
    abin: rectpack.GuillotineBssfSas, bins: Sequence[SheetSize], saw: float, trim: float
) -> SheetSize:
    """The sheet that a bin stands for."""
    return min(
        bins,
        key=lambda s: (
            abs(int((s.length - 2 * trim + saw) * UNIT) - abin.width)
            + abs(int((s.width - 2 * trim + saw) * UNIT) - abin.height)
        ),
    )


def _up(mm: float) -> int:
    return math.ceil(mm * UNIT - 1e-6)
