"""Height cards: small printed cards laid on the instrument, each with identities of its own.

A card's scale in the photo, against the mat's, gives the height of the plane it lies on. Long
cards are for the soundboard, short ones for the fretboard and the headstock. The program looks
where a card lies; any card may lie on any part.
"""

from __future__ import annotations

from dataclasses import dataclass

from profiler.target.panel import Bar, Cluster, Panel, Rect
from profiler.target.tags import CARD_CODE_START


@dataclass(frozen=True)
class CardKind:
    """The shape of a card and what is printed on it; centre-based, mm."""

    name: str
    length: float
    width: float
    #: (x of the tag, offsets of its checks) for each tag, from the card's centre
    tags: tuple[tuple[float, tuple[tuple[float, float], ...]], ...]
    tag_mm: float
    check_mm: float


LONG = CardKind(
    "long",
    length=112.0,
    width=34.0,
    tags=(
        (
            -24.0,
            ((-16.0, 9.5), (-16.0, -9.5), (-26.0, 9.5), (-26.0, -9.5), (16.0, 9.5), (16.0, -9.5)),
        ),
        (24.0, ((16.0, 9.5), (16.0, -9.5), (26.0, 9.5), (26.0, -9.5))),
    ),
    tag_mm=18.0,
    check_mm=4.0,
)
SHORT = CardKind(
    "short",
    length=72.0,
    width=22.0,
    tags=(
        (
            0.0,
            (
                (-13.5, 5.0),
                (-13.5, -5.0),
                (-29.0, 5.0),
                (-29.0, -5.0),
                (13.5, 5.0),
                (13.5, -5.0),
                (29.0, 5.0),
                (29.0, -5.0),
            ),
        ),
    ),
    tag_mm=14.4,
    check_mm=3.6,
)
#: card 1 to card 7, as they come on one page
KINDS = (LONG, LONG, LONG, SHORT, SHORT, SHORT, SHORT)
#: printed length of the two check bars on the page of cards, mm
BAR_X_MM = 170.0
BAR_Y_MM = 220.0
#: a card of office paper or light board, mm; its printed face is this much above the wood
THICKNESS_MM = 0.2


def card_panels() -> tuple[Panel, ...]:
    """Every card, numbered from 1; panel frame with the origin at the card's lower left corner."""
    panels = []
    code = CARD_CODE_START
    for number, kind in enumerate(KINDS, start=1):
        clusters = []
        for x, offsets in kind.tags:
            clusters.append(
                Cluster(
                    code, kind.length / 2 + x, kind.width / 2, kind.tag_mm, kind.check_mm, offsets
                )
            )
            code += 1
        face = Rect(0.0, 0.0, kind.length, kind.width)
        panels.append(Panel(f"card {number}", kind.length, kind.width, face, face, tuple(clusters)))
    return tuple(panels)


def card_bars() -> tuple[Bar, Bar]:
    """The two check bars, across and up, with the origin at their common corner."""
    return Bar(0.0, 0.0, BAR_X_MM, 0.0), Bar(0.0, 0.0, 0.0, BAR_Y_MM)
