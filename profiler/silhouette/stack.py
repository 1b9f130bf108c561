"""The sheets as they lie on one another: which of them is seen at a place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, contains_xy

from profiler.scene.record import PlacedPanel

Array = NDArray[np.float64]
#: of the mat, mm
Area: TypeAlias = Polygon | MultiPolygon


@dataclass(frozen=True)
class Zone:
    """A part of the mat where the sheets do not lie in their usual order, or may not.

    Attributes:
        area: mm, mat frame.
        tops: which of the sheets may be seen there, as places in `Stack.sheets`; the likeliest
            first, and nothing else where that is known.
    """

    area: Area
    tops: tuple[int, ...]


@dataclass(frozen=True)
class Stack:
    """Attributes:
    sheets: solved, in their usual order: each lies on those after it.
    zones: where that is otherwise, apart from each other.
    """

    sheets: tuple[PlacedPanel, ...] = ()
    zones: tuple[Zone, ...] = ()

    def orders(
        self, places: Array, slack: float
    ) -> Iterator[tuple[NDArray[np.bool_], list[Sequence[PlacedPanel]]]]:
        """Share out places by the order of the sheets there.

        Args:
            places: (N, 2) mm, mat frame.
            slack: mm, so far round a zone its order is asked for as well.

        Yields:
            which places (N,), and the orders that are possible there, the likeliest first; each
            has the topmost sheet first.
        """
        usual = np.ones(len(places), dtype=bool)
        for zone in self.zones:
            here = usual & contains_xy(zone.area.buffer(slack), places)
            if here.any():
                usual &= ~here
                yield here, [self._with_on_top(top) for top in zone.tops]
        yield usual, [self.sheets]

    def _with_on_top(self, top: int) -> Sequence[PlacedPanel]:
        return self.sheets[top], *self.sheets[:top], *self.sheets[top + 1 :]
