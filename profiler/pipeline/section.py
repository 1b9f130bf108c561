"""From a wish to a section of a measured instrument; nothing is written here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.instrument.between import neighbours, section_between
from profiler.instrument.headstock import FacePlane, Headstock, headstock_from
from profiler.instrument.neck import (
    check_on_neck,
    face_height_at,
    neck_span,
    underside_at,
    width_at,
)
from profiler.instrument.record import Measurement, Quantity, missing
from profiler.instrument.sections import Section
from profiler.instrument.shapes import DEPTHS, shape_named, typed_section
from profiler.instrument.sideways import face_edge

#: 95 % of a length that was typed without its own: a caliper on a neck, mm
TYPED_U95 = 0.5
#: what showed a headstock's face where no card lay on it
_FACE_ASIDE = "its face in the side view"
#: what people type with its own uncertainty: (mm, 95 % or None)
Typed = tuple[float, float | None]


@dataclass(frozen=True)
class Place:
    """A station on a measured neck, and what is known there.

    Attributes:
        x: mm from the tail.
        name: of the section to be.
        width: at the face, typed or of the outline.
        middle: y of the face's middle.
        face_height: above the bench.
        underside: above the bench, as a photo from the side shows it.
        face_typed: the face's height was typed.
    """

    x: float
    name: str
    width: Quantity
    middle: float
    face_height: Quantity
    underside: Quantity = field(default_factory=lambda: missing("no photo from the side"))
    face_typed: bool = False


def station(measurement: Measurement, at: str | float, from_nut: bool = False) -> float:
    """A place along the neck, mm from the tail.

    Args:
        at: a distance in mm, or the name of one of the measurement's widths, as 'nut'.
        from_nut: the distance is from the nut towards the tail.

    Raises:
        RequestError: no such station, or it is not on the neck.
    """
    if isinstance(at, str):
        quantity = measurement.widths.get(at.strip().lower().replace(" ", "_"))
        if quantity is None or quantity.x is None:
            known = ", ".join(sorted(n for n, q in measurement.widths.items() if q.x is not None))
            raise RequestError(
                f"--at {at}: neither a length nor a station of this job ({known or 'it has none'})."
            )
        x = quantity.x
    else:
        x = neck_span(measurement)[1] - at if from_nut else at
    return check_on_neck(measurement, x)


def place_on(
    measurement: Measurement,
    planes: Sequence[FacePlane],
    x: float,
    name: str = "",
    width: Typed | None = None,
    face_height: Typed | None = None,
) -> Place:
    """What is known at a station; what was typed goes before what was seen from above."""
    seen, middle = width_at(measurement, x)
    return Place(
        x,
        name.strip() or f"neck at {x:.0f} mm",
        seen if width is None else _typed(width, "the typed width", x),
        middle or 0.0,
        face_height_at(measurement, planes, x)
        if face_height is None
        else _typed(face_height, "the typed height", x),
        underside_at(measurement, x),
        face_height is not None,
    )


def sized(place: Place, typed: Typed | None) -> tuple[Place, Quantity | None, tuple[Finding, ...]]:
    """Depth and face height of a station, with what a photo from the side adds, and what to say.

    A typed depth goes before one from the side. With the depth the underside tells how high the
    face is: it is taken from there where that is surer than what a card showed.

    Returns:
        the place with its face's height, the depth (None where nobody knows it), remarks.
    """
    low, face = place.underside, place.face_height
    if typed is not None:
        depth = _typed(typed, "the typed depth", place.x)
        if low.value is None or place.face_typed:
            return place, depth, ()
        u95 = float(np.hypot(low.u95 or 0.0, depth.u95 or 0.0))
        if face.u95 is not None and face.u95 <= u95:
            return place, depth, ()
        words = f"{low.mostly} and the depth"
        up = Quantity(low.value + typed[0], u95, mostly=words, x=place.x)
        told = _from_side(f"The face's height, {_plus_minus(up)}, comes from {words}", place)
        return replace(place, face_height=up), depth, (told,)
    if low.value is None or face.value is None:
        return place, None, ()
    deep = Quantity(
        face.value - low.value,
        float(np.hypot(face.u95 or 0.0, low.u95 or 0.0)),
        mostly=f"the face ({face.mostly}) and its underside ({low.mostly})",
        x=place.x,
    )
    if not DEPTHS[0] <= (deep.value or 0.0) <= DEPTHS[1]:
        return place, None, ()
    told = _from_side(
        f"The depth, {_plus_minus(deep)}, is the face's height by {face.mostly} less the"
        f" underside's by {low.mostly}. Calipers (--depth) are surer",
        place,
    )
    return place, deep, (told,)


def _plus_minus(q: Quantity) -> str:
    return f"{q.value:.1f} ± {q.u95:.1f} mm"


def _from_side(words: str, place: Place) -> Finding:
    return Finding(619, Level.NOTE, f"{words}.", place.name)


def section_by_word(
    place: Place,
    shape: str,
    depth: Typed | None = None,
    side: float | None = None,
    apex: float = 0.0,
) -> Section:
    """A section from a trade word and sizes; without a typed depth from the side view's.

    Raises:
        RequestError: an unknown word, a size that no neck has, or a depth that nobody knows.
    """
    place, deep, remarks = sized(place, depth)
    if deep is None:
        raise RequestError(
            "A shape needs the neck's thickness there: measure it with calipers and give"
            " --depth. A photo from the side ('measure --side') tells it too where a card lay on"
            " the fingerboard."
        )
    section = typed_section(
        place.name,
        place.x,
        shape_named(shape),
        place.width,
        deep,
        place.middle,
        side,
        apex,
        place.face_height,
    )
    worst = float(section.u95.max())
    return replace(
        section,
        findings=(
            Finding(
                610,
                Level.CAUTION,
                f"'{section.detail}' is a word: the real back may lie up to {worst:.1f} mm beside"
                " this curve. Lay a contour gauge on the mat to be sure (--gauge).",
                section.name,
            ),
            *remarks,
        ),
    )


def section_put_between(
    place: Place, sections: Sequence[Section], width_typed: bool, depth: Typed | None = None
) -> Section:
    """A section between the nearest two of the job.

    Args:
        width_typed: the place's width was typed; otherwise the outline's is used.
        depth: measured there, if it was.

    Raises:
        NothingBetween: there are no two.
    """
    one, other = neighbours(sections, place.x)
    width = place.width if place.width or width_typed else None
    section = section_between(
        one, other, place.x, place.name, width, place.middle, place.face_height
    )
    if depth is not None:
        known = _typed(depth, "the typed depth", place.x)
        if section.depth.value and known.value:
            scale = known.value / section.depth.value
            points = section.points * np.array([1.0, scale])
            section = replace(section, points=points, depth=known)
    return section


def headstock_of(
    measurement: Measurement,
    planes: Sequence[FacePlane],
    tilt_deg: tuple[float, float | None] | None = None,
    thickness: Typed | None = None,
    lowest: Typed | None = None,
    edge: Typed | None = None,
) -> Headstock:
    """What is known of the headstock besides its outline.

    Raises:
        NoNeck: the outline has no neck, and so no headstock.
    """
    start = neck_span(measurement)[1]
    end = float(measurement.outline[:, 0].max())
    seen = [*planes, *_face_aside(measurement)]
    on_head = [p for p in seen if start + 2 < p.x < end and p.z > 2.0]
    face = min(on_head, key=lambda p: p.u95_z, default=None)
    tilt = None
    if tilt_deg is not None:
        tilt = Quantity(
            tilt_deg[0], 1.0 if tilt_deg[1] is None else tilt_deg[1], mostly="the typed tilt"
        )
    elif face is not None and face.source == _FACE_ASIDE and measurement.side is not None:
        tilt = measurement.side.tilt
    return headstock_from(
        start,
        end,
        face,
        tilt,
        None if thickness is None else _typed(thickness, "the typed thickness"),
        None if lowest is None else _typed(lowest, "the typed height"),
        None if edge is None else _typed(edge, "the typed radius"),
    )


def _face_aside(measurement: Measurement) -> list[FacePlane]:
    """The headstock's face as a photo from the side shows it."""
    edge = None if measurement.side is None else face_edge(measurement.side)
    if edge is None:
        return []
    return [FacePlane(edge.x0, edge.z0, edge.slope, 2 * edge.u, 2 * edge.u_slope, _FACE_ASIDE)]


def _typed(typed: Typed, words: str, x: float | None = None) -> Quantity:
    return Quantity(typed[0], TYPED_U95 if typed[1] is None else typed[1], mostly=words, x=x)
