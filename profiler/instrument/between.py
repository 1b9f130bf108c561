"""A profile between two others, as a straightedge laid along the neck would join them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from profiler.errors import RequestError
from profiler.instrument.profile import along, back_radius, resampled
from profiler.instrument.record import Quantity, missing
from profiler.instrument.sections import Section

Array = NDArray[np.float64]

#: points that two profiles are compared in
_SAMPLES = 401
#: what the neck may do between, as part of how much the profile changes: a guess, no source
_STRAY = 0.25


class NothingBetween(RequestError):
    """No two profiles lie on both sides of the station."""


def neighbours(sections: Sequence[Section], x: float) -> tuple[Section, Section]:
    """The nearest measured profiles on both sides of a station.

    Raises:
        NothingBetween: there are none.
    """
    own = [s for s in sections if s.source != "between" and s.depth]
    before = [s for s in own if s.x < x]
    after = [s for s in own if s.x > x]
    if not before or not after:
        known = ", ".join(f"{s.x:.0f}" for s in sorted(own, key=lambda s: s.x)) or "none"
        raise NothingBetween(
            f"At {x:.0f} mm nothing can be put between: that takes a profile with a known depth on"
            f" each side. There are: {known}. Give a photo (--gauge, --tracing) or a shape"
            " (--shape)."
        )
    return max(before, key=lambda s: s.x), min(after, key=lambda s: s.x)


def section_between(
    one: Section,
    other: Section,
    x: float,
    name: str,
    width: Quantity | None = None,
    middle: float | None = None,
    face_height: Quantity | None = None,
) -> Section:
    """The profile at a station between two others.

    Both are scaled to a face of one and a depth of one, walked from edge to edge by the part of
    their length, mixed point by point, and scaled back: width as the outline has it there (or
    straight between the two), depth straight between the two.

    Args:
        one, other: with a known depth; in any order.
        x: mm, between them.
        name: of the new profile.
        width: at the face, where the outline knows it.
        middle: y of the face's middle; straight between the two where None.
        face_height: where it is known.

    Raises:
        NothingBetween: the station is not between them, or a depth is not known.
    """
    one, other = sorted((one, other), key=lambda s: s.x)
    for section in (one, other):
        if not section.depth:
            raise NothingBetween(
                f"'{section.name}' has no known depth, so nothing can be put beside it: measure"
                " the neck's thickness there and take the profile again with --depth."
            )
    if not one.x < x < other.x:
        raise NothingBetween(f"{x:.1f} mm does not lie between {one.x:.1f} and {other.x:.1f} mm.")
    share = (x - one.x) / (other.x - one.x)
    a, u_a = _unit(one)
    b, u_b = _unit(other)
    mixed = (1 - share) * a + share * b
    depth = _mixed(one.depth, other.depth, share, x)
    wide = width if width else _mixed(one.width, other.width, share, x)
    half, deep = (wide.value or 0.0) / 2, depth.value or 0.0
    centre = (1 - share) * _middle(one) + share * _middle(other) if middle is None else middle
    points = mixed * np.array([half, deep])
    # at the ends nothing is open, half way most
    stray = 4 * share * (1 - share) * _STRAY * np.hypot(*((a - b) * np.array([half, deep])).T)
    u95 = np.hypot((1 - share) * u_a + share * u_b, stray)
    points, u95 = resampled(points, u95)
    return Section(
        name,
        x,
        points + np.array([centre, 0.0]),
        wide,
        depth,
        back_radius(points, u95),
        u95,
        missing("it was not measured") if face_height is None else face_height,
        "between",
        f"{one.name} and {other.name}",
    )


def _middle(section: Section) -> float:
    return float(section.points[0, 0] + section.points[-1, 0]) / 2


def _unit(section: Section) -> tuple[Array, Array]:
    """(S, 2) the curve with half its face and its depth as one; (S,) its u95, mm."""
    points = section.points - np.array([_middle(section), 0.0])
    half = float(points[-1, 0] - points[0, 0]) / 2
    deep = -float(points[:, 1].min())
    unit = points / np.array([half, deep])
    at = along(unit)
    even = np.linspace(0.0, at[-1], _SAMPLES)
    curve = np.column_stack([np.interp(even, at, unit[:, k]) for k in (0, 1)])
    return curve, np.interp(even, at, section.u95)


def _mixed(one: Quantity, other: Quantity, share: float, x: float) -> Quantity:
    if one.value is None or other.value is None:
        return missing(one.reason or other.reason)
    return Quantity(
        (1 - share) * one.value + share * other.value,
        (1 - share) * (one.u95 or 0.0) + share * (other.u95 or 0.0),
        mostly="the profiles on both sides",
        x=x,
    )
