"""Drawings with geometry that is easy to say in words, for the pens to put down."""

from __future__ import annotations

from profiler.drawing.model import Area, Drawing, Item, Layer, Line, Stroke, Text, rectangle

#: an L with a dent, mm; area by the shoelace by hand: 120 * 80 - 60 * 30 = 7800
ELL = ((30.0, 20.0), (150.0, 20.0), (150.0, 70.0), (90.0, 70.0), (90.0, 100.0), (30.0, 100.0))
ELL_AREA = 120 * 50 + 60 * 30
ELL_LENGTH = 120 + 50 + 60 + 30 + 60 + 80

AWKWARD_NAMES = (
    "",
    " ",
    'O\'Brien "the fiddle"',
    "<b>bold</b> & </text><script>alert(1)</script>",
    "\\P{\\C1;red} %%d %%c ^M",
    "Dvořák Łukasz Þórður Ñandú ßÆØ",
    "Юрий Αλέξανδρος 中村 さくら שלום مرحبا",
    "🎻🎸 e\u0301 \u200d\u202e\ufeff",
    "tab\tnew\nline\r\x00\x1b[31m\x7f\u2028\ufffe\uffff",
    "\ud800 lone surrogate \udfff",
    "x" * 10_000,
    "word " * 2_000,
    "(unbalanced ) paren \\",
    "]]> -- <!-- &#0; %PDF",
)


def drawing(*items: Item, width: float = 210.0, height: float = 140.0, title: str = "t") -> Drawing:
    """One layer of items."""
    return Drawing(title, width, height, (Layer("cut", tuple(items)),))


def plain() -> Drawing:
    """The L as a closed line, a bar, and words, in three layers."""
    return Drawing(
        "plain sheet",
        210.0,
        140.0,
        (
            Layer("cut", (Line(ELL, Stroke(0.2), closed=True),)),
            Layer("bars", (Area((rectangle(30.0, 8.0, 130.0, 9.0),)),)),
            Layer(
                "text", (Text(40.0, 40.0, "lower left", 5.0), Text(40.0, 30.0, "Größe ½ ±", 5.0))
            ),
        ),
    )


def with_name(name: str) -> Drawing:
    """A sheet with somebody's name everywhere that a name can be."""
    return Drawing(
        name,
        210.0,
        140.0,
        (
            Layer("cut", (Line(ELL, closed=True),)),
            Layer(
                name[:50] or "text",
                (Text(20.0, 110.0, name, 4.0), Text(20, 120, name, 4.0, bold=True)),
            ),
        ),
    )
