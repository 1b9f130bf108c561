"""A shape's signature: numbers that no turning, moving or mirroring of the outline changes.

The signature comes from the support function h(θ) of the convex hull: how far the hull reaches in
direction θ. Turning shifts it, moving adds a first harmonic, mirroring conjugates its coefficients:
the magnitudes |c_n| without n = 1 stay. By Parseval's theorem the distance between two signatures
is at most max |h_A − h_B|, which is the Hausdorff distance of the hulls and so at most that of the
shapes: **a signature's distance is a lower bound, in mm, of the largest gap between two outlines
however they are laid over each other.** So nothing near is ever passed over.

For a polygon with edges l_k and outward normals at φ_k, h + h'' = Σ l_k δ(θ − φ_k), so
c_n = Σ l_k exp(−i n φ_k) / (2π (1 − n²)) (Groemer, Geometric Applications of Fourier Series and
Spherical Harmonics, 1996; the derivation is the check, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.geometry.curves import evenly_spaced

Array = NDArray[np.float64]

#: harmonics 0, 2, 3 … of the support function
HARMONICS = np.array([0, *range(2, 26)])
#: points of the coarse outline
COARSE = 96
#: where the sizes stand behind the harmonics
DIAMETER, NARROWEST, AREA, ROUND = (len(HARMONICS) + i for i in range(4))
SIGNATURE = len(HARMONICS) + 4


@dataclass(frozen=True)
class Shape:
    """What an outline is found by.

    Attributes:
        signature: (SIGNATURE,) harmonics, then largest width, smallest width, mm, area, mm²,
            radius of the smallest circle round it, mm.
        coarse: (COARSE, 2) mm, evenly spaced points with their centroid at the origin and the long
            axis of inertia along x, the heavier end to the left.
    """

    signature: Array
    coarse: Array


def shape_of(outline: Array) -> Shape:
    """The shape of a closed outline.

    Args:
        outline: (N, 2) mm, any frame, either sense.
    """
    polygon = shapely.Polygon(outline)
    hull = np.asarray(polygon.convex_hull.exterior.coords)[:-1]
    if not shapely.LinearRing(hull).is_ccw:
        hull = hull[::-1]
    edges = np.roll(hull, -1, axis=0) - hull
    lengths = np.hypot(*edges.T)
    normals = np.arctan2(-edges[:, 0], edges[:, 1])
    terms = np.exp(-1j * HARMONICS[:, None] * normals) @ lengths / (2 * np.pi * (1 - HARMONICS**2))
    magnitudes = np.abs(terms) * np.where(HARMONICS == 0, 1.0, np.sqrt(2.0))
    # widths across each edge: the smallest one is among them; the largest is between two corners
    outward = np.column_stack([np.cos(normals), np.sin(normals)])
    reach = hull @ outward.T
    narrowest = float((reach.max(axis=0) - reach.min(axis=0)).min())
    diameter = float(np.hypot(*(hull[:, None] - hull[None]).T).max())
    circle = float(shapely.minimum_bounding_radius(polygon))
    signature = np.concatenate([magnitudes, [diameter, narrowest, polygon.area, circle]])
    return Shape(signature, coarse_of(polygon))


def coarse_of(polygon: shapely.Polygon) -> Array:
    """(COARSE, 2) points along the outline in the frame of its own inertia."""
    corners = np.asarray(polygon.exterior.coords)[:-1]
    points = evenly_spaced(corners, polygon.exterior.length / COARSE)
    return standing(points, points)


def standing(points: Array, by: Array) -> Array:
    """`points` moved into the frame of inertia of the points `by`: (N, 2) mm each.

    Which end is left follows from the third moment; where a shape has none to speak of, either end
    may be, which is why comparisons try both.
    """
    middle = by.mean(axis=0)
    _, axes = np.linalg.eigh(np.cov((by - middle).T))
    x = axes[:, 1]
    if (((by - middle) @ x) ** 3).sum() < 0:
        x = -x
    frame = np.column_stack([x, [-x[1], x[0]]])
    turned: Array = (points - middle) @ frame
    return turned


def gap_at_least(signatures: Array, signature: Array) -> Array:
    """(N,) mm: no laying over of these outlines has a smaller largest gap than this.

    Args:
        signatures: (N, SIGNATURE).
        signature: (SIGNATURE,) of the outline that is compared.
    """
    count = len(HARMONICS)
    harmonic = np.sqrt(((signatures[:, :count] - signature[:count]) ** 2).sum(axis=1))
    # widths change by at most two gaps, the radius of the circle round it by one
    sizes = np.abs(signatures[:, [DIAMETER, NARROWEST]] - signature[[DIAMETER, NARROWEST]]) / 2
    circle = np.abs(signatures[:, ROUND] - signature[ROUND])
    bound: Array = np.maximum.reduce([harmonic, sizes[:, 0], sizes[:, 1], circle])
    return bound


def room_at_most(inner: Array, outer: Array) -> Array:
    """(N,) mm: no place inside the outer shape leaves a shape more room all round than this.

    Negative where it cannot fit. What lies inside has a smaller diameter, width and mean width,
    and a smaller circle round it; room c all round makes these larger by 2c, 2c, 2c and c.

    Args:
        inner, outer: (N, SIGNATURE) or (SIGNATURE,), one of them many.
    """
    more = outer - inner
    bound: Array = np.minimum.reduce(
        [more[..., 0], more[..., DIAMETER] / 2, more[..., NARROWEST] / 2, more[..., ROUND]]
    )
    return bound


def packed(values: Array) -> bytes:
    """As float32, little-endian: 0.03 µm off at half a metre."""
    return np.ascontiguousarray(values, dtype="<f4").tobytes()


def unpacked(data: bytes, columns: int) -> Array:
    """(N, columns) from `packed`."""
    return np.frombuffer(data, dtype="<f4").reshape(-1, columns).astype(np.float64)
