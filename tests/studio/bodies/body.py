"""What every instrument is to the studio, and how it comes to rest on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from tests.studio.meshes import Part, rotation

Array = NDArray[np.float64]

#: parts of solid wood or metal; everything else is a thin shell
SOLID = ("neck", "fingerboard", "headstock", "pegbox", "scroll", "bridge")


@dataclass(frozen=True)
class Place:
    """Where a height card can lie.

    Attributes:
        name: what the card lies on.
        centre: (3,) mm, on the surface, below the card's middle.
        along: (3,) the card's long direction.
        up: (3,) away from the surface.
    """

    name: str
    centre: Array
    along: Array
    up: Array


@dataclass(frozen=True, eq=False)
class Body:
    """An instrument in its own frame: x from the tail, y left, z up from the bench, at rest.

    Attributes:
        stations: named x, mm, of the widths that truth states.
        facts: what else truth states, by name, mm.
        burst: places that procedural colours need, see `kernels.surface`.
    """

    name: str
    parts: tuple[Part, ...]
    places: tuple[Place, ...]
    stations: dict[str, float]
    facts: dict[str, float] = field(default_factory=dict)
    burst: Array = field(default_factory=lambda: np.array([(0.0, 0, 0), (0, 1, 1)]))


def _weight(part: Part) -> tuple[float, Array]:
    """Roughly how heavy a part is, and where (x, z): shells by area, solid ones by more."""
    corners = part.points[part.faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(cross, axis=1) / 2
    heavy = 3.0 if part.name in SOLID else 1.0
    middle = (corners.mean(axis=1) * area[:, None]).sum(axis=0) / max(area.sum(), 1e-12)
    return heavy * float(area.sum()), middle[[0, 2]]


def resting_pitch(parts: Sequence[Part]) -> float:
    """Degrees about y that bring the instrument to rest: it lies on the two lowest places fore
    and aft of its centre of gravity, seen from the side (left and right are taken to balance)."""
    weights = [_weight(p) for p in parts if p.name != "string"]
    total = sum(w for w, _ in weights)
    gravity = sum(w * m for w, m in weights) / total
    points = np.vstack([p.points[:, [0, 2]] for p in parts])
    hull = points[ConvexHull(points).vertices]  # counter-clockwise
    for a, b in zip(hull, np.roll(hull, -1, axis=0), strict=True):
        if b[0] > a[0] and a[0] <= gravity[0] <= b[0]:
            return float(np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0])))
    raise ValueError("nothing lies below the centre of gravity")


def settled(
    name: str,
    parts: Sequence[Part],
    places: Sequence[Place],
    stations: dict[str, Array],
    burst: Array | None = None,
) -> Body:
    """Let an instrument down on the bench and put its tail at x = 0.

    Args:
        stations: (3,) mm, points in the building frame.
    """
    turn = np.eye(3)
    moved = list(parts)
    for _ in range(4):  # the lowest places change a little as it turns
        step = rotation("y", resting_pitch(moved))
        turn = step @ turn
        moved = [p.moved(turn, np.zeros(3)) for p in parts]
    low = np.min([p.points.min(axis=0) for p in moved], axis=0)
    shift = np.array([-low[0], 0.0, -low[2]])
    lying = [Place(q.name, turn @ q.centre + shift, turn @ q.along, turn @ q.up) for q in places]
    return Body(
        name,
        tuple(p.moved(turn, shift) for p in parts),
        tuple(lying),
        {k: float((turn @ v + shift)[0]) for k, v in stations.items()},
        {"pitch_deg": round(float(np.degrees(np.arctan2(turn[0, 2], turn[0, 0]))), 4)},
        np.array([(0.0, 0, 0), (0, 1, 1)]) if burst is None else burst,
    )
