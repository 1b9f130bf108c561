"""Height cards as thin meshes lying on an instrument."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.target.card import KINDS, THICKNESS_MM
from tests.studio.bodies.body import Place
from tests.studio.meshes import Part

Array = NDArray[np.float64]


def lying_card(
    number: int, place: Place, scale: tuple[float, float], turn_deg: float = 0.0,
    slide: tuple[float, float] = (0.0, 0.0), origin: tuple[float, float] = (0.0, 0.0),
) -> tuple[Part, Array]:  # fmt: skip
    """A card on a place of an instrument, in the instrument's frame.

    Args:
        number: the card's, from 1.
        scale: what the printer did along the card's length and width.
        origin: mm, where the card's corner is in the picture that is printed on it.
        turn_deg, slide: how a hand puts it down: turned, and moved along and across, mm.

    Returns:
        The mesh, whose `local` x, y are designed millimetres in the card's picture; and the
        (4, 4) transform from printed millimetres on the face (as printed) to the instrument.
    """
    kind = KINDS[number - 1]
    up = place.up / np.linalg.norm(place.up)
    along = place.along - up * (place.along @ up)
    along /= np.linalg.norm(along)
    across = np.cross(up, along)
    a = np.radians(turn_deg)
    x = np.cos(a) * along + np.sin(a) * across
    y = -np.sin(a) * along + np.cos(a) * across
    w, h = kind.length * scale[0], kind.width * scale[1]
    middle = place.centre + slide[0] * along + slide[1] * across
    corner = middle - x * w / 2 - y * h / 2
    flat = np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=float)
    base = corner + flat[:, :1] * x + flat[:, 1:] * y + 0.03 * up
    top = base + up * (THICKNESS_MM - 0.03)
    printed = flat / np.array(scale) + np.array(origin)
    points = np.vstack([top, base, top])
    local = np.zeros((12, 3))
    local[:4, :2] = printed
    local[4:] = local[0] + (2.0, 2.0, 0.0)  # the cut edge is plain
    faces = [(0, 1, 2), (0, 2, 3), (6, 5, 4), (7, 6, 4)]
    for k in range(4):
        n = (k + 1) % 4
        faces += [(8 + k, 4 + k, 4 + n), (8 + k, 4 + n, 8 + n)]
    normals = np.repeat(up[None], 12, axis=0)
    centre = points.mean(axis=0)
    outward = points[4:] - centre
    outward -= (outward @ up)[:, None] * up
    normals[4:] = outward / np.linalg.norm(outward, axis=1, keepdims=True)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = x, y, up
    matrix[:3, 3] = corner + up * THICKNESS_MM
    return Part(f"card {number}", points, np.array(faces), normals, "card", local), matrix
