"""A cradle piece: its finished shape, where it stands, how it is let in."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from profiler.casework.cradle.linings import Contact
from profiler.casework.trace import Size


@dataclass(frozen=True)
class CradlePiece:
    """One piece, cradle frame (see `berth`).

    Attributes:
        key: the wish that it answers, of `wishes.PIECES`.
        name: in words.
        upright: True for a board that stands across the case, its shape in y and z; False for a
            block that lies flat, its shape in x and y.
        shape: finished, mm, tongues of its joints included.
        span: x of its tail and head face; of a flat block z of its lower and upper face.
        layers: how many thicknesses of stock make it.
        thickness: of the stock.
        stock: what the sheet is called.
        joint: of `wishes.LET_IN`.
        contact: with the instrument.
        sizes: with their rules.
        beside, under: least wood beside and under the notch, mm; of a flat block its thinnest
            place and 0.
        slot: contact of a slot in it, where there is one.
        note: what the saw has to know.
        at_least: what it holds is known by its lowest point alone: the gap below is at least so
            wide.
    """

    key: str
    name: str
    upright: bool
    shape: shapely.Polygon
    span: tuple[float, float]
    layers: int
    thickness: float
    stock: str
    joint: str
    contact: Contact
    sizes: tuple[Size, ...]
    beside: float
    under: float
    slot: Contact | None = None
    note: str = ""
    at_least: bool = False

    def size(self, name: str) -> Size:
        """The size whose name ends so.

        Raises:
            KeyError: it has none.
        """
        for size in self.sizes:
            if size.name.endswith(name):
                return size
        raise KeyError(name)

    @property
    def middle(self) -> float:
        """x of its middle, mm."""
        if self.upright:
            return (self.span[0] + self.span[1]) / 2
        x0, _, x1, _ = self.shape.bounds
        return float(x0 + x1) / 2


@dataclass(frozen=True)
class Unmade:
    """A piece that cannot be made, and why."""

    key: str
    name: str
    reason: str
