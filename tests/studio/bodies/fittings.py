"""Parts that several instruments share: tuners, frets, strings, a neck's skin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tests.studio.curves import circle, rectangle
from tests.studio.meshes import Part, capped, joined, loft, slab, tube, turned

Array = NDArray[np.float64]


def geared_tuner(
    x: float, side: float, post_y: float, edge_y: float, thick: float, scale: float, button: str
) -> list[Part]:
    """One tuner with its post through a headstock whose face is at z = 0.

    Args:
        x: along the headstock, mm.
        side: +1 left, -1 right.
        post_y: distance of the post from the middle, mm.
        edge_y: distance of the headstock's edge from the middle at the button's shaft, mm.
        thick: of the headstock, mm.
        scale: 1 for a small instrument, larger for bigger tuners.
        button: material of the button.
    """
    s = scale
    up = np.array([0.0, 0.0, 1.0])
    out = np.array([0.0, side, 0.0])
    post = turned(
        "post",
        [(-thick, 2.6 * s), (7.2 * s, 2.6 * s), (7.6 * s, 2.2 * s), (9 * s, 1.9 * s),
         (10.2 * s, 2.4 * s), (10.7 * s, 2.0 * s)],
        up, np.array([x, side * post_y, 0.0]), "chrome", 32,
    )  # fmt: skip
    bush = turned(
        "bush",
        [(0.0, 4.6 * s), (0.8 * s, 4.6 * s), (1.3 * s, 4.0 * s), (1.6 * s, 3.0 * s)],
        up, np.array([x, side * post_y, 0.0]), "chrome", 40,
    )  # fmt: skip
    # the worm lies on its plate, clear of the wood: a plate of 1, then half of a wheel and its
    # bracket (common practice, no source)
    z = -thick - 5.0 * s
    worm_x = x + 5.0 * s
    shaft_end = edge_y + 7.5 * s
    shaft = tube(
        "shaft",
        np.array([[worm_x, side * (post_y - 7 * s), z], [worm_x, side * (shaft_end + 1), z]]),
        1.5 * s, "chrome", 24,
    )  # fmt: skip
    box = slab(
        "gearbox",
        rectangle(x - 6.5 * s, min(side * (post_y - 8 * s), side * (edge_y - 2)),
                  x + 9.5 * s, max(side * (post_y - 8 * s), side * (edge_y - 2)), 2.0),
        -thick - 8.5 * s, -thick + 0.3, "chrome", 0.8,
    )  # fmt: skip
    collar = turned(
        "collar", [(0, 2.6 * s), (2.2 * s, 2.6 * s), (2.6 * s, 2.0 * s)], out,
        np.array([worm_x, side * (shaft_end - 2.6 * s), z]), "chrome", 32,
    )  # fmt: skip
    # a flat, slightly waisted button
    t = np.linspace(0.0, 1.0, 41)
    length = 15.0 * s
    half = 8.2 * s * (1 - np.abs(2 * t - 1) ** 3.2) ** (1 / 2.6) * (0.86 + 0.18 * t)
    profile = [(float(length * a), float(max(b, 0.4))) for a, b in zip(t, half, strict=True)]
    knob = turned("button", profile, out, np.array([worm_x, side * shaft_end, z]), button, 64, 0.42)
    return [post, bush, shaft, box, collar, knob]


def frets(xs: Sequence[float], half: Sequence[float], z: float, width: float, crown: float) -> Part:
    """Fret wire across a flat fingerboard.

    Args:
        xs: where, mm.
        half: half the length of each, mm.
        z: the fingerboard's face, mm.
    """
    a = np.linspace(0.0, np.pi, 13)
    parts = []
    for x, h in zip(xs, half, strict=True):
        section = np.column_stack([x + width / 2 * np.cos(a), z - 0.02 + crown * np.sin(a)])
        ys = np.array([-h, -h + 0.5, h - 0.5, h])
        squeeze = np.array([0.75, 1.0, 1.0, 0.75])
        rings = np.stack(
            [
                np.column_stack(
                    [section[:, 0], np.full(13, y), z - 0.02 + (section[:, 1] - z + 0.02) * q]
                )
                for y, q in zip(ys, squeeze, strict=True)
            ]
        )
        parts.append(capped("fret", rings[:, ::-1], "fret"))
    return joined("frets", parts)


def fret_places(nut_x: float, saddle_x: float, count: int) -> list[float]:
    """Equal temperament: each fret shortens the string by the twelfth root of two."""
    scale = nut_x - saddle_x
    return [saddle_x + scale / 2 ** (n / 12) for n in range(1, count + 1)]


def string(
    name: str, points: Sequence[tuple[float, float, float]], radius: float, material: str
) -> Part:
    """A string through points, in short pieces so that bends stay crisp."""
    path = [np.array(points[0], dtype=float)]
    for b in points[1:]:
        a = path[-1]
        b = np.array(b, dtype=float)
        path.extend([a + (b - a) * f for f in (0.02, 0.5, 0.98)])
        path.append(b)
    return tube(name, np.array(path), radius, material, 12)


def neck_skin(
    name: str, xs: Array, half: Array, depth: Array, top: Array, material: str, square: float = 2.2
) -> Part:
    """The neck's back: a half superellipse below the fingerboard.

    Args:
        xs, half, depth, top: (K,) mm: place, half width, depth below `top`, height of the top.
        square: 2 is an ellipse, more is squarer.
    """
    a = np.linspace(np.pi, 2 * np.pi, 49)
    y = np.sign(np.cos(a)) * np.abs(np.cos(a)) ** (2 / square)
    z = -(np.abs(np.sin(a)) ** (2 / square))
    rings = np.stack(
        [
            np.column_stack([np.full(49, x), -h * y, t + d * z])
            for x, h, d, t in zip(xs, half, depth, top, strict=True)
        ]
    )
    return capped(name, rings[::-1], material) if False else loft(name, rings, material)


def dots(xs: Sequence[float], ys: Sequence[float], z: float, radius: float) -> Part:
    """Position marks, a hair proud of the face."""
    return joined(
        "dots",
        [slab("dot", circle(x, y, radius, 48), z - 1.0, z + 0.03, "pearl", 0.01)
         for x, y in zip(xs, ys, strict=True)],
    )  # fmt: skip
