"""The choices of a cradle, for the page's form; each is an option of `profiler cradle`."""

from __future__ import annotations

from profiler.web.caseoptions import Option

GROUPS: tuple[tuple[str, tuple[Option, ...]], ...] = (
    (
        "Pieces",
        (
            Option(
                "pieces",
                "Pieces",
                "neck, headstock, tail, blocks, with commas between; all where nothing is typed.",
                "text",
            ),
            Option(
                "at",
                "Stations",
                "Middle of a piece from the instrument's tail: neck=496mm, shoulder left=220mm.",
                "list",
            ),
        ),
    ),
    (
        "Linings and air",
        (
            Option(
                "lining",
                "Linings",
                "neck=leather, neck=felt:4mm or body=foam:15mm:30%; for body, neck, headstock,"
                " tail, button, blocks.",
                "list",
            ),
            Option("clearance", "Air beside the lining", "As tail=3mm.", "list"),
        ),
    ),
    (
        "Wood",
        (
            Option("stock", "Sheet", "As sold: 12mm, or neck=18mm.", "list"),
            Option("stock_actual", "Sheet measures", "What your caliper says of it.", "list"),
            Option(
                "hold",
                "Held deep",
                "Share of the neck's depth in its notch.",
                "number",
                "0.75",
                "0.75",
            ),
            Option("let_in", "Let in", "glued, groove or dado; neck=groove.", "list"),
            Option("groove_depth", "Groove depth", "", mm="4 mm", inch="5/32 in"),
            Option("dado_depth", "Dado depth", "", mm="2 mm", inch="5/64 in"),
            Option("bit_radius", "Radius of the bit", "", mm="3 mm", inch="1/8 in"),
            Option("wood_beside", "Wood beside a notch", "At least.", mm="12 mm", inch="15/32 in"),
            Option("wood_under", "Wood under a notch", "At least.", mm="12 mm", inch="15/32 in"),
        ),
    ),
    (
        "The case around it",
        (
            Option(
                "inside_width",
                "Between the side boards",
                "Instrument, air and lining, where nothing is typed.",
            ),
        ),
    ),
    (
        "What the job does not know yet",
        (
            Option("neck_at", "A place of the neck", "From the tail, for a section by hand."),
            Option(
                "neck_shape",
                "Shape there",
                "",
                "choice",
                "round",
                "round",
                ("round", "D", "V", "soft V", "flat oval"),
            ),
            Option(
                "neck_depth",
                "Depth there",
                "With calipers, from the top of the fingerboard; 22, or 22±0.3.",
            ),
            Option("neck_width", "Width there", "The outline's, where nothing is typed."),
            Option(
                "neck_height",
                "Neck above the bench",
                "To its underside at the rest, the instrument on its back: it counts most.",
            ),
            Option("side", "Side of the body", "Lower × upper edge above the bench.", "pair"),
            Option("overhang", "Plates stand out", "Over the ribs.", mm="0 mm", inch="0 in"),
            Option("plate", "Plate's edge", "Its thickness.", mm="4 mm", inch="5/32 in"),
            Option("button", "Strap button", "Its diameter × length.", "pair"),
            Option("button_height", "Strap button's height", "From the bench to its middle."),
            Option("tuner_height", "Tuner buttons' height", "From the bench to their middle."),
            Option("housing", "Tuners behind the head", "Stand out.", mm="7 mm", inch="9/32 in"),
        ),
    ),
    (
        "Lines beside the cut",
        (
            Option("trace", "Inside", "For a pencil or a bearing that runs round."),
            Option("tool_offset", "Outside", "For a machine's tool."),
        ),
    ),
)
OPTIONS = {option.name: option for _, group in GROUPS for option in group}
