"""Necks sawn through: the exact profile of a studio instrument, or of a neck made up by chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.studio import bodies
from tests.studio.meshes import Part

Array = NDArray[np.float64]

#: mm between the places at which a back is known
STEP = 0.01


@dataclass(frozen=True)
class Cut:
    """What the saw shows: y left, z up from the face.

    Attributes:
        y: (N,) mm, evenly spaced, from the right edge to the left.
        back: (N,) mm, the lowest wood at each y, below zero.
    """

    y: Array
    back: Array

    @property
    def width(self) -> float:
        return float(self.y[-1] - self.y[0])

    @property
    def depth(self) -> float:
        return float(-self.back.min())

    def polyline(self) -> Array:
        """(M, 2) mm from the right edge of the face round the back to its left edge."""
        inner = np.column_stack([self.y, self.back])
        whole = np.vstack([(self.y[0], 0.0), inner, (self.y[-1], 0.0)])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(whole, axis=0).T))])
        at = np.linspace(0.0, along[-1], 600)
        return np.column_stack([np.interp(at, along, whole[:, k]) for k in (0, 1)])


def _segments(part: Part, x: float) -> Array:
    """(K, 2, 2) y, z: where a plane across the instrument meets a part's triangles."""
    corners = part.points[part.faces]
    side = corners[:, :, 0] - x
    met = (side.min(axis=1) < 0) & (side.max(axis=1) > 0)
    out = []
    for triangle, s in zip(corners[met], side[met], strict=True):
        ends = []
        for a, b in ((0, 1), (1, 2), (2, 0)):
            if s[a] * s[b] < 0:
                t = s[a] / (s[a] - s[b])
                ends.append((triangle[a] + t * (triangle[b] - triangle[a]))[1:])
        if len(ends) == 2:
            out.append(ends)
    return np.array(out).reshape(-1, 2, 2)


def cut_of(body: str, x: float) -> tuple[Cut, float]:
    """A studio instrument's neck at a station, and how high its face is above the bench, mm."""
    parts = {p.name: p for p in bodies.named(body).parts}
    wood = np.concatenate([_segments(parts[n], x) for n in ("neck", "fingerboard")])
    face = float(_segments(parts["fingerboard"], x)[..., 1].max())
    low, high = float(wood[..., 0].min()), float(wood[..., 0].max())
    y = np.linspace(low, high, int(np.ceil((high - low) / STEP)) + 1)
    back = np.full(len(y), np.inf)
    for (ya, za), (yb, zb) in wood:
        if ya > yb:
            ya, za, yb, zb = yb, zb, ya, za
        inside = (y >= ya) & (y <= yb)
        if yb - ya > 1e-9:
            back[inside] = np.minimum(back[inside], za + (y[inside] - ya) / (yb - ya) * (zb - za))
    known = np.isfinite(back)
    return Cut(y, np.interp(y, y[known], back[known]) - face), face


def made_up_cut(rng: np.random.Generator) -> Cut:
    """A neck that no table knows: its flanks differ, and it may bulge or hollow a little."""
    half, depth = rng.uniform(17, 29), rng.uniform(17, 28)
    board = rng.uniform(3.5, 6.5)
    y = np.linspace(-half, half, int(np.ceil(2 * half / STEP)) + 1)
    apex = rng.normal(0, 1.2)
    t = np.where(y > apex, (y - apex) / (half - apex), (y - apex) / (-half - apex))
    power = np.where(y > apex, rng.uniform(1.5, 2.8), rng.uniform(1.5, 2.8))
    inner = rng.uniform(0.42, 0.62)
    shape = (1 - np.abs(t) ** power) ** inner
    ripple = rng.uniform(-0.02, 0.02) * np.sin(2.2 * np.pi * y / half) * (1 - t**2)
    return Cut(y, -(board + (depth - board) * (shape + ripple) / (shape + ripple).max()))
