"""The centreline and with it the instrument's own frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import extent_at
from profiler.geometry.frames import Frame2D

Array = NDArray[np.float64]

#: a body whose halves agree to this is called symmetric, mm
_SYMMETRIC_MM = 2.0
_LEAST_NECK_MM = 50.0


@dataclass(frozen=True)
class Centreline:
    """Attributes:
    frame: the instrument's frame on the mat.
    symmetric: whether the body is its own mirror image; None without a neck to judge it by.
    """

    frame: Frame2D
    symmetric: bool | None


def find_centreline(plan: Array, rough: Frame2D, join: float, nut: float) -> Centreline:
    """The line along the middle of the neck; of neck and body together where the body agrees.

    The strings run along the neck, so an asymmetric body does not bend the centreline.

    Args:
        plan: (M, 2) mm, mat frame, the plan outline.
        rough: frame of the split.
        join, nut: mm along it, ends of the neck.
    """
    points = rough.from_mat(plan)
    length = float(points[:, 0].max())
    body = _middles(points, 0.04 * length, join - 0.04 * length)
    neck = _middles(points, join + 8.0, nut - 6.0)
    if len(neck) * 2.0 < _LEAST_NECK_MM:
        line = _line(body)
        symmetric = None
    else:
        line = _line(neck)
        off = np.abs(body[:, 1] - np.polyval(line, body[:, 0])) if len(body) else np.zeros(1)
        symmetric = bool(np.percentile(off, 90) < _SYMMETRIC_MM)
        if symmetric and len(body):
            line = _line(np.vstack([body, neck]))
    turn = float(np.arctan(line[0]))
    frame = Frame2D(rough.angle + turn, rough.origin)
    # slide the origin onto the line, to the tail's end
    on_line = rough.to_mat(np.array([[0.0, float(line[1])]]))[0]
    frame = Frame2D(frame.angle, (float(on_line[0]), float(on_line[1])))
    tail = float(frame.from_mat(plan)[:, 0].min())
    origin = frame.to_mat(np.array([[tail, 0.0]]))[0]
    return Centreline(
        Frame2D(frame.angle, (float(origin[0]), float(origin[1]))),
        symmetric,
    )


def _middles(points: Array, start: float, end: float) -> Array:
    """(K, 2) x and middle between the two sides, every 2 mm."""
    if end - start < 4.0:
        return np.zeros((0, 2))
    x = np.arange(start, end, 2.0)
    low, high = extent_at(points, x)
    good = np.isfinite(low) & np.isfinite(high)
    return np.column_stack([x, (low + high) / 2])[good]


def _line(middles: Array) -> Array:
    """Robust straight line: (2,) slope and height at x = 0."""
    if len(middles) < 3:
        return np.zeros(2)
    x, y = middles.T
    weight = np.ones(len(x))
    line = np.zeros(2)
    for _ in range(15):
        line = np.polyfit(x, y, 1, w=np.sqrt(weight))
        left = y - np.polyval(line, x)
        spread = max(1.4826 * float(np.median(np.abs(left))), 0.02)
        weight = 1 / (1 + (left / (2 * spread)) ** 2)
    return line
