"""Everything that a maker can choose, in mm, with a default for each."""

from __future__ import annotations

from dataclasses import dataclass, field

from profiler.casework.stock import Stock
from profiler.units import MM_PER_INCH

SIDES = ("auto", "both", "front", "back", "none")
CLOSURES = ("hole", "magnet")


@dataclass(frozen=True)
class Room:
    """Space round the instrument, mm.

    Attributes:
        side, ends, above: clearance on either side, at either end, over the thickest place.
        lining: thickness of flock, felt or foam on every inside face.
        lining_now: lined before the box is glued up, or later; the room is left in any case.
        foam: under the instrument; it stands on this.
        foam_loaded: the same under the instrument's weight; None where nobody knows.
        behind: more room behind the tail, for a rest that stands there.
    """

    side: float = 6.0
    ends: float = 8.0
    above: float = 6.0
    lining: float = 2.0
    lining_now: bool = False
    foam: float = 10.0
    foam_loaded: float | None = None
    behind: float = 0.0


@dataclass(frozen=True)
class Joints:
    """How the box is joined; None leaves the choice to the plan.

    Attributes:
        kerf: of the saw that parts the lid.
        finger: width of a finger.
        board_width: of all four boards, which is the box's height without panels' proud part.
        proud: what each panel stands out of its rabbet.
        rabbet_width: into the board.
        panel_play: panel less rabbet, in all.
        corner_radius: of the bit that makes the rabbet; the panels' corners are rounded to it.
        groove_depth: of the grooves in the boards.
        groove_width: of the cutter at hand; None for a groove made to the wall.
        groove_play: groove less wall, in thickness.
        tongue_play: what a wall stays short of a groove's ground.
    """

    kerf: float = MM_PER_INCH / 8
    finger: float | None = None
    board_width: float | None = None
    proud: float = 0.0
    rabbet_width: float | None = None
    panel_play: float = 0.5
    corner_radius: float = 6.35
    groove_depth: float | None = None
    groove_width: float | None = None
    groove_play: float = 0.2
    tongue_play: float = 0.5


@dataclass(frozen=True)
class Hardware:
    """Latches, hinges, handle: leaf heights above and below the parting line, mm.

    Attributes:
        latch_upper, latch_lower, hinge_upper, hinge_lower: of the leaves.
        edge: clearance between a leaf and the edge of the box.
        leaf: thickness of a leaf.
        screw: length of the screws; None for the longest that does not come through.
        width: of the widest latch or hinge along the case.
        handle: length along the case.
        lid: height of the lid outside, panel included; None for what the hardware needs.
        mass: of all hardware together, kg; None where nobody weighed it.
    """

    latch_upper: float = 18.0
    latch_lower: float = 28.0
    hinge_upper: float = 16.0
    hinge_lower: float = 16.0
    edge: float = 3.0
    leaf: float = 1.2
    screw: float | None = None
    width: float = 40.0
    handle: float = 120.0
    lid: float | None = None
    mass: float | None = None


@dataclass(frozen=True)
class Storage:
    """Compartments beside the neck.

    Attributes:
        sides: one of `SIDES`; 'auto' takes what there is, the others insist.
        least_length, least_width: what a compartment must offer to be worth its walls.
        wall_gap: between the walls' upper edges and the saw cut.
        cover: 'plywood', 'none', or a wood of `wood.MOVEMENT`.
        closure: one of `CLOSURES`.
        quarter_sawn: the cover's wood; its radial coefficient counts then.
        moisture_change: percentage points that a solid cover has to live through.
        cover_gap: on each side.
        hole: diameter of the finger hole.
        magnet: diameter.
        washer_inner, washer_outer: diameters of the washer that the magnet bears on.
        magnet_high: thickness of the magnet.
        cleat: height and least width of the strips that the cover lies on.
    """

    sides: str = "auto"
    least_length: float = 60.0
    least_width: float = 25.0
    wall_gap: float = 1.0
    cover: str = "plywood"
    closure: str = "hole"
    quarter_sawn: bool = False
    moisture_change: float = 4.0
    cover_gap: float = 0.8
    hole: float = 22.0
    magnet: float = 5.0
    washer_inner: float = 6.4
    washer_outer: float = 18.0
    magnet_high: float = 3.0
    cleat: float = 12.0


@dataclass(frozen=True)
class SheetSize:
    """A sheet at hand: along and across the grain of its face, mm."""

    length: float
    width: float


#: quarter and full sheets of 4 × 8 ft (common practice, no source)
SHEETS_AT_HAND = (SheetSize(1220.0, 610.0), SheetSize(2440.0, 1220.0))


@dataclass(frozen=True)
class CaseWishes:
    """One maker's choices for one case.

    Attributes:
        boards, panels, walls: what is cut from what.
        sheets: sizes at hand by `Stock.use`; `SHEETS_AT_HAND` where nothing was said.
        trim: cut off each edge of a sheet.
        saw: kerf of the saw that cuts the sheets up.
        step: sizes that may be chosen freely are rounded up to this, mm.
        instrument_mass: kg, None where nobody weighed it.
        others: what else is cut from what, as cradle pieces.
    """

    boards: Stock
    panels: Stock
    walls: Stock
    room: Room = Room()
    joints: Joints = Joints()
    hardware: Hardware = Hardware()
    storage: Storage = Storage()
    sheets: dict[str, tuple[SheetSize, ...]] = field(default_factory=dict)
    trim: float = 10.0
    saw: float = MM_PER_INCH / 8
    step: float = 0.5
    instrument_mass: float | None = None
    others: tuple[Stock, ...] = ()
