"""What a maker can choose about a cradle, in mm, with a default for each."""

from __future__ import annotations

from dataclasses import dataclass, field

from profiler.casework.cradle.linings import Scheme

PIECES = ("neck", "headstock", "tail", "blocks")
#: body blocks, by end and side; `at` may name them
BLOCKS = ("tail left", "tail right", "shoulder left", "shoulder right")
#: 'glued': butted between sides and on the floor; 'groove': the ends stand in grooves of the side
#: boards; 'dado': the lower edge stands in a channel across the floor
LET_IN = ("glued", "groove", "dado")


@dataclass(frozen=True)
class Wood:
    """Limits that keep wood from breaking (common practice, no source), mm.

    Attributes:
        beside: least width of a horn beside a notch.
        under: least height left under a notch.
        slender: a horn is at most this many times as tall as it is wide.
        block: least thickness of a body block between its curve and the board behind it.
    """

    beside: float = 12.0
    under: float = 12.0
    slender: float = 3.0
    block: float = 6.0


@dataclass(frozen=True)
class CradleWishes:
    """One maker's choices.

    Attributes:
        pieces: of `PIECES`, which are wanted.
        scheme: linings and clearances.
        stock: actual thickness by piece; '' stands for the others.
        stock_names: what the sheets are called, likewise.
        let_in: of `LET_IN`, likewise.
        at: x of the middle of neck rest, headstock block and of each of `BLOCKS` from the
            instrument's tail; a piece that is not named here stands where the plan finds the best
            place.
        hold: how much of the depth of neck and headstock stands in its notch, as a share.
        bit_radius: of the smallest cutter, or what the scroll saw can turn in; 0 for corners left
            as they are.
        groove_depth, dado_depth: of what the pieces are let into.
        play: that a piece is shorter than the room between sides, in all.
        wood: limits.
        u95_cut: how far a careful cut strays, 95 % (common practice, no source).
        u95_place: how far a glued piece stands from its station, 95 % (common practice, no
            source).
    """

    pieces: tuple[str, ...] = PIECES
    scheme: Scheme = field(default_factory=Scheme)
    stock: dict[str, float] = field(default_factory=lambda: {"": 12.0})
    stock_names: dict[str, str] = field(default_factory=lambda: {"": "12 mm birch"})
    let_in: dict[str, str] = field(default_factory=lambda: {"": "glued"})
    at: dict[str, float] = field(default_factory=dict)
    hold: float = 0.75
    bit_radius: float = 3.2
    groove_depth: float = 4.0
    dado_depth: float = 2.0
    play: float = 0.5
    wood: Wood = Wood()
    u95_cut: float = 0.5
    u95_place: float = 1.0

    def thickness(self, piece: str) -> float:
        return self.stock.get(piece, self.stock[""])

    def stock_name(self, piece: str) -> str:
        return self.stock_names.get(piece, self.stock_names[""])

    def joint(self, piece: str) -> str:
        return self.let_in.get(piece, self.let_in[""])
