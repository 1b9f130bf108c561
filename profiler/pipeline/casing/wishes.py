"""Typed options to the wishes of a case, with the defaults of mm and of inches."""

from __future__ import annotations

from dataclasses import dataclass, replace

from profiler.casework.body import Body, from_measurement, from_sizes
from profiler.casework.stock import stock_findings, stock_for
from profiler.casework.wishes import (
    CLOSURES,
    SIDES,
    CaseWishes,
    Hardware,
    Joints,
    Room,
    SheetSize,
    Storage,
)
from profiler.errors import RequestError
from profiler.findings import Finding
from profiler.instrument.record import Measurement
from profiler.pipeline.casing.typed import Typed, parse_pair
from profiler.units import MM_PER_INCH, format_mm

#: sizes that only an instrument without a job takes
TYPED_SIZES = ("length", "width", "body_length", "neck_width", "head_width", "head_length")
USES = ("boards", "panels", "walls")
IN = MM_PER_INCH


@dataclass(frozen=True)
class Defaults:
    """What a workshop with this rule has at hand, mm (common practice, no source)."""

    nominal: tuple[float, float, float]
    kerf: float
    step: float
    room: Room
    hardware: Hardware
    sheets: tuple[SheetSize, ...]
    trim: float
    radius: float
    storage: Storage


DEFAULTS = {
    "mm": Defaults(
        (12.0, 6.5, 6.5),
        3.2,
        0.5,
        Room(),
        Hardware(),
        (SheetSize(1250.0, 625.0), SheetSize(2500.0, 1250.0)),
        10.0,
        6.0,
        Storage(),
    ),
    "in": Defaults(
        (IN / 2, IN / 4, IN / 4),
        IN / 8,
        IN / 32,
        Room(side=IN / 4, ends=3 * IN / 8, above=IN / 4, lining=IN / 16, foam=3 * IN / 8),
        Hardware(
            latch_upper=3 * IN / 4,
            latch_lower=9 * IN / 8,
            hinge_upper=5 * IN / 8,
            hinge_lower=5 * IN / 8,
            edge=IN / 8,
            leaf=3 * IN / 64,
            width=3 * IN / 2,
            handle=5 * IN,
        ),
        (SheetSize(48 * IN, 24 * IN), SheetSize(96 * IN, 48 * IN)),
        3 * IN / 8,
        IN / 4,
        Storage(
            least_length=2.5 * IN,
            least_width=IN,
            wall_gap=IN / 32,
            cover_gap=IN / 32,
            hole=7 * IN / 8,
            magnet=3 * IN / 16,
            washer_inner=IN / 4,
            washer_outer=3 * IN / 4,
            magnet_high=IN / 8,
            cleat=IN / 2,
        ),
    ),
}


def body_from(typed: Typed, measurement: Measurement | None) -> Body:
    """The instrument, from a job or from typed sizes.

    Raises:
        RequestError: a size is missing, or stands in both.
    """
    height = typed.length("height")
    if measurement is not None:
        for name in TYPED_SIZES:
            if typed.text(name) is not None:
                raise RequestError(
                    f"--{name.replace('_', '-')} goes without a job: the job has measured that."
                    " Only --height may be typed beside it."
                )
        if height is not None and height <= 0:
            raise RequestError("--height: the thickest height must be above zero.")
        return from_measurement(measurement, height)
    sizes = {name: typed.length(name) for name in TYPED_SIZES}
    length, width = sizes["length"], sizes["width"]
    if length is None or width is None or height is None:
        lacking = [
            f"--{n}"
            for n, v in (("length", length), ("width", width), ("height", height))
            if v is None
        ]
        raise RequestError(
            f"A case needs an instrument: name a measured job, or type its sizes."
            f" Not there: {', '.join(lacking)}."
        )
    return from_sizes(
        length,
        width,
        height,
        sizes["body_length"],
        sizes["neck_width"],
        sizes["head_width"],
        sizes["head_length"],
    )


def wishes_from(typed: Typed) -> tuple[CaseWishes, tuple[Finding, ...]]:
    """All choices, and what had to be said about the stock.

    Raises:
        RequestError: something that makes no sense.
    """
    d = DEFAULTS[typed.units]
    stocks = [
        stock_for(use, typed.length_or(use, nominal), typed.length(f"{use}_actual"))
        for use, nominal in zip(USES, d.nominal, strict=True)
    ]
    wishes = CaseWishes(
        boards=stocks[0],
        panels=stocks[1],
        walls=stocks[2],
        room=_room(typed, d),
        joints=_joints(typed, d),
        hardware=_hardware(typed, d),
        storage=_storage(typed, d),
        sheets=_sheets(typed, d),
        trim=_within(typed, "trim", typed.length_or("trim", d.trim), 0.0, 200.0),
        saw=_within(typed, "saw_kerf", typed.length_or("saw_kerf", d.kerf), 0.0, 8.0),
        step=d.step,
        instrument_mass=typed.mass("mass"),
    )
    return wishes, stock_findings(stocks)


