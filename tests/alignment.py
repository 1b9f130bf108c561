"""Distance between a measured and a true outline after rigid alignment, both ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from shapely import distance, points
from shapely.geometry import LinearRing

Array = NDArray[np.float64]


@dataclass(frozen=True)
class OutlineError:
    """mm: measured points to the true outline and true points to the measured one, together."""

    mean: float
    p95: float
    worst: float
    #: (N,) signed by nothing, measured points to the true outline
    per_point: Array
    #: (N, 2) measured points moved onto the truth
    aligned: Array


def outline_error(measured: Array, truth: Array) -> OutlineError:
    """Align the measured outline rigidly to the true one (no scaling) and compare."""
    ring = LinearRing(truth)
    dense = _dense(truth, 0.5)
    start = measured - measured.mean(axis=0)
    centre = measured.mean(axis=0)

    def moved(p: Array) -> Array:
        c, s = np.cos(p[2]), np.sin(p[2])
        return start @ np.array([[c, s], [-s, c]]) + centre + p[:2]

    def residual(p: Array) -> Array:
        return distance(points(moved(p)), ring)

    best = None
    shift = truth.mean(axis=0) - centre
    fit = least_squares(residual, [*shift, 0.0], loss="soft_l1", f_scale=1.0, x_scale=[1, 1, 1e-3])
    fit = least_squares(residual, fit.x, x_scale=[1, 1, 1e-3])
    best = moved(fit.x)
    there = distance(points(best), ring)
    back = distance(points(dense), LinearRing(best))
    both = np.concatenate([there, back])
    return OutlineError(
        float(both.mean()), float(np.percentile(both, 95)), float(both.max()), there, best
    )


def _dense(curve: Array, step: float) -> Array:
    closed = np.vstack([curve, curve[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.arange(0, along[-1], step)
    return np.column_stack([np.interp(at, along, closed[:, i]) for i in (0, 1)])
