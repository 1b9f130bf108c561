"""What every instrument is to the studio, and how it comes to rest on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tests.studio.meshes import Part

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Place:
    """Where a height card can lie: a point on a surface, as the card's middle.

    Attributes:
        name: what the card lies on.
        centre: (3,) mm, on the surface (the card's paper comes on top).
        along: (3,) unit, the card's long direction.
        up: (3,) unit, away from the surface.
        long: which kind of card fits.
    """

    name: str
    centre: Array
    along: Array
    up: Array
    long: bool


@dataclass(frozen=True, eq=False)
class Body:
    """An instrument in its own frame: x from the tail, y left, z up from the bench, at rest.

    Attributes:
        stations: named x, mm, of the widths that truth states.
        facts: what else truth states, by name, mm.
    """

    name: str
    parts: tuple[Part, ...]
    places: tuple[Place, ...]
    stations: dict[str, float]
    facts: dict[str, float] = field(default_factory=dict)


def settled(
    parts: Sequence[Part],
    places: Sequence[Place],
    stations: dict[str, Array],
    turn: Array,
) -> tuple[list[Part], list[Place], dict[str, float], Array]:
    """Turn everything, then let it down on the bench and put the tail at x = 0.

    Args:
        stations: (3,) mm, points in the building frame.

    Returns:
        Parts, places, the stations' x, and the shift that was applied after the turn.
    """
    low = np.min([(p.points @ turn.T).min(axis=0) for p in parts], axis=0)
    shift = np.array([-low[0], 0.0, -low[2]])
    moved = [p.moved(turn, shift) for p in parts]
    lying = [
        Place(q.name, turn @ q.centre + shift, turn @ q.along, turn @ q.up, q.long) for q in places
    ]
    at = {k: float((turn @ v + shift)[0]) for k, v in stations.items()}
    return moved, lying, at, shift
