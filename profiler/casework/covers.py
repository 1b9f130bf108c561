"""Covers of the compartments: gaps, finger hole or magnets, and the cleats that they lie on."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.casework.inside import Inside
from profiler.casework.panels import Rabbet
from profiler.casework.pieces import Cut, Piece, Place
from profiler.casework.stock import Stock
from profiler.casework.storage import Compartment
from profiler.casework.trace import Size, Term, chosen, total
from profiler.casework.wishes import Storage
from profiler.casework.wood import movement_of, seasonal
from profiler.casework.words import both
from profiler.errors import RequestError
from profiler.findings import Finding, Level

#: wood left between a finger hole and the cover's edge, mm
BESIDE_HOLE_MM = 8.0
#: height that must be left below cleats, mm
LEAST_BELOW_MM = 12.0
#: hole for the washer's screw, mm
SCREW_HOLE_MM = 3.0


@dataclass(frozen=True)
class MagnetSeat:
    """Where a magnet sits so that the washer's ring carries it.

    Attributes:
        offset: of the magnet's middle from the washer's middle, mm.
        ring: width of the ring.
    """

    offset: Size
    ring: float


def magnet_seat(inner: float, outer: float, magnet: float) -> MagnetSeat:
    """The middle of the ring.

    Args:
        inner, outer: diameters of the washer, mm.
        magnet: diameter, mm.

    Raises:
        RequestError: no washer, or a ring too narrow for the magnet.
    """
    if not 0 < inner < outer:
        raise RequestError(
            f"A washer has a hole smaller than itself: {both(inner)} inside and"
            f" {both(outer)} outside cannot be."
        )
    ring = (outer - inner) / 2
    if magnet > ring + 1e-9:
        raise RequestError(
            f"A magnet of {both(magnet)} is wider than the washer's ring of"
            f" {both(ring)}; over the hole it does not hold. The nearest: a magnet of"
            f" {both(ring)}, or a washer of {both(inner + 2 * magnet)} outside."
        )
    size = total(
        "magnet, from the washer's middle",
        "magnet",
        Term("inner diameter", inner, 0.25),
        Term("outer diameter", outer, 0.25),
    )
    return MagnetSeat(size, ring)


@dataclass(frozen=True)
class Covers:
    """Pieces, and remarks about compartments that stay open."""

    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...]


def plan_covers(
    rooms: tuple[Compartment, ...],
    inside: Inside,
    rabbet: Rabbet,
    wall_height: Size | None,
    board: Stock,
    wall: Stock,
    storage: Storage,
) -> Covers:
    """A cover and two cleats for each compartment.

    Raises:
        RequestError: a wood that is not in the table, or a magnet that the washer does not suit.
    """
    if storage.cover == "none" or not rooms or wall_height is None:
        return Covers((), ())
    solid = storage.cover != "plywood"
    if solid:
        movement_of(storage.cover)
    seat = None
    if storage.closure == "magnet":
        seat = magnet_seat(storage.washer_inner, storage.washer_outer, storage.magnet)
    if wall_height.mm < wall.mm + board.mm + LEAST_BELOW_MM:
        lacking = wall.mm + board.mm + LEAST_BELOW_MM - wall_height.mm
        remark = Finding(
            806,
            Level.CAUTION,
            f"The compartments get no cover: cover and cleats would leave too little below them."
            f" {both(lacking)} more depth would do.",
            "covers",
        )
        return Covers((), (remark,))
    pieces: list[Piece] = []
    done: list[Compartment] = []
    marks = iter("QRSTUV")
    for room in rooms:
        if room in done:
            continue
        group = [r for r in rooms if (r.length, r.width) == (room.length, room.width)]
        done += group
        top = rabbet.depth.mm + wall_height.mm
        pieces += _cover(next(marks), group, inside, wall, storage, seat, top)
        pieces += _cleats(next(marks), group, inside, board, wall, storage, seat, top)
    return Covers(tuple(pieces), ())


def _origin_y(room: Compartment, inside: Inside) -> float:
    """Lower y of the compartment."""
    return inside.across.mm - room.width if room.side == "back" else 0.0


def _cover(
    mark: str,
    group: list[Compartment],
    inside: Inside,
    wall: Stock,
    storage: Storage,
    seat: MagnetSeat | None,
    top: float,
) -> list[Piece]:
    room = group[0]
    solid = storage.cover != "plywood"
    lining, gap = Term("lining", room.lining, -2), Term("gap", storage.cover_gap, -2)
    length = total("cover, length", "cover", Term("compartment", room.length), lining, gap)
    terms = [Term("compartment", room.width), lining, gap]
    if solid:
        moves = seasonal(
            room.width - 2 * room.lining,
            storage.cover,
            storage.moisture_change,
            storage.quarter_sawn,
        )
        terms.append(Term("seasonal movement", moves, -1))
    width = total("cover, width", "cover-season" if solid else "cover", *terms)
    thick = wall.thickness
    cuts = []
    if seat is None:
        hole = min(storage.hole, length.mm - 2 * BESIDE_HOLE_MM, width.mm - 2 * BESIDE_HOLE_MM)
        if hole < 8.0:
            raise RequestError(
                f"A cover {both(width.mm)} wide has no room for a finger hole. Take"
                " --closure magnet or --cover none."
            )
        u, v = length.mm / 2, width.mm / 2
        box = (u - hole / 2, v - hole / 2, 0.0, u + hole / 2, v + hole / 2, thick.mm)
        cuts.append(Cut("hole", box, "finger hole"))
    else:
        inset = room.lining + storage.cover_gap
        for u in (cleat_width(storage) / 2 - inset, length.mm - cleat_width(storage) / 2 + inset):
            v = width.mm / 2 + seat.offset.mm
            r, low = storage.magnet / 2, thick.mm - min(storage.magnet_high, thick.mm - 1.0)
            cuts.append(Cut("pocket", (u - r, v - r, low, u + r, v + r, thick.mm), "magnet"))
    places = []
    for one in group:
        x = one.x0 + (one.length - length.mm) / 2
        y = _origin_y(one, inside) + (one.width - width.mm) / 2
        places.append(Place((x, y, top), ("+x", "+y", "-z"), "base"))
    note = "grain along its length"
    if solid:
        note += f"; {storage.cover}, its gap is for {storage.moisture_change:g} % moisture"
    return [
        Piece(
            mark,
            "cover",
            "cover wood" if solid else "walls",
            length,
            width,
            thick,
            ends=("tail", "head"),
            cuts=tuple(cuts),
            places=tuple(places),
            count=len(places),
            note=note,
            extra=(seat.offset,) if seat else (),
        )
    ]


def cleat_width(storage: Storage) -> float:
    """Wide enough for the washer, where there is one."""
    return (
        max(storage.cleat, storage.washer_outer + 2)
        if storage.closure == "magnet"
        else (storage.cleat)
    )


def _cleats(
    mark: str,
    group: list[Compartment],
    inside: Inside,
    board: Stock,
    wall: Stock,
    storage: Storage,
    seat: MagnetSeat | None,
    top: float,
) -> list[Piece]:
    room = group[0]
    length = total("cleat, length", "cleat", Term("compartment", room.width))
    wide = cleat_width(storage)
    cuts: tuple[Cut, ...] = ()
    if seat is not None:
        u, v, r = length.mm / 2, wide / 2, SCREW_HOLE_MM / 2
        cuts = (Cut("hole", (u - r, v - r, 0.0, u + r, v + r, board.mm), "screw of the washer"),)
    z = top - wall.mm
    places = []
    for one in group:
        y = _origin_y(one, inside)
        places.append(Place((one.x0, y, z), ("+y", "+x", "-z"), "base"))
        places.append(Place((one.x1, y, z), ("+y", "-x", "-z"), "base"))
    return [
        Piece(
            mark,
            "cleat",
            "boards",
            length,
            chosen("cleat, width", wide, "default"),
            board.thickness,
            grain="any",
            ends=("front", "back"),
            cuts=cuts,
            places=tuple(places),
            count=len(places),
            note="under the cover's ends; glue to bare wood before lining",
        )
    ]
