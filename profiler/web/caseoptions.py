"""The choices of a case, for the page's form; each is an option of `profiler case` of that name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from profiler.casework.wishes import CLOSURES, SIDES


@dataclass(frozen=True)
class Option:
    """One choice.

    Attributes:
        name: of the command line's option, with _ for -.
        label: on the form.
        help: what it means.
        kind: 'length', 'pair', 'mass', 'choice', 'flag', 'number', 'text' or 'list'.
        mm, inch: what stands for nothing typed, '' where the plan finds it.
        choices: of a choice.
    """

    name: str
    label: str
    help: str
    kind: str = "length"
    mm: str = ""
    inch: str = ""
    choices: tuple[str, ...] = ()


COVERS = ("plywood", "none", "black cherry", "walnut", "hard maple", "red oak")
GROUPS: tuple[tuple[str, tuple[Option, ...]], ...] = (
    (
        "Room inside",
        (
            Option("height", "Thickest height", "Above the bench, strings and bridge included."),
            Option("clearance", "Air at the sides", "On either side.", mm="6 mm", inch="1/4 in"),
            Option("clearance_ends", "Air at the ends", "At either end.", mm="8 mm", inch="3/8 in"),
            Option("above", "Air above", "Over the thickest place.", mm="6 mm", inch="1/4 in"),
            Option(
                "lining",
                "Lining",
                "Flock, felt or foam on every inside face.",
                mm="2 mm",
                inch="1/16 in",
            ),
            Option("foam", "Foam below", "Under the instrument.", mm="10 mm", inch="3/8 in"),
            Option(
                "line_first",
                "Line it first",
                "The lining goes in before the box is glued up, not last.",
                "flag",
            ),
        ),
    ),
    (
        "Wood",
        (
            Option("boards", "Boards' sheet", "What the shop calls it.", mm="12 mm", inch="1/2 in"),
            Option("boards_actual", "Boards measure", "What your caliper says."),
            Option("panels", "Sheet of top and bottom", "As sold.", mm="6.5 mm", inch="1/4 in"),
            Option("panels_actual", "Panels measure", "What your caliper says."),
            Option("walls", "Sheet of inner walls", "As sold.", mm="6.5 mm", inch="1/4 in"),
            Option("walls_actual", "Walls measure", "What your caliper says."),
            Option(
                "sheet",
                "Sheets at hand",
                "Along × across the grain: 1250x625mm, or boards=48x24in.",
                "list",
            ),
            Option("trim", "Trimmed off", "Every edge of a sheet.", mm="10 mm", inch="3/8 in"),
            Option("saw_kerf", "Kerf of the sheet saw", "", mm="3.2 mm", inch="1/8 in"),
        ),
    ),
    (
        "Box",
        (
            Option("kerf", "Kerf of the lid saw", "", mm="3.2 mm", inch="1/8 in"),
            Option("finger", "Finger width", "Found near the boards' thickness."),
            Option("board_width", "Boards at hand are wide", "The fingers follow."),
            Option("proud", "Panels stand out", "Of their rabbets.", mm="0 mm", inch="0 in"),
            Option("rabbet_width", "Rabbet, into the board", "Half of the board."),
            Option("bit_radius", "Radius of the bit", "", mm="6 mm", inch="1/4 in"),
            Option("groove_depth", "Groove depth", "A third of the board."),
            Option("groove_width", "Groove width", "The wall and 0.2 mm."),
        ),
    ),
    (
        "Hardware",
        (
            Option(
                "latch",
                "Latch, up × down",
                "From the parting line.",
                "pair",
                "18x28mm",
                "3/4x1 1/8in",
            ),
            Option(
                "hinge", "Hinge, up × down", "Leaves, likewise.", "pair", "16x16mm", "5/8x5/8in"
            ),
            Option("edge", "Leaf to edge", "", mm="3 mm", inch="1/8 in"),
            Option("leaf", "Thickness of a leaf", "", mm="1.2 mm", inch="3/64 in"),
            Option("screw", "Length of the screws", "That came with it."),
            Option("hardware_width", "Widest latch or hinge", "", mm="40 mm", inch="1 1/2 in"),
            Option("handle", "Length of the handle", "", mm="120 mm", inch="5 in"),
            Option("lid", "Height of the lid", "What the hardware needs."),
            Option("hardware_mass", "Mass of the hardware", "As 300g or 12oz.", "mass"),
            Option("mass", "Mass of the instrument", "As 450g or 4lb.", "mass"),
        ),
    ),
    (
        "Compartments beside the neck",
        (
            Option(
                "compartments",
                "Compartments",
                "auto takes what there is; both, front and back insist.",
                "choice",
                "auto",
                "auto",
                SIDES,
            ),
            Option("compartment_length", "Useful length", "At least.", mm="60 mm", inch="2 1/2 in"),
            Option("compartment_width", "Useful width", "At least.", mm="25 mm", inch="1 in"),
            Option("cover", "Cover", "", "choice", "plywood", "plywood", COVERS),
            Option("closure", "Closure", "", "choice", "hole", "hole", CLOSURES),
            Option("quarter_sawn", "Quarter-sawn", "The solid cover's wood.", "flag"),
            Option("moisture", "Change of moisture", "Over the year, in %.", "number", "4", "4"),
            Option("finger_hole", "Finger hole", "Diameter.", mm="22 mm", inch="7/8 in"),
            Option("magnet", "Magnet", "Diameter.", mm="5 mm", inch="3/16 in"),
            Option("washer", "Washer, in × out", "Diameters.", "pair", "6.4x18mm", "1/4x3/4in"),
        ),
    ),
    (
        "Cradle",
        (
            Option(
                "no_cradle",
                "Without the cradle",
                "The pieces that 'profiler cradle' planned for this job stay out.",
                "flag",
            ),
        ),
    ),
)
OPTIONS = {option.name: option for _, group in GROUPS for option in group}


def options_told(groups: tuple[tuple[str, tuple[Option, ...]], ...]) -> list[dict[str, Any]]:
    """A form, as the contract says."""
    return [
        {
            "label": label,
            "options": [
                {
                    "name": o.name,
                    "label": o.label,
                    "help": o.help,
                    "kind": o.kind,
                    "default": {"mm": o.mm, "in": o.inch} if o.mm else None,
                    **({"choices": list(o.choices)} if o.choices else {}),
                }
                for o in group
            ],
        }
        for label, group in groups
    ]
