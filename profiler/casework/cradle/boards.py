"""Neck rest, headstock block and tail rest: boards that stand across the case."""

from __future__ import annotations

from dataclasses import dataclass, replace

import shapely

from profiler.casework.cradle.berth import Berth
from profiler.casework.cradle.linings import Contact
from profiler.casework.cradle.notch import CannotBe, Notched, notched, swept_notch
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.cradle.wishes import CradleWishes
from profiler.casework.trace import Size, Term, chosen, total
from profiler.geometry.offset import parts_of
from profiler.instrument.lofts import BEYOND_MM
from profiler.instrument.solid import Bar, Neck, Slab, Solid

#: how much of the body's side the tail rest covers, as a share
TAIL_SHARE = 0.6
#: a headstock block keeps this far from nut and tip, mm
HEAD_RIM_MM = 6.0


@dataclass(frozen=True)
class Setting:
    """What all pieces of a cradle share.

    Attributes:
        solid: the instrument.
        berth: the room.
        wishes: the maker's.
        lift: the instrument's underside above the floor, at rest.
    """

    solid: Solid
    berth: Berth
    wishes: CradleWishes
    lift: Size

    def length_between(self, name: str, x0: float, x1: float) -> tuple[float, float, Size]:
        """y of the right and the left end without tongues, and the finished length.

        Raises:
            CannotBe: a groove where no board stands.
        """
        right, left = self.berth.between(x0, x1)
        w = self.wishes
        half = w.play / 2
        terms = [Term("between the sides", left - right), Term("play", w.play, -1)]
        if w.joint(_key(name)) == "groove":
            if not self.berth.on_boards(x0, x1):
                raise CannotBe(
                    "it stands between compartment walls, which are too thin for a groove: let it"
                    " in 'glued' or 'dado'"
                )
            terms.append(Term("groove in each side", w.groove_depth, 2))
            half -= w.groove_depth
        size = total(f"{name}, length", "cradle-length", *terms)
        return right + half, left - half, size

    def sunk(self, name: str) -> float:
        """How far its lower edge goes into the floor, mm."""
        return self.wishes.dado_depth if self.wishes.joint(_key(name)) == "dado" else 0.0


def _key(name: str) -> str:
    return {
        "neck rest": "neck",
        "headstock block": "headstock",
        "headstock yoke": "headstock",
        "tail rest": "tail",
    }[name]


def neck_rest(s: Setting) -> CradlePiece:
    """The board that the neck lies in.

    Raises:
        CannotBe: why not.
    """
    neck = s.solid.part("neck")
    if not isinstance(neck, Neck):
        raise CannotBe(s.solid.missing.get("neck", "the neck is not known"))
    t = s.wishes.thickness("neck")
    low, high = neck.loft.reach
    x = s.wishes.at.get("neck")
    if x is None:
        # at the measured section nearest to the headstock: there its shape is known best
        x = neck.loft.sections[-1].x
    if not low + t / 2 <= x <= high - t / 2:
        raise CannotBe(
            f"the neck's shape at {x:.0f} mm from the tail is not known: its sections reach from"
            f" {low + BEYOND_MM:.0f} to {high - BEYOND_MM:.0f} mm. Take a section there, or put"
            f" the rest at {min(max(x, low + t / 2), high - t / 2):.0f} mm (--at neck=…)"
        )
    contact = s.wishes.scheme["neck"]
    x0, x1 = x - t / 2, x + t / 2
    void = swept_notch(s.solid.named("neck"), x0, x1, contact, s.lift.mm)
    shape = neck.loft.slice_at(x)
    _, z0, _, z1 = shape.bounds
    top = s.lift.mm + z0 + s.wishes.hold * (z1 - z0)
    return _board(s, "neck rest", (x0, x1), void, top, contact, float(z0), "neck's underside")


