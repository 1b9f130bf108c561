"""How well each gap of the fit check is known, from what is uncertain about the instrument alone.

Not in it: how the wood is cut and placed, and how much foam gives; `chance` adds those.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.casework.cradle.fit import MOSTLY, PieceFit, least_of
from profiler.casework.cradle.plan import CradlePlan
from profiler.instrument.solid import Bar, Neck, Part, Slab

Array = NDArray[np.float64]

#: outline points this near to the one that a gap looks at speak for it, mm
BESIDE_MM = 6.0
#: what a side that nobody looked at may stand out or in below its edge, and one that was found
#: straight, 95 % (guesses, no source: round backs swell by up to a mm)
SIDE_U95, STRAIGHT_U95 = 0.8, 0.2
#: and lean for each mm up, where only one height of its upper edge is known: backs taper by so much
#: along x, 95 % (a guess, no source)
LEAN_U95 = 0.05
#: rounding its edges takes so much of their radius off a headstock's corners
ROUNDED = float(np.sqrt(2)) - 1
#: a piece promises its gaps where they are known this well, 95 %, mm
PROMISE_MM = 0.4

OUTLINE, TAIL = "the outline", "where the tail lies"
SIDE, UNREAD = "the side as it was read", "how the side goes below its edge"
STRAIGHT, LEAN = "how straight the side is", "how the side leans"
SHAPE, SIZE = "the button's turned shape", "the button's size"
HEIGHT, LONG, SIDEWAYS = (
    "the button's height",
    "the button's length",
    "where the button sits across",
)
EDGES, EDGES_READ = "how its edges are rounded", "the radius of its edges"
SECTION, NECK, HEAD, BODY = (
    "the neck's section",
    "the neck's height",
    "the headstock's height",
    "the body's height",
)
#: which reading makes a source smaller
READINGS = {
    OUTLINE: "more photos of the same lay, the tail and the shoulders well in sight",
    TAIL: "more photos of the same lay, or a rule from the tail",
    SIDE: "read the side at more heights with a square (--side)",
    UNREAD: "stand a square on the bench against the side and read how far it stands away from"
    " the blade at some heights (--side 10=14mm,30=3mm,60=0mm)",
    STRAIGHT: "read it with a square (--side 10=0,30=0.3mm,60=0mm)",
    LEAN: "stand a square against the tail (--side 10=0,60=1.5mm), or lay a card on the body",
    SHAPE: "take calipers to the strap button every 2 mm and where it turns (--button"
    " 0=9mm,4.5=7mm,9=14mm,11=10mm: distance from the wood, diameter)",
    SIZE: "take calipers to the strap button (--button)",
    HEIGHT: "read the strap button's middle above the bench with calipers (--button-height)",
    LONG: "take calipers to how far the strap button stands out (--button)",
    SIDEWAYS: "no reading: the slot is wide enough for it",
    SECTION: "take the neck's section with a contour gauge ('profiler section')",
    NECK: "read from the bench up to the neck's underside at the rest (--neck-height 47±0.2mm)",
    EDGES: "hold a radius gauge to the edges of the headstock's back ('profiler headstock --edge')",
    EDGES_READ: "read the radius of the headstock's edges more closely ('profiler headstock --edge"
    " 1±0.2mm')",
    HEAD: "read from the bench up to the headstock's lowest point ('profiler headstock --lowest')",
    BODY: "read the height of the body's lower edge (--side)",
}


#: sources that can only make a gap wider than told: the outline and the largest diameter are what
#: stands out farthest
ONLY_WIDER = (STRAIGHT, LEAN, SHAPE, EDGES)


@dataclass(frozen=True)
class Source:
    """One uncertain thing: what it is called, its u95 in mm, and (N,) how a gap follows it."""

    name: str
    u95: float
    follows: Array


@dataclass(frozen=True)
class Certainty:
    """Of one piece.

    Attributes:
        u95: (N,) mm, of each gap of the fit.
        worst: the largest at the places that the fit table tells, mm.
        mostly: what that is due to; '' where nothing stands out.
    """

    u95: Array
    worst: float
    mostly: str

    @property
    def promised(self) -> bool:
        return self.worst <= PROMISE_MM

    @property
    def reading(self) -> str:
        """What would make it smaller, in words."""
        return READINGS.get(self.mostly, "")


def instrument_sources(
    plan: CradlePlan, fit: PieceFit, outline: Array, outline_u95: Array
) -> list[Source]:
    """What is uncertain about the instrument, as it moves the gaps of one piece.

    Args:
        plan: the cradle.
        fit: of one of its pieces.
        outline: (M, 2) mm, cradle frame.
        outline_u95: (M,) mm, across it.
    """
    points = fit.faces.points - np.array([0.0, 0.0, plan.lift.mm])
    parts = plan.solid.parts
    met = points + fit.gaps[:, None] * fit.towards  # the places that they look at
    nearest = np.argmin([p.distance(points) for p in parts], axis=0)
    across = _across(points, fit.towards, outline, outline_u95)
    found: dict[str, Array] = {}
    for k, part in enumerate(parts):
        here = (nearest == k).astype(float)
        if not here.any():
            continue
        for name, follows in _of(part, met, fit.towards, across).items():
            found[name] = found.get(name, np.zeros(len(points))) + here * follows
    if fit.piece.key != "tail":
        found[TAIL] = fit.towards[:, 0] * _at_tail(plan, outline, outline_u95)
    return [Source(name, 1.0, follows) for name, follows in found.items()]


def certainty_of(fit: PieceFit, sources: Sequence[Source]) -> Certainty:
    """Their sum in squares, and where it is worst among the places that are told."""
    squares = {s.name: (s.u95 * s.follows) ** 2 for s in sources}
    whole = np.sum([*squares.values(), np.zeros(len(fit.gaps))], axis=0)
    u95 = np.sqrt(whole)
    told = told_places(fit)
    at = told[int(np.argmax(u95[told]))] if told else int(np.argmin(fit.gaps))
    largest = max(squares, key=lambda n: squares[n][at], default="")
    mostly = largest if largest and squares[largest][at] > 0.4 * whole[at] else ""
    return Certainty(u95, float(u95[at]), mostly)


def told_places(fit: PieceFit) -> list[int]:
    """Points of the least gap below, right, left and behind, and the tightest: what people see."""
    x, y, z = fit.towards.T
    if fit.piece.at_least:  # nobody knows how far above the slot's ground it is
        found, sides = [], [y, -y]
    else:
        found = [least_of(fit.gaps - fit.linings, np.abs(fit.towards).max(axis=1))]
        sides = [z, y, -y, x]
    for side in sides:
        here = np.flatnonzero(side > MOSTLY)
        if len(here):
            found.append(int(here[least_of(fit.gaps[here], side[here])]))
    return list(dict.fromkeys(found))


def _across(points: Array, towards: Array, outline: Array, u95: Array) -> Array:
    """(N,) u95 of the outline that each point looks at: the largest near by."""
    tree = cKDTree(outline)
    _, at = tree.query(points[:, :2])
    around = tree.query_ball_point(outline, BESIDE_MM)
    largest = np.array([u95[list(i)].max() for i in around])
    return np.asarray(largest[at] * np.hypot(towards[:, 0], towards[:, 1]))


def _at_tail(plan: CradlePlan, outline: Array, u95: Array) -> float:
    body = plan.solid.part("body")
    plan_tail = body.footprint if isinstance(body, Slab) else plan.solid.plan
    tail = float(plan_tail.bounds[0])
    near = np.abs(outline[:, 0] - tail) < BESIDE_MM
    return float(np.median(u95[near])) if near.any() else float(np.median(u95))


def _of(part: Part, points: Array, towards: Array, across: Array) -> dict[str, Array]:
    """(N,) by the source's name, for points on this part."""
    x, y, z = towards.T
    at = float(np.median(points[:, 0]))
    if isinstance(part, Neck):
        ones = np.ones(len(points))
        return {SECTION: -part.loft.u95_at(at) * ones, NECK: part.loft.face.u95_at(at) * z}
    if isinstance(part, Bar):
        shape = part.between_u95(points[:, 0]) * np.hypot(y, z)
        return {
            SHAPE: -shape,
            SIZE: -part.u95 / 2 * np.hypot(y, z),
            HEIGHT: (part.u95 if part.u95_height is None else part.u95_height) * z,
            SIDEWAYS: part.u95 * y,
            LONG: part.u95 * x,
        }
    head = part.name != "body"
    found = {OUTLINE: -across, HEAD if head else BODY: part.low.u95_at(at) * z}
    level = np.hypot(x, y)
    if head:
        if part.edge_u95 and not part.hull:
            # sharp as it is taken to be where nobody read it, a corner can only be rounder
            name = EDGES_READ if part.edge else EDGES
            found[name] = -ROUNDED * part.edge_u95 * 2 * level * np.abs(z)
        return found
    if part.bulge is not None:
        inward = [part.bulge.u95_at(float(p[0]), float(p[2])) for p in points]
        found[SIDE] = -np.array(inward) * level
    else:
        below = part.high.at(points[:, 0]) - points[:, 2]
        name, u95 = (STRAIGHT, STRAIGHT_U95) if part.straight else (UNREAD, SIDE_U95)
        found[name] = -u95 * level
        if len(part.high.places) < 2:
            found[LEAN] = -LEAN_U95 * np.maximum(below, 0.0) * np.abs(x) * level
    return found
