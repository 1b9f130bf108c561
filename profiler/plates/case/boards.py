"""Board by board: grooves and rabbets with their distances from a named end, and the fingers."""

from __future__ import annotations

from collections.abc import Callable

import shapely

from profiler.casework.pieces import Cut, Piece
from profiler.casework.plan import CasePlan
from profiler.drawing.lettering import width_of
from profiler.drawing.model import Point
from profiler.plates.case.pencil import DASHED, FINE, HEAVY, PLAIN, SMALL_MM, Pencil, View
from profiler.plates.case.views import SAW

GROOVE = "#cfd8ea"
#: boards that show their u = 0 end on the right when one looks at the inside face
TURNED = ("front board", "head board")


def board_view(plan: CasePlan, piece: Piece) -> View:
    """One board's inside face, lower edge down."""

    def draw(p: Pencil) -> None:
        length, high, t = piece.length.mm, piece.width.mm, piece.thickness.mm
        turned = piece.name in TURNED

        def x(u: float) -> float:
            return length - u if turned else u

        profile = [(x(u), v) for u, v in _profile(piece)]
        p.line("cut", profile, HEAVY, closed=True)
        for cut in piece.cuts:
            u0, v0, _, u1, v1, _ = cut.box
            a, b = sorted((x(u0), x(u1)))
            if cut.kind in ("groove", "channel"):
                p.box("groove", a, v0, b, v1, PLAIN, GROOVE)
            elif cut.kind == "rabbet":
                edge = v1 if v0 <= 0.0 else v0
                start, end = _at_height(profile, edge, a, b)
                p.line("rabbet", ((start, edge), (end, edge)), FINE, DASHED)
            elif cut.kind == "saw":
                p.box("saw", a, v0, b, v1, FINE, "#f4d0d0")
        grooves = [c for c in piece.cuts if c.kind in ("groove", "channel")]
        for number, cut in enumerate(sorted(grooves, key=lambda c: x(c.box[0]))):
            _groove_dimension(p, piece, cut, x, number)
        p.across(0, length, 0.0, -7, f"{p.show(length)}")
        p.up(0, high, length, 9, p.show(high))
        line = plan.fingers.line.mm
        p.up(0, line, 0.0, -4, p.show(line))
        _saw_words(p, plan, grooves, x, length)
        left, right = (piece.ends[1], piece.ends[0]) if turned else piece.ends
        p.text((t + p.paper(1.5), high / 3), f"{left} end", bold=True)
        p.text((length - t - p.paper(1.5), high / 3), f"{right} end", anchor="end", bold=True)
        words = f"{piece.mark}  {piece.name}, inside face, {p.show(t)} thick"
        p.text((0.0, -p.paper(12.5)), words, 3.0, bold=True)
        w, d = plan.rabbet.width.mm, plan.rabbet.depth.mm
        words = f"Dashed: rabbet {p.show(w)} wide, {p.show(d)} deep, made after glue-up."
        if grooves:
            wide, deep = plan.groove_sizes.width.mm, plan.groove_sizes.board_depth.mm
            depths = f"Grooves {p.show(wide)} wide, {p.show(deep)} deep, for the walls in circles."
            words = f"{depths} {words}"
        p.text((0.0, -p.paper(16.0)), words, SMALL_MM)

    return draw


def _at_height(profile: list[Point], v: float, start: float, end: float) -> tuple[float, float]:
    """The part of a line across that lies on the board, mm."""
    line = shapely.LineString([(start, v), (end, v)])
    part = shapely.Polygon(profile).intersection(line)
    x0, _, x1, _ = part.bounds if not part.is_empty else line.bounds
    return float(x0), float(x1)


def _saw_words(
    p: Pencil, plan: CasePlan, grooves: list[Cut], x: Callable[[float], float], length: float
) -> None:
    """Above the saw cut, where no groove runs through the words."""
    words = "saw cut of the lid"
    half = p.paper(width_of(words, SMALL_MM)) / 2 + p.paper(1.5)
    spots = [x((c.box[0] + c.box[3]) / 2) for c in grooves]
    places = [length * k / 20 for k in (10, 9, 11, 8, 12, 7, 13, 6, 14, 5, 15, 4, 16)]
    at = max(places, key=lambda q: min([half, *(abs(q - s) for s in spots)]))
    z = plan.fingers.line.mm + plan.fingers.kerf
    p.text((at, z + p.paper(0.8)), words, SMALL_MM, "middle", colour=SAW)