def headstock_block(s: Setting) -> CradlePiece:
    """The board that guards the headstock; the headstock hangs free in it.

    A scroll, or another head known by its outline and its lowest point alone, gets a yoke: a slot
    as wide as the outline there and as deep as the lowest point of all, beside the nut where no peg
    stands.

    Raises:
        CannotBe: why not.
    """
    head = s.solid.part("headstock")
    if not isinstance(head, Slab):
        raise CannotBe(s.solid.missing.get("headstock", "the headstock is not known"))
    t = s.wishes.thickness("headstock")
    contact = s.wishes.scheme["headstock"]
    x = s.wishes.at.get("headstock")
    if x is None:
        x = _free_of_tuners(s.solid, head, t if head.hull else t + 2 * contact.offset, head.hull)
    a, _, b, _ = head.plan.bounds
    if not a + t / 2 <= x <= b - t / 2:
        raise CannotBe(
            f"it would stand at {x:.0f} mm, but the headstock reaches from {a:.0f} to {b:.0f} mm"
            " from the tail (--at headstock=…)"
        )
    x0, x1 = x - t / 2, x + t / 2
    void = swept_notch(
        s.solid.named("headstock", "tuners", "tuner housings"), x0, x1, contact, s.lift.mm
    )
    low = min(float(head.low.at(v)[0]) for v in (x0, x1))
    high = float(head.high.at(x)[0])
    top = s.lift.mm + low + s.wishes.hold * (high - low)
    if not head.hull:
        return _board(
            s, "headstock block", (x0, x1), void, top, contact, low, "headstock's underside"
        )
    yoke = _board(
        s, "headstock yoke", (x0, x1), void, top, contact, low, "headstock's lowest point"
    )
    words = "nothing of the head lies lower than its slot is deep for; the scroll hangs free"
    return replace(yoke, at_least=True, note=words)


def _free_of_tuners(solid: Solid, head: Slab, room: float, by_nut: bool = False) -> float:
    """The middle of the longest stretch of the headstock without tuners, or of the first one from
    the nut on; of all of it where the tuners leave less than `room`."""
    a, _, b, _ = head.plan.bounds
    a, b = float(a) + HEAD_RIM_MM, float(b) - HEAD_RIM_MM
    taken = [
        (float(p.bounds[0]), float(p.bounds[2]))
        for name in ("tuners", "tuner housings")
        if isinstance(part := solid.part(name), Slab)
        for p in parts_of(part.plan)
    ]
    spots: list[tuple[float, float]] = []
    start = a
    for x0, x1 in sorted(taken):
        if x0 > start:
            spots.append((start, min(x0, b)))
        start = max(start, x1)
    if start < b:
        spots.append((start, b))
    spots = [q for q in spots if q[1] - q[0] >= room][:1] if by_nut else spots
    best = max(spots, key=lambda q: q[1] - q[0], default=(a, b))
    return sum(best) / 2 if best[1] - best[0] >= room else (a + b) / 2


def tail_room(solid: Solid, wishes: CradleWishes) -> float:
    """What the tail rest wants between the outline's tail end and the case's end board, mm."""
    body = solid.part("body")
    if "tail" not in wishes.pieces or not isinstance(body, Slab):
        return 0.0
    behind = float(body.footprint.bounds[0] - solid.plan.bounds[0])
    return wishes.scheme["tail"].offset + wishes.thickness("tail") - behind


