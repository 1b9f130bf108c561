"""A back seen in a photo, turned into a section: put under its face, squared off at its edges.

Back frame: mm, u to the right, v up, the wood above the curve and the face on top of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding, Level
from profiler.instrument.askew import face_middle
from profiler.instrument.profile import back_radius, resampled
from profiler.instrument.record import Quantity, missing
from profiler.instrument.sections import Section
from profiler.instrument.shapes import DEPTHS, WIDTHS, ImpossibleSize
from profiler.units import format_mm

Array = NDArray[np.float64]

#: how square to the face a gauge is pressed on or a card cut, standard, rad (a guess: 0.4°)
_SQUARE = 0.007
#: widths that differ by this many standard uncertainties contradict each other
_CONTRADICTED = 3.0
_K95 = 2.0


@dataclass(frozen=True)
class SeenBack:
    """The curve of a back as a photo shows it.

    Attributes:
        curve: (N, 2) mm, back frame, from left to right.
        sigma: (N,) mm, standard uncertainty across the curve, of all that the photo leaves open.
        edges: u of the face's left and right edge.
        u_edge: mm, standard uncertainty of each.
        u_middle: mm, standard uncertainty of the middle between them.
        face: v of the face, None where the photo does not show it.
        u_face: mm, standard uncertainty of that.
        what: showed it, in words, as 'the gauge'.
        unseen: part of the curve that was carried across.
        between: u between the needles that touched the neck's sides and those that did not, and
            by how much the two stand apart, mm; None where the edges themselves were seen.
        upside_down: the photo's row had to be turned by half a turn to have the face on top.
    """

    curve: Array
    sigma: Array
    edges: tuple[float, float]
    u_edge: float
    u_middle: float
    face: float | None
    u_face: float
    what: str
    upside_down: bool = False
    unseen: float = 0.0
    between: tuple[float, float] | None = None


@dataclass(frozen=True)
class Known:
    """What is known of the section besides the photo.

    Attributes:
        name, x: of the station.
        width: at the face, of the outline or typed.
        width_typed: it was typed, and so goes before what the photo shows.
        middle: y of the face's middle.
        depth: typed, None where it was not.
        face_height: above the bench.
        from_head: the photo shows the profile as seen from the head.
        source, detail, photo_sha256: for the section's record.
    """

    name: str
    x: float
    width: Quantity
    width_typed: bool
    middle: float
    depth: Quantity | None
    face_height: Quantity
    from_head: bool
    source: str
    detail: str
    photo_sha256: str


def section_from_back(seen: SeenBack, known: Known, findings: tuple[Finding, ...]) -> Section:
    """The section of a back that was seen.

    Raises:
        ImpossibleSize: a width or depth that no neck has, or a depth that the curve rules out.
    """
    remarks = list(findings)
    width = _width(seen, known, remarks)
    wide = width.value or 0.0
    if not WIDTHS[0] <= wide <= WIDTHS[1]:
        raise ImpossibleSize(
            f"{known.detail}: the profile seen there is {format_mm(wide)} wide; a neck has"
            f" {WIDTHS[0]:.0f} to {WIDTHS[1]:.0f} mm. Is that the right photo?"
        )
    low = float(seen.curve[:, 1].min())
    tall = float(np.max(seen.curve[[0, -1], 1])) - low
    depth, face = _depth(seen, known, low, tall, remarks)
    centre, u_middle = (seen.edges[0] + seen.edges[1]) / 2, seen.u_middle
    if seen.between is not None and depth:
        centre, u_middle = face_middle(seen.curve, face, *seen.between)
    points = seen.curve - np.array([centre, face])
    points, sigma = _squared_off(points, seen.sigma, wide / 2)
    u_level = (depth.u95 or 0.0) / _K95
    # the face's half width, and where its middle is
    u_side = float(np.hypot((width.u95 or 0.0) / _K95 / 2, u_middle))
    normal = _normals(points)
    total = np.sqrt(
        sigma**2
        + (u_level * normal[:, 1]) ** 2
        + (u_side * normal[:, 0]) ** 2
        # turned about the middle of the face
        + (_SQUARE * (points[:, 0] * normal[:, 1] - points[:, 1] * normal[:, 0])) ** 2
    )
    if not known.from_head:  # seen from the tail, left is left
        points, total = (points * np.array([-1.0, 1.0]))[::-1], total[::-1]
    uneven = _unevenness(points)
    if uneven > 3 * float(np.median(_K95 * total)):
        remarks.append(
            Finding(
                613,
                Level.NOTE,
                f"The two flanks differ by up to {uneven:.1f} mm. The photo was taken as seen from"
                f" the {'head' if known.from_head else 'tail'}; if it lay the other way round, give"
                f" --seen-from {'tail' if known.from_head else 'head'}.",
                known.name,
            )
        )
    points, total = resampled(points, total)
    u95 = _K95 * total
    # what lifts the whole curve does not change how round it is
    roundness = np.sqrt(np.maximum(u95**2 - (_K95 * u_level) ** 2, 0.01))
    order = (Level.DOUBT, Level.CAUTION, Level.NOTE)
    return Section(
        known.name,
        known.x,
        points + np.array([known.middle, 0.0]),
        width,
        depth,
        back_radius(points, roundness),
        u95,
        known.face_height,
        known.source,
        known.detail,
        known.photo_sha256,
        tuple(sorted(remarks, key=lambda f: (order.index(f.level), f.code))),
    )


def _width(seen: SeenBack, known: Known, remarks: list[Finding]) -> Quantity:
    """Typed before all; else the mean of outline and photo, weighted by what each is worth."""
    here = seen.edges[1] - seen.edges[0]
    u_here = float(np.sqrt(2) * seen.u_edge)
    if not known.width.value or not known.width.u95:
        return Quantity(here, _K95 * u_here, mostly=seen.what, x=known.x)
    u_there = known.width.u95 / _K95
    gap = here - known.width.value
    if abs(gap) > _CONTRADICTED * float(np.hypot(u_here, u_there)):
        remarks.append(
            Finding(
                611,
                Level.DOUBT,
                f"The photo shows a face of {format_mm(here)}, {known.width.mostly} says"
                f" {format_mm(known.width.value)}. Is it the right station (--at), and is the"
                " height of the needles right?",
                known.name,
            )
        )
    if known.width_typed:
        return known.width
    weight = u_there**2 / (u_here**2 + u_there**2)
    u = float(np.sqrt(weight**2 * u_here**2 + (1 - weight) ** 2 * u_there**2))
    return Quantity(
        weight * here + (1 - weight) * known.width.value,
        _K95 * max(u, abs(gap) / 4),
        mostly=f"{seen.what} and {known.width.mostly}",
        x=known.x,
    )


def _depth(
    seen: SeenBack, known: Known, low: float, tall: float, remarks: list[Finding]
) -> tuple[Quantity, float]:
    """How deep, and v of the face."""
    if known.depth is not None and known.depth.value is not None:
        typed = known.depth
        deep = known.depth.value
        if not DEPTHS[0] <= deep <= DEPTHS[1]:
            raise ImpossibleSize(
                f"A neck with a depth of {format_mm(deep)} cannot be: {DEPTHS[0]:.0f} to"
                f" {DEPTHS[1]:.0f} mm. Is the unit right?"
            )
        if deep < tall - 2.0 - (typed.u95 or 0.0):
            raise ImpossibleSize(
                f"{known.detail} follows the back over {format_mm(tall)}, so the neck cannot be"
                f" only {format_mm(deep)} deep there. Measure its thickness again, from the top of"
                " the fingerboard, or look whether it is the right photo."
            )
        if seen.face is not None and abs(seen.face - low - deep) > 3 * float(
            np.hypot(seen.u_face, (typed.u95 or 0.0) / _K95)
        ):
            remarks.append(
                Finding(
                    612,
                    Level.DOUBT,
                    f"The photo shows a depth of {format_mm(seen.face - low)}, but"
                    f" {format_mm(deep)} was typed. Measure again.",
                    known.name,
                )
            )
        return typed, low + deep
    if seen.face is not None:
        deep = seen.face - low
        if not DEPTHS[0] <= deep <= DEPTHS[1]:
            raise ImpossibleSize(
                f"{known.detail}: the profile seen there is {format_mm(deep)} deep; a neck has"
                f" {DEPTHS[0]:.0f} to {DEPTHS[1]:.0f} mm. Is that the right photo?"
            )
        return Quantity(deep, _K95 * seen.u_face, mostly=seen.what, x=known.x), seen.face
    remarks.append(
        Finding(
            614,
            Level.DOUBT,
            "How far the back lies below the fingerboard's top is not known: the curve has its"
            " shape, not its place. Measure the neck's thickness there with calipers and take the"
            " section again with --depth.",
            known.name,
        )
    )
    return missing(
        "a gauge shows the back, not the face: measure the neck's thickness and give --depth"
    ), low + tall


def _squared_off(points: Array, sigma: Array, half: float) -> tuple[Array, Array]:
    """The curve carried on at both ends to the edges of the face, and cut off there."""
    points, sigma = resampled(points, sigma, spacing=0.1)
    inside = np.abs(points[:, 0]) < half
    first, last = np.flatnonzero(inside)[[0, -1]]
    points, sigma = points[first : last + 1], sigma[first : last + 1]
    ends = []
    for end, before, side in ((0, min(12, len(points) - 1), -half), (-1, -13, half)):
        away = points[end] - points[before]
        top = points[end]
        if abs(side - top[0]) > 0.02:
            # along its own direction, and no higher than the face
            rise = away[1] / away[0] * (side - top[0]) if abs(away[0]) > 1e-6 else np.inf
            top = np.array([side, min(top[1] + max(rise, 0.0), 0.0)])
        ends.append([(side, 0.0), (side, min(float(top[1]), 0.0))])
    left, right = ends
    whole = np.vstack([left, points, right[::-1]])
    spread = np.concatenate([[sigma[0]] * 2, sigma, [sigma[-1]] * 2])
    even, spread = resampled(whole, spread, spacing=0.1)
    return even, spread


def _normals(points: Array) -> Array:
    """(N, 2) unit normals of an open curve."""
    tangent = np.gradient(points, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-12)[:, None]
    return np.column_stack([-tangent[:, 1], tangent[:, 0]])


def _unevenness(points: Array) -> float:
    """mm: the most by which one flank differs from the other at the same distance."""
    y = np.linspace(0.15, 0.85, 30) * float(np.abs(points[:, 0]).max())
    flanks = []
    for sign in (1.0, -1.0):
        side = points[sign * points[:, 0] > 0]
        order = np.argsort(sign * side[:, 0])
        flanks.append(np.interp(y, sign * side[order, 0], side[order, 1]))
    return float(np.abs(flanks[0] - flanks[1]).max())
