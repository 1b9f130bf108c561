"""Smooth plan curves: closed outlines through a few points, and rounded simple shapes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Curve:
    """A closed plan curve, counter-clockwise.

    Attributes:
        points: (N, 2) mm.
        normals: (N, 2) unit, outward.
    """

    points: Array
    normals: Array

    def inset(self, by: float) -> Array:
        """(N, 2) mm: every point moved inward along its normal."""
        return self.points - by * self.normals


def closed_spline(knots: Array, step: float) -> Curve:
    """A curvature-continuous closed curve through the knots, counter-clockwise.

    Args:
        knots: (K, 2) mm, counter-clockwise, first point not repeated.
        step: distance between points, mm.
    """
    ring = np.vstack([knots, knots[:1]])
    # centripetal spacing keeps the curve from swinging between uneven knots
    chord = np.sqrt(np.linalg.norm(np.diff(ring, axis=0), axis=1))
    t = np.concatenate([[0.0], np.cumsum(chord)])
    spline = CubicSpline(t, ring, bc_type="periodic")
    fine = np.linspace(0.0, t[-1], 20001)
    length = np.concatenate(
        [[0.0], np.cumsum(np.linalg.norm(np.diff(spline(fine), axis=0), axis=1))]
    )
    n = max(64, int(length[-1] / step))
    at = np.interp(np.linspace(0.0, length[-1], n, endpoint=False), length, fine)
    tangent = spline(at, 1)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    return Curve(spline(at), np.column_stack([tangent[:, 1], -tangent[:, 0]]))


def mirrored(half: list[tuple[float, float]]) -> Array:
    """Knots of a symmetric closed curve from its left half, tail first; y 0 only at the ends.

    Returns:
        (K, 2) mm, counter-clockwise seen from above (x to the right, y up).
    """
    left = np.array(half, dtype=float)
    right = left[(left[:, 1] > 0)] * np.array([1.0, -1.0])
    # tail, right side towards the head, head, left side back to the tail
    start = left[:1] if left[0, 1] == 0 else left[:0]
    end = left[-1:] if left[-1, 1] == 0 else left[:0]
    return np.vstack([start, right, end, left[left[:, 1] > 0][::-1]])


def rounded_polygon(corners: Array, radius: float | list[float], step: float = 0.5) -> Curve:
    """A polygon with arcs for corners, counter-clockwise.

    Args:
        corners: (K, 2) mm, counter-clockwise.
        radius: mm, one for all corners or one each.
        step: distance between points on arcs and edges, mm.
    """
    k = len(corners)
    radii = [radius] * k if isinstance(radius, (int, float)) else radius
    points: list[Array] = []
    normals: list[Array] = []
    starts: list[Array] = []
    arcs: list[tuple[Array, Array]] = []
    for i in range(k):
        before = corners[i] - corners[i - 1]
        after = corners[(i + 1) % k] - corners[i]
        before = before / np.linalg.norm(before)
        after = after / np.linalg.norm(after)
        turn = np.arctan2(before[0] * after[1] - before[1] * after[0], before @ after)
        r = radii[i]
        cut = r * np.tan(abs(turn) / 2)
        first = corners[i] - before * cut
        sign = 1.0 if turn >= 0 else -1.0
        out = np.array([before[1], -before[0]])
        centre = first - sign * out * r
        angles = np.linspace(0.0, turn, max(2, int(abs(turn) * r / min(step, 0.3 * r)) + 2))
        c, s = np.cos(angles), np.sin(angles)
        n = np.column_stack([c * out[0] - s * out[1], s * out[0] + c * out[1]])
        arcs.append((centre + sign * r * n, n))
        starts.append(first)
    for i in range(k):
        p, n = arcs[i]
        points.append(p)
        normals.append(n)
        following = arcs[(i + 1) % k][0][0]
        gap = float(np.linalg.norm(following - p[-1]))
        m = int(gap / (4 * step))
        if m > 0:
            u = (np.arange(1, m + 1) / (m + 1))[:, None]
            points.append(p[-1] * (1 - u) + following * u)
            normals.append(np.repeat(n[-1:], m, axis=0))
    return Curve(np.vstack(points), np.vstack(normals))


def rectangle(
    x0: float, y0: float, x1: float, y1: float, radius: float, step: float = 0.5
) -> Curve:
    """An upright rectangle with rounded corners."""
    return rounded_polygon(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), radius, step)


def circle(x: float, y: float, radius: float, n: int = 96) -> Curve:
    """A circle."""
    a = np.linspace(0, 2 * np.pi, n, endpoint=False)
    normals = np.column_stack([np.cos(a), np.sin(a)])
    return Curve(np.array([x, y]) + radius * normals, normals)