def tail_rest(s: Setting) -> CradlePiece:
    """The board behind the tail, with a slot for the strap button where there is one.

    Raises:
        CannotBe: why not.
    """
    body = s.solid.part("body")
    if not isinstance(body, Slab):
        raise CannotBe(s.solid.missing.get("body", "the body is not known"))
    t = s.wishes.thickness("tail")
    contact = s.wishes.scheme["tail"]
    tail = float(body.footprint.bounds[0])
    x1 = tail - contact.offset
    x0 = x1 - t
    if x0 < s.berth.tail - 1e-6:
        more = s.berth.tail - x0
        raise CannotBe(
            f"between the body's tail and the case's end board there are only"
            f" {tail - s.berth.tail:.1f} mm, {more:.1f} mm too few for lining,"
            f" clearance and {t:g} mm of wood: {more:.1f} mm more --clearance-ends makes room"
        )
    low, high = float(body.low.at(0.0)[0]), float(body.high.at(0.0)[0])
    top = s.lift.mm + low + TAIL_SHARE * (high - low)
    if "button" in s.solid.missing:
        raise CannotBe(s.solid.missing["button"])
    bar = s.solid.part("button")
    if not isinstance(bar, Bar):
        return _plain_board(s, (x0, x1), top, contact)
    slot = s.wishes.scheme["button"]
    top = max(top, s.lift.mm + bar.z + bar.radius)
    # all of it passes wherever the board stands
    whole = Bar("button", bar.y, bar.z, ((x0 - 50.0, bar.radius), (x1 + 50.0, bar.radius)))
    solid = Solid((whole,), s.solid.plan, {})
    void = swept_notch(solid, x0, x1, slot, s.lift.mm)
    piece = _board(
        s, "tail rest", (x0, x1), void, top, contact, bar.z - bar.radius, "button's underside", slot
    )
    return piece


def _plain_board(
    s: Setting, span: tuple[float, float], top: float, contact: Contact
) -> CradlePiece:
    name = "tail rest"
    right, left, length = s.length_between(name, *span)
    sunk = s.sunk(name)
    return CradlePiece(
        "tail",
        name,
        True,
        shapely.box(right, -sunk, left, top),
        span,
        1,
        s.wishes.thickness("tail"),
        s.wishes.stock_name("tail"),
        s.wishes.joint("tail"),
        contact,
        (*_station(s, name, span), length, _height(name, top, sunk)),
        left - right,
        top,
    )


def _board(
    s: Setting,
    name: str,
    span: tuple[float, float],
    void: shapely.Polygon,
    top: float,
    contact: Contact,
    underside: float,
    whose: str,
    slot: Contact | None = None,
) -> CradlePiece:
    key = _key(name)
    right, left, length = s.length_between(name, *span)
    half = s.wishes.play / 2
    inner = s.berth.between(*span)
    radius = s.wishes.bit_radius
    # horns are judged between the sides: a tongue in its groove holds nothing up
    made: Notched = notched(
        void, inner[0] + half, inner[1] - half, top, radius, s.wishes.wood, name
    )
    sunk = s.sunk(name)
    shape = parts_of(shapely.box(right, -sunk, left, top).difference(made.void))[0]
    met = slot or contact
    # square to a sloping underside the same offset reaches farther down
    slope = s.lift.mm + underside - met.seat - float(void.bounds[1])
    between = "lining in the notch, loaded" if met.bears else "lining and clearance in the notch"
    notch = total(
        f"{name}, notch above the floor",
        "cradle-notch" if met.bears else "cradle-free",
        Term("instrument's underside above the floor", s.lift.mm),
        Term(f"{whose} above that", underside),
        Term(between, met.seat, -1),
        Term("more where the underside slopes", slope, -1),
    )
    return CradlePiece(
        key,
        name,
        True,
        shape,
        span,
        1,
        s.wishes.thickness(key),
        s.wishes.stock_name(key),
        s.wishes.joint(key),
        contact,
        (*_station(s, name, span), length, _height(name, top, sunk), notch),
        made.beside,
        made.under,
        slot,
    )


def _station(s: Setting, name: str, span: tuple[float, float]) -> tuple[Size, Size]:
    middle = (span[0] + span[1]) / 2
    return (
        chosen(f"{name}, middle from the instrument's tail", middle, "cradle-station"),
        total(
            f"{name}, tail face from the inside of the end board",
            "cradle-station",
            Term("tail face from the instrument's tail", span[0]),
            Term("instrument's tail from the end board", -s.berth.tail),
        ),
    )


def _height(name: str, top: float, sunk: float) -> Size:
    return total(
        f"{name}, height",
        "cradle-height",
        Term("above the floor", top),
        Term("in the floor", sunk),
    )
