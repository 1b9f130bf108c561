"""Arched plates: an outline with corners, its arching, and how a card lies on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import map_coordinates
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve
from scipy.spatial import ConvexHull, Delaunay

from tests.studio.curves import Curve
from tests.studio.meshes import Part, joined, part, skirt

Array = NDArray[np.float64]


def _smooth(knots: Array, step: float) -> Array:
    """An open smooth curve through knots, (N, 2), both ends included."""
    t = np.concatenate([[0.0], np.cumsum(np.sqrt(np.linalg.norm(np.diff(knots, axis=0), axis=1)))])
    spline = CubicSpline(t, knots, bc_type="natural")
    n = int(np.linalg.norm(np.diff(knots, axis=0), axis=1).sum() / step)
    return np.asarray(spline(np.linspace(0.0, t[-1], n)))


def cornered_outline(lower: Array, middle: Array, upper: Array, corner: float) -> shapely.Polygon:
    """A symmetric outline of six curves that meet in corners.

    Args:
        lower, middle, upper: (K, 2) knots of the left half from tail to head; the lower curve
            starts and the upper one ends on the centreline.
        corner: radius that the corners are rounded to, mm.
    """
    flip = np.array([1.0, -1.0])
    whole_lower = _smooth(np.vstack([lower[:0:-1] * flip, lower]), 0.25)
    whole_upper = _smooth(np.vstack([upper, upper[-2::-1] * flip]), 0.25)
    left = _smooth(middle, 0.25)
    ring = np.vstack([whole_lower, left, whole_upper, (left * flip)[::-1]])
    polygon = shapely.Polygon(ring)
    if not polygon.is_valid:
        raise ValueError("the outline crosses itself")
    opened = polygon.buffer(-corner, quad_segs=24).buffer(2 * corner, quad_segs=24)
    return shapely.orient_polygons(opened.buffer(-corner, quad_segs=24))


def curve_of(polygon: shapely.Polygon, step: float) -> Curve:
    """The polygon's ring with normals; straight runs are cut to `step`, arcs keep their points."""
    ring = shapely.segmentize(polygon.simplify(0.0015), step)
    points = np.array(shapely.orient_polygons(ring).exterior.coords)[:-1]
    keep = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > 0.02
    points = points[keep]
    ahead = np.roll(points, -1, axis=0) - points
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True)
    tangent = ahead + np.roll(ahead, 1, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    return Curve(points, np.column_stack([tangent[:, 1], -tangent[:, 0]]))


@dataclass(frozen=True)
class Arch:
    """Height above the plate's edge, 0 at the edge: a soap film (Poisson's equation) over the
    outline, bent so that it starts level, as a channel does.

    Attributes:
        grid: heights, mm, a millimetre apart.
        corner: plan place of grid[0, 0].
    """

    grid: Array
    corner: Array

    def __call__(self, plan: Array) -> Array:
        """(N, 2) plan points to heights, mm."""
        at = (plan - self.corner).T
        return np.asarray(map_coordinates(self.grid, at, order=3, mode="nearest"))


def arch(polygon: shapely.Polygon, rise: float) -> Arch:
    """The arching of a plate that rises by `rise` mm."""
    x0, y0, x1, y1 = polygon.bounds
    corner = np.array([np.floor(x0) - 3, np.floor(y0) - 3])
    nx, ny = int(x1 - corner[0]) + 5, int(y1 - corner[1]) + 5
    gx, gy = np.meshgrid(np.arange(nx), np.arange(ny), indexing="ij")
    shapely.prepare(polygon)
    inside = shapely.contains_xy(polygon, gx + corner[0], gy + corner[1])
    number = np.full((nx, ny), -1)
    number[inside] = np.arange(inside.sum())
    n = int(inside.sum())
    laplace = lil_matrix((n, n))
    ii, jj = np.nonzero(inside)
    k = number[ii, jj]
    laplace[k, k] = 4.0
    for di, dj in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        other = number[ii + di, jj + dj]
        has = other >= 0
        laplace[k[has], other[has]] = -1.0
    film = np.zeros((nx, ny))
    film[inside] = spsolve(laplace.tocsc(), np.ones(n))
    s = film / film.max()
    # full in the middle, hollow in the channel near the edge
    return Arch(rise * s**1.35 * (1.9 - 0.9 * s), corner)


def plate(name: str, polygon: shapely.Polygon, edge: float, rise: Arch, material: str) -> Part:
    """A plate from z = 0 (flat side) up: rounded edge `edge` mm thick, arched above it."""
    r = 0.9
    curve = curve_of(polygon, 0.6)
    a = np.linspace(0.0, np.pi / 2, 6)
    profile = [(r * (1 - np.sin(t)), r * (1 - np.cos(t))) for t in a]
    profile += [(r * (1 - np.cos(t)), edge - r * (1 - np.sin(t))) for t in a]
    wall = skirt(name, curve, profile, material)
    ring = curve.inset(r)
    x0, y0, x1, y1 = polygon.bounds
    gx, gy = np.meshgrid(np.arange(x0, x1, 1.4), np.arange(y0, y1, 1.4), indexing="ij")
    flat = np.column_stack([gx.ravel(), gy.ravel()])
    inner = polygon.buffer(-r - 0.9)
    shapely.prepare(inner)
    flat = flat[shapely.contains_xy(inner, flat[:, 0], flat[:, 1])]
    points = np.vstack([ring, flat])
    faces = Delaunay(points).simplices
    middle = points[faces].mean(axis=1)
    rim = shapely.Polygon(ring)
    shapely.prepare(rim)
    faces = faces[shapely.contains_xy(rim, middle[:, 0], middle[:, 1])]
    v = points[faces]
    e1, e2 = v[:, 1] - v[:, 0], v[:, 2] - v[:, 0]
    area = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    faces = np.where((area > 0)[:, None], faces, faces[:, ::-1])[np.abs(area) > 1e-9]
    top = part(name, np.column_stack([points, edge + rise(points)]), faces, material)
    return joined(name, [wall, top])


def lying_on(
    surface: Arch, base: float, centre: tuple[float, float], turn: float, size: tuple[float, float]
) -> tuple[Array, Array]:
    """How a stiff card rests on an arched surface.

    Args:
        base: z of the surface where its arch is 0, mm.
        turn: of the card's long side from x, degrees.

    Returns:
        The point of the card's underside above `centre`, and the card's normal: the plane on the
        highest points under the card that has the card's middle between them.
    """
    a = np.radians(turn)
    u = np.linspace(-size[0] / 2, size[0] / 2, 60)
    v = np.linspace(-size[1] / 2, size[1] / 2, 24)
    uu, vv = (g.ravel() for g in np.meshgrid(u, v))
    x = centre[0] + np.cos(a) * uu - np.sin(a) * vv
    y = centre[1] + np.sin(a) * uu + np.cos(a) * vv
    points = np.column_stack([x, y, base + surface(np.column_stack([x, y]))])
    hull = ConvexHull(points)
    at = np.array(centre)
    best: tuple[float, Array] | None = None
    for equation in hull.equations:  # n . p + d = 0, n outward
        n, d = equation[:3], equation[3]
        if n[2] < 0.3:
            continue
        z = -(d + n[:2] @ at) / n[2]
        if best is None or z < best[0]:  # the lowest upper plane at the middle is the hull there
            best = (z, n)
    if best is None:
        raise ValueError("nothing to lie on")
    return np.array([*centre, best[0]]), best[1]
