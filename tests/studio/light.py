"""A window (a rectangle that glows) and the room round it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Light:
    """Linear radiance throughout, arbitrary units.

    Attributes:
        quad: (4, 3) corner, two edges, unit normal towards the scene; mm.
        glow: (3,) radiance of the window.
        room: (8, 3), see `kernels.sky`.
        typical: irradiance on the open mat, roughly.
    """

    quad: Array
    glow: Array
    room: Array
    typical: float


def window(
    target: tuple[float, float],
    azimuth_deg: float,
    elevation_deg: float,
    distance: float,
    width: float,
    height: float,
    ratio: float,
    glow_rgb: tuple[float, float, float] = (1.0, 1.0, 1.03),
    room_rgb: tuple[float, float, float] = (1.0, 0.985, 0.95),
    person_deg: float = 250.0,
) -> Light:
    """A window to one side of the bench.

    Args:
        target: point on the mat that it faces, mm.
        azimuth_deg: direction from the target, counter-clockwise from x.
        ratio: share of the light on the open mat that comes from the window.
        person_deg: from where the photographer leans over the bench.
    """
    az, el = np.radians(azimuth_deg), np.radians(elevation_deg)
    towards = np.array([np.cos(az) * np.cos(el), np.sin(az) * np.cos(el), np.sin(el)])
    middle = np.array([*target, 0.0]) + distance * towards
    side = np.array([-np.sin(az), np.cos(az), 0.0])
    up = np.cross(towards, side)
    corner = middle - side * width / 2 - up * height / 2
    normal = -towards
    direct = width * height * np.sin(el) / distance**2  # small-source estimate, for the balance
    total = np.pi
    glow = np.array(glow_rgb) * total * ratio / direct
    room_level = (1 - ratio) * total / np.pi / 0.9
    ceiling = np.array(room_rgb) * room_level * 1.05
    wall = np.array(room_rgb) * room_level * 0.95
    far = np.array(room_rgb) * room_level * 0.55
    pz = np.radians(person_deg)
    person = np.array([np.cos(pz) * 0.22, np.sin(pz) * 0.22, 0.0])
    person[2] = np.sqrt(1 - person @ person)
    opposite = np.array([np.cos(az + 2.3), np.sin(az + 2.3), 0.35])
    opposite /= np.linalg.norm(opposite)
    room = np.stack(
        [
            ceiling,
            wall,
            far,
            np.array([0.05, 0.045, 0.045]) * room_level,
            glow,
            opposite,
            np.array(room_rgb) * room_level * 3.0,
            person,
        ]
    )
    return Light(np.stack([corner, side * width, up * height, normal]), glow, room, total)
