"""Height cards: small printed cards laid on the instrument, each with identities of its own.

A card's scale in the photo, against the mat's, gives the height of the plane it lies on. Long
cards are for the soundboard, short ones for the fretboard and the headstock. The program looks
where a card lies; any card may lie on any part.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from profiler.target.panel import Bar, Cluster, Panel, Rect
from profiler.target.tags import CARD_CODE_START


@dataclass(frozen=True)
class Chequer:
    """A block of black and white squares; every second inner corner of it measures.

    A card is small, so its slope and its height trade places in the photo unless its width is
    known as well as its length. Many corners, out to its long edges, tell both.

    Attributes:
        x0: mm from the card's centre to the block's left edge; across, it is centred.
        columns, rows: squares.
        tag: index of the tag that names its corners.
    """

    x0: float
    columns: int
    rows: int
    tag: int

    def corners(self, square: float) -> Iterator[tuple[float, float]]:
        """(x, y) from the card's centre of the inner corners whose upper left square is black."""
        for column in range(1, self.columns):
            for row in range(1, self.rows):
                if (column + row) % 2 == 0:
                    yield self.x0 + column * square, (row - self.rows / 2) * square


@dataclass(frozen=True)
class CardKind:
    """The shape of a card and what is printed on it, mm.

    Attributes:
        tags: x of each tag from the card's centre.
        check_mm: side of one square of the chequers.
    """

    name: str
    length: float
    width: float
    tags: tuple[float, ...]
    tag_mm: float
    check_mm: float
    chequers: tuple[Chequer, ...]

    def offsets(self, tag: int) -> tuple[tuple[float, float], ...]:
        """Corners that a tag names, from the tag's centre."""
        return tuple(
            (round(x - self.tags[tag], 6), y)
            for chequer in self.chequers
            if chequer.tag == tag
            for x, y in chequer.corners(self.check_mm)
        )


LONG = CardKind(
    "long",
    length=112.0,
    width=34.0,
    tags=(-24.0, 24.0),
    tag_mm=18.0,
    check_mm=4.0,
    chequers=(
        Chequer(-54.5, 4, 8, 0),
        Chequer(-12.6, 3, 8, 0),
        Chequer(0.6, 3, 8, 1),
        Chequer(38.5, 4, 8, 1),
    ),
)
SHORT = CardKind(
    "short",
    length=72.0,
    width=22.0,
    tags=(0.0,),
    tag_mm=14.4,
    check_mm=3.0,
    chequers=(Chequer(-34.5, 8, 7, 0), Chequer(10.5, 8, 7, 0)),
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
        for tag, x in enumerate(kind.tags):
            clusters.append(
                Cluster(
                    code,
                    kind.length / 2 + x,
                    kind.width / 2,
                    kind.tag_mm,
                    kind.check_mm,
                    kind.offsets(tag),
                )
            )
            code += 1
        face = Rect(0.0, 0.0, kind.length, kind.width)
        panels.append(Panel(f"card {number}", kind.length, kind.width, face, face, tuple(clusters)))
    return tuple(panels)


def card_bars() -> tuple[Bar, Bar]:
    """The two check bars, across and up, with the origin at their common corner."""
    return Bar(0.0, 0.0, BAR_X_MM, 0.0), Bar(0.0, 0.0, 0.0, BAR_Y_MM)