def _room(typed: Typed, d: Defaults) -> Room:
    side = typed.length_or("clearance", d.room.side)
    return Room(
        side=side,
        ends=typed.length_or("clearance_ends", max(side, d.room.ends)),
        above=typed.length_or("above", d.room.above),
        lining=typed.length_or("lining", d.room.lining),
        lining_now=typed.text("line_first") == "True",
        foam=typed.length_or("foam", d.room.foam),
    )


def _joints(typed: Typed, d: Defaults) -> Joints:
    return Joints(
        kerf=typed.length_or("kerf", d.kerf),
        finger=typed.length("finger"),
        board_width=typed.length("board_width"),
        proud=typed.length_or("proud", 0.0),
        rabbet_width=typed.length("rabbet_width"),
        corner_radius=typed.length_or("bit_radius", d.radius),
        groove_depth=typed.length("groove_depth"),
        groove_width=typed.length("groove_width"),
    )


def _hardware(typed: Typed, d: Defaults) -> Hardware:
    latch = typed.pair("latch") or (d.hardware.latch_upper, d.hardware.latch_lower)
    hinge = typed.pair("hinge") or (d.hardware.hinge_upper, d.hardware.hinge_lower)
    for name, pair in (("latch", latch), ("hinge", hinge)):
        for mm in pair:
            _within(typed, name, mm, 1.0, 1000.0)
    return Hardware(
        *latch,
        *hinge,
        edge=_within(typed, "edge", typed.length_or("edge", d.hardware.edge), 0.0, 100.0),
        leaf=_within(typed, "leaf", typed.length_or("leaf", d.hardware.leaf), 0.0, 10.0),
        screw=typed.length("screw"),
        width=_within(
            typed,
            "hardware_width",
            typed.length_or("hardware_width", d.hardware.width),
            1.0,
            300.0,
        ),
        handle=_within(typed, "handle", typed.length_or("handle", d.hardware.handle), 30.0, 400.0),
        lid=typed.length("lid"),
        mass=typed.mass("hardware_mass"),
    )


def _storage(typed: Typed, d: Defaults) -> Storage:
    plain = d.storage
    sides = _choice(typed, "compartments", SIDES, plain.sides)
    washer = typed.pair("washer") or (plain.washer_inner, plain.washer_outer)
    moisture = float(typed.text("moisture") or plain.moisture_change)
    if not 0.0 <= moisture <= 20.0:
        raise RequestError(
            f"--moisture {moisture:g}: a change of moisture content lies between 0 and 20 %."
        )
    return replace(
        plain,
        sides=sides,
        least_length=_within(
            typed,
            "compartment_length",
            typed.length_or("compartment_length", plain.least_length),
            10.0,
            3000.0,
        ),
        least_width=_within(
            typed,
            "compartment_width",
            typed.length_or("compartment_width", plain.least_width),
            10.0,
            1000.0,
        ),
        cover=(typed.text("cover") or plain.cover).strip().lower().replace("_", " "),
        closure=_choice(typed, "closure", CLOSURES, plain.closure),
        quarter_sawn=typed.text("quarter_sawn") == "True",
        moisture_change=moisture,
        hole=_within(typed, "finger_hole", typed.length_or("finger_hole", plain.hole), 8.0, 80.0),
        magnet=_within(typed, "magnet", typed.length_or("magnet", plain.magnet), 1.0, 40.0),
        washer_inner=washer[0],
        washer_outer=washer[1],
    )


def _choice(typed: Typed, name: str, known: tuple[str, ...], default: str) -> str:
    word = (typed.text(name) or default).strip().lower()
    if word not in known:
        raise RequestError(f"--{name}: '{word}' is not known. Known: {', '.join(known)}.")
    return word


def _within(typed: Typed, name: str, mm: float, low: float, high: float) -> float:
    if not low <= mm <= high:
        raise RequestError(
            f"--{name.replace('_', '-')}: {format_mm(mm)} cannot be: give {low:g} to {high:g} mm."
            " Was the unit meant?"
        )
    return mm


def _sheets(typed: Typed, d: Defaults) -> dict[str, tuple[SheetSize, ...]]:
    """Sizes at hand by use, as boards=1220x610mm; without a use, for all."""
    found: dict[str, list[SheetSize]] = {}
    for text in typed.many("sheet"):
        use, equals, size = text.partition("=")
        uses = (use.strip().lower(),) if equals else USES
        if equals and uses[0] not in USES:
            raise RequestError(
                f"--sheet: '{use}' is not what sheets are for. Known: {', '.join(USES)}; as"
                " boards=1220x610mm, or without for all."
            )
        a, b = parse_pair(size if equals else text, typed.units, "--sheet")
        for mm in (a, b):
            _within(typed, "sheet", mm, 50.0, 6000.0)
        for one in uses:
            found.setdefault(one, []).append(SheetSize(a, b))
    return {use: tuple(found.get(use, d.sheets)) for use in USES}
