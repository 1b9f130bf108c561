"""Necks by their trade word: round, D, V, soft V, flat oval.

No standard says what the words mean (common practice, no source). Here each is a curve
z = -b (1 - |y/a|^n)^(1/m) below the fingerboard's straight sides, with the ridge of a V rounded.
How far two neighbouring words lie apart is taken as what a word leaves open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.errors import RequestError
from profiler.instrument.profile import back_radius, resampled
from profiler.instrument.record import Quantity, missing
from profiler.instrument.sections import Section
from profiler.units import format_mm

Array = NDArray[np.float64]


@dataclass(frozen=True)
class NeckShape:
    """A trade word: exponents of y and of the whole, and the least radius of the ridge, mm."""

    word: str
    n: float
    m: float
    ridge: float = 0.0


#: neighbours in this row are neighbours in the hand
SHAPES = {
    s.word: s
    for s in (
        NeckShape("V", 1.22, 1.22, 4.0),
        NeckShape("soft V", 1.55, 1.55, 7.0),
        NeckShape("round", 2.0, 2.0),
        NeckShape("D", 2.7, 2.3),
        NeckShape("flat oval", 3.4, 2.3),
    )
}
#: a fingerboard's straight side (common practice, no source), mm, and its most share of the depth
SIDE_MM, SIDE_SHARE = 5.0, 0.35
#: what a neck can be, mm (common practice, no source; from a soprano's to a double bass's)
WIDTHS, DEPTHS = (15.0, 120.0), (8.0, 80.0)


class ImpossibleSize(RequestError):
    """A width, depth or the like that no neck has."""


def shape_named(word: str) -> NeckShape:
    """The shape of that name, however it is written.

    Raises:
        RequestError: there is none.
    """
    plain = word.strip().lower().replace("-", " ").replace("_", " ")
    for shape in SHAPES.values():
        if plain in (shape.word.lower(), shape.word.lower().replace(" ", "")):
            return shape
    raise RequestError(f"No neck shape is called '{word}'. Known: {', '.join(SHAPES)}.")


def shape_curve(shape: NeckShape, width: float, depth: float, side: float, apex: float) -> Array:
    """(N, 2) mm, section frame, the face centred on y = 0.

    Args:
        width, depth: at the face; from the face to the lowest point.
        side: height of the straight sides below the face.
        apex: y of the lowest point; what lies between moves along with it.
    """
    half, below = width / 2, depth - side
    t = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 721))
    z = -below * np.maximum(1 - np.abs(t) ** shape.n, 0.0) ** (1 / shape.m)
    if shape.ridge > 0:
        z = _rounded(half * t, z, min(shape.ridge, 0.6 * half), below)
    y = half * t + apex * (-z / below)
    inner = np.column_stack([y, z - side])
    whole = np.vstack([(-half, 0.0), inner, (half, 0.0)])
    return resampled(whole)[0]


def _rounded(y: Array, z: Array, radius: float, below: float) -> Array:
    """The ridge rounded to a radius, and as deep as before."""
    up = 4 * radius
    solid = shapely.Polygon([(y[0], up), *zip(y, z, strict=True), (y[-1], up)])
    soft = solid.buffer(-radius, quad_segs=64).buffer(radius, quad_segs=64)
    ring = np.asarray(soft.exterior.coords)
    lower = np.full(len(y), 0.0)
    for k, at in enumerate(y[1:-1], start=1):
        cut = soft.intersection(shapely.LineString([(at, -2 * below), (at, up)]))
        lower[k] = min(cut.bounds[1], 0.0) if not cut.is_empty else 0.0
    scaled: Array = lower * (below / max(-float(ring[:, 1].min()), 1e-9))
    return scaled


def typed_section(
    name: str,
    x: float,
    shape: NeckShape,
    width: Quantity,
    depth: Quantity,
    middle: float = 0.0,
    side: float | None = None,
    apex: float = 0.0,
    face_height: Quantity | None = None,
) -> Section:
    """A profile from a word and sizes.

    Args:
        name, x: of the station.
        shape: see `shape_named`.
        width, depth: typed or measured.
        middle: y of the face's middle, mm.
        side: of the fingerboard; None for the usual.
        apex: how far the lowest point lies to the left of the middle.
        face_height: see `Section`.

    Raises:
        ImpossibleSize: sizes that no neck has.
    """
    w, d = width.value, depth.value
    if w is None or d is None:
        raise ImpossibleSize(f"{name}: a shape needs a width and a depth.")
    for what, value, (least, most) in (("width", w, WIDTHS), ("depth", d, DEPTHS)):
        if not least <= value <= most:
            raise ImpossibleSize(
                f"A neck with a {what} of {format_mm(value)} cannot be: {least:.0f} to {most:.0f}"
                " mm. Is the unit right?"
            )
    flank = min(SIDE_MM, SIDE_SHARE * d) if side is None else side
    if not 0 <= flank <= 0.8 * d:
        raise ImpossibleSize(
            f"Sides of {format_mm(flank)} leave no back below them: the neck is {format_mm(d)}"
            " deep."
        )
    if abs(apex) > 0.35 * w:
        raise ImpossibleSize(
            f"The lowest point cannot lie {format_mm(abs(apex))} beside the middle of a neck that"
            f" is {format_mm(w)} wide."
        )
    points = shape_curve(shape, w, d, flank, apex)
    u95 = np.sqrt(
        _open_question(shape, points, w, d, flank, apex) ** 2
        + ((depth.u95 or 0.0) * points[:, 1] / d) ** 2
        + ((width.u95 or 0.0) / 2 * np.abs(points[:, 0]) / (w / 2)) ** 2
    )
    return Section(
        name,
        x,
        points + np.array([middle, 0.0]),
        width,
        depth,
        back_radius(points, u95),
        u95,
        missing("it was not measured") if face_height is None else face_height,
        "typed",
        shape.word,
    )


def _open_question(
    shape: NeckShape, points: Array, width: float, depth: float, side: float, apex: float
) -> Array:
    """(N,) mm: half way to the neighbouring words, and no less than a hand can tell."""
    row = list(SHAPES.values())
    at = row.index(shape)
    here = shapely.points(points)
    away = np.zeros(len(points))
    for neighbour in row[max(at - 1, 0) : at] + row[at + 1 : at + 2]:
        curve = shapely.LineString(shape_curve(neighbour, width, depth, side, apex))
        away = np.maximum(away, shapely.distance(here, curve))
    return np.asarray(np.maximum(away / 2, 0.2))