def _groove_dimension(
    p: Pencil, piece: Piece, cut: Cut, x: Callable[[float], float], number: int
) -> None:
    """From the nearer end of the board to the groove's nearer edge."""
    length, high = piece.length.mm, piece.width.mm
    u0, u1 = cut.box[0], cut.box[3]
    from_start = u0 < length - u1
    end = 0.0 if from_start else length
    edge = u0 if from_start else u1
    level = 6.0 + 6.0 * (number % 2)
    p.across(x(end), x(edge), high, level)
    middle = x((u0 + u1) / 2)
    p.badge((middle, high * 0.5), cut.label, 2.5)


def _profile(piece: Piece) -> list[Point]:
    """The board's face with its fingers, anticlockwise."""
    length, high = piece.length.mm, piece.width.mm
    sockets = sorted(
        {(c.box[1], c.box[4]) for c in piece.cuts if c.kind == "socket"}, key=lambda s: s[0]
    )
    t = piece.thickness.mm
    if not sockets:
        return [(0, 0), (length, 0), (length, high), (0, high)]
    right: list[Point] = [(length, 0.0)]
    for low, up in sockets:
        right += [(length, low), (length - t, low), (length - t, up), (length, up)]
    right.append((length, high))
    clean = [q for i, q in enumerate(right) if i == 0 or q != right[i - 1]]
    if sockets[0][0] == 0.0:  # starts with a socket
        clean = clean[1:]
        clean[0] = (length - t, 0.0)
    if sockets[-1][1] >= high - 1e-9:
        clean = [q for q in clean if q[1] < high - 1e-9] + [(length - t, high)]
    left = [(length - u, v) for u, v in reversed(clean)]
    return clean + left


def fingers_view(plan: CasePlan) -> View:
    """The ends of a long board and of an end board, large, with every edge's height."""

    def draw(p: Pencil) -> None:
        t, high = plan.wishes.boards.mm, plan.fingers.board_width.mm
        stub = 3.5 * t
        shift = stub + p.paper(85)
        for number, name in enumerate(("front board", "head board")):
            piece = plan.piece(name)
            x0 = number * shift
            ring = [(x0 + u, v) for u, v in _stub(_profile(piece), stub)]
            p.line("cut", ring, HEAVY, closed=True)
            cut = next(c for c in piece.cuts if c.kind == "saw")
            p.box("saw", x0, cut.box[1], x0 + stub, cut.box[4], FINE, "#f4d0d0")
            words = "A and B, both ends" if number == 0 else "C and D, both ends"
            p.text((x0, high + p.paper(9.5)), words, 3.2, bold=True)
            p.text((x0, high + p.paper(5)), piece.note, SMALL_MM)
            _edge_heights(p, plan, x0 + stub)
            p.across(x0, x0 + t, 0.0, -6, p.show(t))

    return draw


def _stub(profile: list[Point], stub: float) -> list[Point]:
    """The part of a profile left of `stub`."""
    part = shapely.Polygon(profile).intersection(shapely.box(-1, -1, stub, 1e5))
    return [(float(a), float(b)) for a, b in part.exterior.coords[:-1]]


def _edge_heights(p: Pencil, plan: CasePlan, x: float) -> None:
    """Heights from the lower edge, and from the upper edge above the saw cut."""
    f = plan.fingers
    edges = sorted({*f.edges, f.line.mm, f.line.mm + f.kerf})
    step = p.paper(3.0)
    # spread labels that would run into each other
    heights: list[float] = []
    for edge in edges:
        heights.append(max(edge, heights[-1] + step) if heights else edge)
    drop = (heights[-1] - edges[-1]) / 2
    heights = [h - drop for h in heights]
    for edge, at in zip(edges, heights, strict=True):
        red = edge in (f.line.mm, f.line.mm + f.kerf)
        colour = SAW if red else "#000000"
        p.line(
            "dimension",
            ((x, edge), (x + p.paper(6), at), (x + p.paper(9), at)),
            FINE,
            colour=colour,
        )
        words = f"{p.show(edge)} from below"
        if edge > f.line.mm + 1e-9:
            words += f", {p.show(f.board_width.mm - edge)} from above"
        if red:
            words += "  saw cut" if edge > f.line.mm else "  saw cut starts"
        p.text(
            (x + p.paper(10), at - p.paper(0.8)), words, SMALL_MM, colour=colour, layer="dimension"
        )
