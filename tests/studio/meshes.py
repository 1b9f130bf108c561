"""Triangle meshes of parts: lofts, slabs, tubes and turned pieces, and how parts move."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from tests.studio.curves import Curve

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True)
class Part:
    """One mesh with one material.

    Attributes:
        name: what it is.
        points: (N, 3) mm.
        faces: (M, 3) corner numbers, counter-clockwise from outside.
        normals: (N, 3) unit, for smooth shading.
        material: name in `materials.MATERIALS`.
        local: (N, 3) mm, where each point was before any motion: what the grain is fixed to.
    """

    name: str
    points: Array
    faces: Index
    normals: Array
    material: str
    local: Array

    def moved(self, rotation: Array, shift: Array) -> Part:
        """The part turned, then shifted."""
        return replace(
            self, points=self.points @ rotation.T + shift, normals=self.normals @ rotation.T
        )


def part(name: str, points: Array, faces: Index, material: str) -> Part:
    """A part with area-weighted vertex normals."""
    corners = points[faces]
    face = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(points)
    for k in range(3):
        np.add.at(normals, faces[:, k], face)
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    return Part(name, points, faces, normals / np.maximum(size, 1e-30), material, points.copy())


def joined(name: str, parts: Sequence[Part]) -> Part:
    """Several parts of one material as one."""
    offsets = np.cumsum([0, *[len(p.points) for p in parts]])
    return Part(
        name,
        np.vstack([p.points for p in parts]),
        np.vstack([p.faces + o for p, o in zip(parts, offsets, strict=False)]),
        np.vstack([p.normals for p in parts]),
        parts[0].material,
        np.vstack([p.local for p in parts]),
    )


def loft(name: str, rings: Array, material: str, closed: bool = True) -> Part:
    """A skin through rings of points.

    Args:
        rings: (R, N, 3) mm; seen from outside, N runs counter-clockwise as R goes up.
        closed: the last point of a ring joins the first.
    """
    r, n, _ = rings.shape
    grid = np.arange(r * n).reshape(r, n)
    a, d = grid[:-1], grid[1:]
    if closed:
        b, c = np.roll(a, -1, axis=1), np.roll(d, -1, axis=1)
    else:
        a, b, d, c = a[:, :-1], a[:, 1:], d[:, :-1], d[:, 1:]
    faces = np.concatenate(
        [
            np.stack([a, b, c], axis=-1).reshape(-1, 3),
            np.stack([a, c, d], axis=-1).reshape(-1, 3),
        ]
    )
    return part(name, rings.reshape(-1, 3), faces, material)


def sheet(
    name: str,
    outer: Array,
    height: float | Callable[[Array], Array],
    material: str,
    holes: Sequence[Array] = (),
    up: bool = True,
) -> Part:
    """A flat face with holes, triangulated.

    Args:
        outer: (N, 2) mm.
        height: z, or a function of (N, 2) plan points.
        holes: rings of plan points.
        up: the face looks up, else down.
    """
    polygon = shapely.Polygon(outer, [h for h in holes])
    triangles = shapely.constrained_delaunay_triangles(polygon)
    corners = np.array([t.exterior.coords[:3] for t in triangles.geoms])[:, :, :2]
    flat = corners.reshape(-1, 2)
    points, inverse = np.unique(np.round(flat, 9), axis=0, return_inverse=True)
    faces = inverse.reshape(-1, 3)
    v = points[faces]
    e1, e2 = v[:, 1] - v[:, 0], v[:, 2] - v[:, 0]
    area = e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0]
    faces = np.where(((area > 0) == up)[:, None], faces, faces[:, ::-1])
    z = height(points) if callable(height) else np.full(len(points), height)
    return part(name, np.column_stack([points, z]), faces, material)


def skirt(name: str, curve: Curve, profile: Sequence[tuple[float, float]], material: str) -> Part:
    """A wall that follows a plan curve.

    Args:
        profile: (inset, z) pairs from the bottom up, mm.
    """
    rings = np.stack(
        [np.column_stack([curve.inset(i), np.full(len(curve.points), z)]) for i, z in profile]
    )
    return loft(name, rings, material)


def slab(
    name: str, curve: Curve, z0: float, z1: float, material: str, round_mm: float = 0.5
) -> Part:
    """A solid plate with rounded edges."""
    r = min(round_mm, (z1 - z0) / 2.001)
    a = np.linspace(0.0, np.pi / 2, 5)
    lower = [(r * (1 - np.sin(t)), z0 + r * (1 - np.cos(t))) for t in a]
    upper = [(r * (1 - np.cos(t)), z1 - r * (1 - np.sin(t))) for t in a]
    return joined(
        name,
        [
            skirt(name, curve, [*lower, *upper], material),
            sheet(name, curve.inset(r), z1, material),
            sheet(name, curve.inset(r), z0, material, up=False),
        ],
    )


def tube(name: str, path: Array, radius: float, material: str, sides: int = 16) -> Part:
    """A round bar along a path of (K, 3) mm, ends closed."""
    tangent = np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    ref = np.array([0.0, 0.0, 1.0]) if abs(tangent[0, 2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    u = np.cross(tangent, ref)
    u /= np.linalg.norm(u, axis=1, keepdims=True)
    v = np.cross(tangent, u)
    a = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    rings = (
        path[:, None, :]
        + radius * np.cos(a)[None, :, None] * u[:, None, :]
        + radius * np.sin(a)[None, :, None] * v[:, None, :]
    )
    return capped(name, rings, material)


def capped(name: str, rings: Array, material: str) -> Part:
    """A loft with a fan on each end (each with edges of its own, so that they look sharp)."""
    parts = [loft(name, rings, material)]
    n = rings.shape[1]
    for ring, flip in ((rings[0], True), (rings[-1], False)):
        points = np.vstack([ring, ring.mean(axis=0)])
        i = np.arange(n)
        faces = np.column_stack([i, np.roll(i, -1), np.full(n, n)])
        parts.append(part(name, points, faces[:, ::-1] if flip else faces, material))
    return joined(name, parts)


def turned(
    name: str,
    profile: Sequence[tuple[float, float]],
    axis: Array,
    base: Array,
    material: str,
    sides: int = 48,
    squash: float = 1.0,
) -> Part:
    """A turned piece: (distance along the axis, radius) pairs; `squash` flattens it sideways."""
    axis = axis / np.linalg.norm(axis)
    ref = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    u = np.cross(ref, axis)
    u /= np.linalg.norm(u)
    v = np.cross(axis, u)
    a = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    rings = np.stack(
        [
            base + s * axis + r * (np.cos(a)[:, None] * u + squash * np.sin(a)[:, None] * v)
            for s, r in profile
        ]
    )
    return capped(name, rings, material)


def rotation(axis: str, degrees: float) -> Array:
    """(3, 3): a right-handed turn about x, y or z."""
    a = np.radians(degrees)
    c, s = np.cos(a), np.sin(a)
    if axis == "x":
        return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
    if axis == "y":
        return np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


def turn_about(parts: Sequence[Part], pivot: Array, turn: Array) -> list[Part]:
    """Parts turned about a point."""
    return [p.moved(turn, pivot - turn @ pivot) for p in parts]


def spin_curve(points: Array, degrees: float) -> Array:
    """(N, 2) plan points turned about the origin."""
    r = rotation("z", degrees)[:2, :2]
    return points @ r.T
