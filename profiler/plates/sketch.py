"""A small picture of an instrument with cards on it, for people who never did this."""

from __future__ import annotations

import math
from itertools import pairwise

from profiler.drawing.model import Area, Item, Line, Point, Stroke, Text, rectangle
from profiler.target.mat import DEFAULT_TINT

#: half the body's width at heights from the tail up, both in parts of the instrument's length
BODY = (
    (0.0, 0.0),
    (0.004, 0.06),
    (0.03, 0.125),
    (0.09, 0.172),
    (0.16, 0.182),
    (0.23, 0.165),
    (0.31, 0.125),
    (0.37, 0.118),
    (0.44, 0.132),
    (0.50, 0.135),
    (0.555, 0.115),
    (0.59, 0.075),
    (0.605, 0.034),
)
NECK = ((0.605, 0.034), (0.83, 0.027), (0.845, 0.045), (0.99, 0.04), (1.0, 0.03))
#: centre x and y, width and height, all in parts of the length, and what the part is called
CARDS = (
    (0.0, 0.08, 0.17, 0.052, "soundboard"),
    (0.0, 0.70, 0.032, 0.105, "fretboard"),
    (0.0, 0.915, 0.045, 0.11, "headstock"),
)


def sketch_items(at: Point, width: float, height: float) -> list[Item]:
    """The sketch, standing in a box with its lower left corner at `at`; not to scale."""
    length = min(height, width / 0.9)
    x0, y0 = at[0] + 0.19 * length, at[1] + (height - length)

    def place(u: float, v: float) -> Point:
        return x0 + u * length, y0 + v * length

    half = [*_rounded(BODY), *NECK]
    ring = [place(w, v) for v, w in half] + [place(-w, v) for v, w in reversed(half)]
    items: list[Item] = [Line(tuple(ring), Stroke(0.25), closed=True)]
    hole = [
        place(0.055 * math.cos(t / 12 * math.pi), 0.42 + 0.055 * math.sin(t / 12 * math.pi))
        for t in range(24)
    ]
    items.append(Line(tuple(hole), Stroke(0.12), closed=True))
    bridge = rectangle(*place(-0.06, 0.2), *place(0.06, 0.22))
    items.append(Line(bridge, Stroke(0.12), closed=True))
    for x, y, w, h, name in CARDS:
        card = rectangle(*place(x - w / 2, y - h / 2), *place(x + w / 2, y + h / 2))
        items += [Area((card,), DEFAULT_TINT), Line(card, Stroke(0.2), closed=True)]
        start, end = place(x + w / 2, y), place(0.24, y)
        items.append(Line((start, end), Stroke(0.1)))
        items.append(Text(end[0] + 1, end[1] - 0.9, name, 2.5))
    return items


def _rounded(points: tuple[Point, ...], rounds: int = 3) -> list[Point]:
    """Corners cut again and again, ends kept (Chaikin, 1974)."""
    chain = list(points)
    for _ in range(rounds):
        new = [chain[0]]
        for (a, b), (c, d) in pairwise(chain):
            new.append((0.75 * a + 0.25 * c, 0.75 * b + 0.25 * d))
            new.append((0.25 * a + 0.75 * c, 0.25 * b + 0.75 * d))
        chain = [*new, chain[-1]]
    return chain
