"""The neck between measured sections, and heights along the instrument."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.geometry.curves import at_lengths, lengths_along
from profiler.instrument.sections import Section

Array = NDArray[np.float64]

#: a neck may be carried on this far beyond its last section, mm
BEYOND_MM = 15.0
#: points round a section once it is resampled
ROUND = 96
#: a height known at one place only may change by this much per mm along, 95 % (common practice, no
#: source: necks lie within 6° of the bench)
SLOPE_U95 = 0.1


@dataclass(frozen=True)
class HeightLine:
    """A height above the bench along x: straight between known places.

    Attributes:
        places: (x, z, u95), mm, x rising; at least one.
    """

    places: tuple[tuple[float, float, float], ...]

    def at(self, x: Array | float) -> Array:
        """(N,) mm; carried on straight past the ends, level where one place is all there is."""
        xs = np.atleast_1d(np.asarray(x, dtype=np.float64))
        known, z, _ = np.array(self.places).T
        if len(known) == 1:
            level: Array = np.full(len(xs), z[0])
            return level
        i = np.clip(np.searchsorted(known, xs) - 1, 0, len(known) - 2)
        slope: Array = (z[i + 1] - z[i]) / (known[i + 1] - known[i])
        out: Array = z[i] + slope * (xs - known[i])
        return out

    def u95_at(self, x: float) -> float:
        """mm: grows away from the known places where there are fewer than two."""
        known, _, u = np.array(self.places).T
        if len(known) == 1:
            return math.hypot(float(u[0]), SLOPE_U95 * abs(x - float(known[0])))
        return float(np.interp(x, known, u))

    @property
    def slope(self) -> float:
        """From the first place to the last."""
        (x0, z0, _), (x1, z1, _) = self.places[0], self.places[-1]
        return (z1 - z0) / (x1 - x0) if x1 > x0 else 0.0


@dataclass(frozen=True)
class NeckLoft:
    """The neck's solid below its face, straight from section to section.

    Attributes:
        sections: x rising, at least one.
        face: height of the face above the bench.
        widths: (K, 2) x and the outline's width there, to taper by where one section is all there
            is; empty where the neck's outline is not known.
    """

    sections: tuple[Section, ...]
    face: HeightLine
    widths: Array = field(default_factory=lambda: np.zeros((0, 2)))

    @cached_property
    def _rings(self) -> list[Array]:
        return [_resampled(s.points) for s in self.sections]

    @property
    def reach(self) -> tuple[float, float]:
        """From where to where along x the neck's shape is known, mm."""
        return self.sections[0].x - BEYOND_MM, self.sections[-1].x + BEYOND_MM

    def profile(self, x: float) -> Array:
        """(ROUND, 2) y, z in the section frame: from the right edge round the back to the left."""
        rings = self._rings
        if len(rings) == 1:
            scale = self._taper(x)
            tapered: Array = rings[0] * np.array([scale, 1.0])
            return tapered
        xs = [s.x for s in self.sections]
        i = int(np.clip(np.searchsorted(xs, x) - 1, 0, len(xs) - 2))
        t = (x - xs[i]) / (xs[i + 1] - xs[i])
        return np.asarray(rings[i] + t * (rings[i + 1] - rings[i]))

    def slice_at(self, x: float) -> shapely.Polygon:
        """y, z above the bench; empty where nothing is known."""
        low, high = self.reach
        if not low <= x <= high:
            return shapely.Polygon()
        ring = self.profile(x)
        return shapely.Polygon(ring + np.array([0.0, float(self.face.at(x)[0])])).buffer(0)

    def u95_at(self, x: float) -> float:
        """mm, across the profile; more beyond the sections."""
        xs = [s.x for s in self.sections]
        of = [float(np.sqrt(np.mean(s.u95**2))) if len(s.u95) else 0.0 for s in self.sections]
        beyond = max(xs[0] - x, x - xs[-1], 0.0)
        # common practice, no source: necks grow by up to 2 mm over 100 mm
        return math.hypot(float(np.interp(x, xs, of)), 0.02 * beyond)

    def _taper(self, x: float) -> float:
        if len(self.widths) < 2:
            return 1.0
        there = np.interp(x, *self.widths.T)
        here = np.interp(self.sections[0].x, *self.widths.T)
        return float(there / here) if here > 0 else 1.0


def loft_of(
    sections: Sequence[Section],
    neck: HeightLine | None,
    widths: Array | None = None,
    slope: float | None = None,
) -> NeckLoft | str:
    """The neck, or a sentence that says what is missing.

    Args:
        sections: of the neck, in any order.
        neck: height of the face along x, for sections that do not know their own.
        widths: as in `NeckLoft`.
        slope: of the face along x, where something showed it: used where one height is all there
            is.
    """
    known = sorted((s for s in sections if len(s.points) >= 3), key=lambda s: s.x)
    if not known:
        return (
            "no cross-profile of the neck is known: take one with 'profiler section', or type"
            " --neck-at, --neck-width and --neck-depth"
        )
    places = [
        (s.x, s.face_height.value, s.face_height.u95 or 0.0)
        for s in known
        if s.face_height.value is not None
    ]
    if not places and neck is not None:
        places = [(s.x, float(neck.at(s.x)[0]), neck.u95_at(s.x)) for s in known]
    if not places:
        return (
            "how high the neck lies above the bench is not known: lay the instrument on its back,"
            " measure from the bench up to the neck's underside where the rest will stand, and give"
            " that as --neck-height"
        )
    if len(places) == 1 and slope is not None:
        x, z, u = places[0]
        places = [(x + by, z + slope * by, u) for by in (-2 * BEYOND_MM, 2 * BEYOND_MM)]
    return NeckLoft(
        tuple(known), HeightLine(tuple(places)), np.zeros((0, 2)) if widths is None else widths
    )


def _resampled(points: Array) -> Array:
    """(ROUND, 2) evenly along the curve, both ends kept."""
    along = lengths_along(points)
    return at_lengths(points, along, np.linspace(0.0, along[-1], ROUND))
