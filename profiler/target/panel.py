"""One rigid printed piece, a mat sheet or a height card: tags, saddles and their ink.

Panel frame: mm as designed (before the printer's scale), origin at the paper's lower left corner,
x right, y up, seen from the printed side.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from profiler.target.tags import MODULES, black_modules


class Ink(Enum):
    """What the paper shows at a place."""

    TINT = "tint"
    WHITE = "white"
    BLACK = "black"


@dataclass(frozen=True)
class Rect:
    """An upright rectangle, mm."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        return self.y1 - self.y0

    def grown(self, by: float) -> Rect:
        """The rectangle with every side moved outward."""
        return Rect(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)


@dataclass(frozen=True)
class Cluster:
    """A tag with the saddle points that it names."""

    code: int
    #: panel frame, mm, the tag's centre
    x: float
    y: float
    #: side of the tag's black square, mm
    tag_mm: float
    #: side of one square of a 2 by 2 check, mm
    check_mm: float
    #: centre of each check relative to the tag's centre, mm
    offsets: tuple[tuple[float, float], ...]

    def saddles(self) -> NDArray[np.float64]:
        """(N, 2) mm, panel frame: the points that measure."""
        return np.array([(self.x + dx, self.y + dy) for dx, dy in self.offsets])

    def tag_corners(self) -> NDArray[np.float64]:
        """(4, 2) mm, panel frame: the black square from its top left corner, clockwise."""
        h = self.tag_mm / 2
        return np.array(
            [
                (self.x - h, self.y + h),
                (self.x + h, self.y + h),
                (self.x + h, self.y - h),
                (self.x - h, self.y - h),
            ]
        )

    def footprint(self) -> Rect:
        """The smallest rectangle round everything printed here, quiet zone included."""
        quiet = self.tag_mm / 2 + self.tag_mm / MODULES
        xs = [dx for dx, _ in self.offsets]
        ys = [dy for _, dy in self.offsets]
        c = self.check_mm
        return Rect(
            self.x + min([-quiet, *(v - c for v in xs)]),
            self.y + min([-quiet, *(v - c for v in ys)]),
            self.x + max([quiet, *(v + c for v in xs)]),
            self.y + max([quiet, *(v + c for v in ys)]),
        )

    def ink(self) -> tuple[tuple[Rect, Ink], ...]:
        """Everything printed here, in the order in which it is painted."""
        return self._ink

    @cached_property
    def _ink(self) -> tuple[tuple[Rect, Ink], ...]:
        # asked for again and again while a photo is read
        return tuple(self._painted())

    def _painted(self) -> Iterator[tuple[Rect, Ink]]:
        h = self.tag_mm / 2
        module = self.tag_mm / MODULES
        yield Rect(self.x - h, self.y - h, self.x + h, self.y + h).grown(module), Ink.WHITE
        for row, blacks in enumerate(black_modules(self.code)):
            top = self.y + h - row * module
            column = 0
            while (
                column < MODULES
            ):  # one rectangle a run, so that no hairline shows between modules
                if not blacks[column]:
                    column += 1
                    continue
                end = column
                while end < MODULES and blacks[end]:
                    end += 1
                left = self.x - h
                yield (
                    Rect(left + column * module, top - module, left + end * module, top),
                    Ink.BLACK,
                )
                column = end
        yield from self._checks()

    def _checks(self) -> Iterator[tuple[Rect, Ink]]:
        """Four squares round each saddle; neighbouring checks share squares, painted once."""
        c = self.check_mm
        black: dict[tuple[float, float], bool] = {}
        for dx, dy in self.offsets:
            for left, low, is_black in (
                (-c, 0.0, True),
                (0.0, -c, True),
                (-c, -c, False),
                (0, 0, False),
            ):
                black[round(dx + left, 4), round(dy + low, 4)] = is_black
        rows: dict[float, list[float]] = {}
        for left, low in sorted(black):
            rows.setdefault(low, []).append(left)
        for low, lefts in rows.items():
            # white below everything, one rectangle a run: no tint shows between squares
            start = end = lefts[0]
            for left in [*lefts[1:], np.inf]:
                if abs(left - end - c) < 1e-3:
                    end = left
                    continue
                yield self._at(start, low, end + c - start, c), Ink.WHITE
                start = end = left
        for (left, low), is_black in black.items():
            if is_black:
                yield self._at(left, low, c, c), Ink.BLACK

    def _at(self, left: float, low: float, width: float, height: float) -> Rect:
        x, y = self.x + left, self.y + low
        return Rect(x, y, x + width, y + height)


@dataclass(frozen=True)
class Bar:
    """A check bar that the user lays a steel rule on; ends are the outer ends of the bar."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def length(self) -> float:
        return float(np.hypot(self.x1 - self.x0, self.y1 - self.y0))


@dataclass(frozen=True)
class Panel:
    """A rigid printed piece.

    Attributes:
        name: what is printed on it and named in messages, as 'sheet 3' or 'card 2'.
        width: paper width, mm.
        height: paper height, mm.
        tinted: the tinted rectangle; outside it the paper is white.
        plain: inside it there is only tint and clusters, nothing else printed.
        clusters: tags with their saddles.
    """

    name: str
    width: float
    height: float
    tinted: Rect
    plain: Rect
    clusters: tuple[Cluster, ...]
