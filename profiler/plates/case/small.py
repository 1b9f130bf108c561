"""Walls, covers, cleats and other small pieces, each with its sizes and what is cut into it."""

from __future__ import annotations

import shapely

from profiler.casework.pieces import Piece
from profiler.casework.plan import CasePlan
from profiler.drawing.model import FILL, Area
from profiler.plates.case.boards import GROOVE
from profiler.plates.case.pencil import HEAVY, PLAIN, SMALL_MM, Pencil, View
from profiler.plates.case.views import PANEL, WOOD

#: dimensions and names below a piece, paper mm
BELOW_MM = 17.0
#: pieces on one page, and how unlike their lengths may be
MOST_ON_A_PAGE, UNLIKE = 4, 6.0
LARGE = ("front board", "back board", "tail board", "head board")


def part_pages(plan: CasePlan) -> list[tuple[Piece, ...]]:
    """All that the board pages do not show, page by page; like sizes share a page."""
    pages: list[list[Piece]] = []
    small = [p for p in plan.pieces if p.name not in LARGE]
    for piece in sorted(small, key=lambda p: -p.length.mm):
        page = pages[-1] if pages else []
        sizes = [q.length.mm for q in (*page, piece)]
        high = sum(q.width.mm for q in (*page, piece))
        fits = len(page) < MOST_ON_A_PAGE and max(sizes) < UNLIKE * min(sizes)
        alike = bool(page) and (page[0].use == "panels") == (piece.use == "panels")
        if alike and fits and high < 2.5 * max(sizes):
            page.append(piece)
        else:
            pages.append([piece])
    return [tuple(page) for page in pages]


def panels_and_parts_view(pieces: tuple[Piece, ...]) -> View:
    """Pieces one above the other."""

    def draw(p: Pencil) -> None:
        y = 0.0
        for piece in pieces:
            y -= piece.width.mm + p.paper(_above(piece))
            _piece(p, piece, 0.0, y)
            y -= p.paper(BELOW_MM)

    return draw


def _above(piece: Piece) -> float:
    """What dimensions and words above a piece take, paper mm."""
    if not piece.cuts:
        return 2.0
    return 5.0 if piece.cuts[0].is_round else 12.0


def _piece(p: Pencil, piece: Piece, x: float, y: float) -> None:
    length, width = piece.length.mm, piece.width.mm
    if piece.profile:
        ring = tuple((x + u, y + v) for u, v in piece.profile)
        p.add(FILL, Area((ring,), WOOD))
        p.line("cut", ring, HEAVY, closed=True)
    else:
        p.box("cut", x, y, x + length, y + width, HEAVY, WOOD if piece.use == "boards" else PANEL)
    for number, cut in enumerate(piece.cuts):
        u0, v0, w0, u1, v1, w1 = cut.box
        if cut.is_round:
            _round(p, piece, cut.label, (u0 + u1) / 2, (v0 + v1) / 2, u1 - u0, (x, y), number)
            continue
        p.box("groove", x + u0, y + v0, x + u1, y + v1, PLAIN, GROOVE)
        if u0 < length - u1:
            p.across(x, x + u0, y + width, 5)
        else:
            p.across(x + u1, x + length, y + width, 5, p.show(length - u1))
        end = piece.ends[0] if u0 < length - u1 else piece.ends[1]
        kind = "dado" if cut.kind == "channel" else cut.kind
        words = f"{kind} {p.show(u1 - u0)} wide, {p.show(w1 - w0)} deep, from the {end} end"
        p.text((x, y + width + p.paper(8.5)), words, SMALL_MM)
    p.across(x, x + length, y, -6)
    p.up(y, y + width, x + length, 5)
    count = f"{piece.count} × " if piece.count > 1 else ""
    p.text((x, y - p.paper(11)), f"{piece.mark}  {count}{piece.name}", 2.9, bold=True)
    words = f"{p.show(piece.thickness.mm)} thick" + (f"; {piece.note}" if piece.note else "")
    p.text((x, y - p.paper(14.5)), words, SMALL_MM)
    for name, at, anchor in zip(piece.ends, (0.0, length), ("start", "end"), strict=True):
        if name and not piece.cuts and length * p.scale > 40:
            shift = p.paper(1.2) * (1 if anchor == "start" else -1)
            p.text(
                (x + at + shift, y + width / 2 - p.paper(0.8)),
                name,
                SMALL_MM,
                "start" if anchor == "start" else "end",
            )


def _round(
    p: Pencil,
    piece: Piece,
    label: str,
    u: float,
    v: float,
    diameter: float,
    at: tuple[float, float],
    number: int,
) -> None:
    x, y = at[0] + u, at[1] + v
    ring = shapely.Point(x, y).buffer(diameter / 2, quad_segs=12).exterior.coords[:-1]
    p.line("cut", [(float(a), float(b)) for a, b in ring], PLAIN, closed=True)
    p.line("centreline", ((x - diameter, y), (x + diameter, y)), 0.08)
    p.line("centreline", ((x, y - diameter), (x, y + diameter)), 0.08)
    if number == 0:
        words = (
            f"{label} Ø {p.show(diameter)}: {p.show(u)} from the end,"
            f" {p.show(v)} from the long edge"
        )
        p.text((at[0], at[1] + piece.width.mm + p.paper(1.5)), words, SMALL_MM)
