"""What surfaces look like: a table of materials, and the colour of each place, in linear light."""

from __future__ import annotations

import math

import numba as nb
import numpy as np
from numpy.typing import NDArray

PLAIN, WOOD, BURST, CARD, ROSETTE, FLAME = range(6)

#: kind, base rgb, second rgb, grain period mm, stretch, gloss (reflectance at normal incidence),
#: roughness rad, metal
Row = tuple[int, float, float, float, float, float, float, float, float, float, float, float]


def _srgb(*levels: float) -> tuple[float, ...]:
    """sRGB 0..255 to linear, IEC 61966-2-1."""
    values = [v / 255 for v in levels]
    return tuple(v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values)


def _row(
    kind: int,
    base: tuple[float, float, float],
    second: tuple[float, float, float],
    period: float = 1.0,
    stretch: float = 0.02,
    gloss: float = 0.0,
    rough: float = 0.05,
    metal: float = 0.0,
) -> Row:
    return (kind, *_srgb(*base), *_srgb(*second), period, stretch, gloss, rough, metal)  # type: ignore[return-value]


MATERIALS: dict[str, Row] = {
    "spruce": _row(WOOD, (232, 204, 152), (208, 170, 112), 1.5, 0.012, 0.035, 0.06),
    "spruce_end": _row(WOOD, (215, 180, 125), (180, 140, 90), 1.5, 0.02, 0.0, 0.1),
    "mahogany": _row(WOOD, (140, 84, 52), (96, 52, 32), 2.2, 0.03, 0.035, 0.05),
    "inside": _row(WOOD, (120, 84, 58), (92, 60, 40), 2.2, 0.03, 0.0, 0.1),
    "rosewood": _row(WOOD, (78, 52, 40), (44, 28, 24), 1.8, 0.03, 0.02, 0.15),
    "ebony": _row(WOOD, (40, 35, 33), (24, 21, 21), 1.4, 0.03, 0.03, 0.08),
    "binding": _row(PLAIN, (238, 232, 216), (238, 232, 216), gloss=0.04, rough=0.04),
    "bone": _row(PLAIN, (228, 220, 198), (228, 220, 198), gloss=0.04, rough=0.08),
    "pearl": _row(PLAIN, (226, 222, 210), (200, 205, 210), gloss=0.045, rough=0.03),
    "nylon": _row(PLAIN, (196, 190, 180), (196, 190, 180), gloss=0.04, rough=0.1),
    "steel": _row(PLAIN, (190, 190, 190), (190, 190, 190), gloss=0.55, rough=0.1, metal=1.0),
    "bronze": _row(PLAIN, (190, 150, 100), (190, 150, 100), gloss=0.5, rough=0.2, metal=1.0),
    "chrome": _row(PLAIN, (215, 215, 218), (215, 215, 218), gloss=0.62, rough=0.03, metal=1.0),
    "fret": _row(PLAIN, (205, 200, 190), (205, 200, 190), gloss=0.55, rough=0.08, metal=1.0),
    "black": _row(PLAIN, (26, 25, 27), (26, 25, 27), gloss=0.045, rough=0.012),
    "black_plastic": _row(PLAIN, (34, 34, 36), (34, 34, 36), gloss=0.04, rough=0.08),
    "burst": _row(BURST, (214, 140, 56), (38, 14, 10), 1.5, 0.012, 0.045, 0.012),
    "varnish": _row(WOOD, (176, 92, 34), (136, 62, 22), 1.3, 0.012, 0.045, 0.03),
    "flame": _row(FLAME, (178, 96, 36), (120, 54, 20), 7.0, 0.02, 0.045, 0.03),
    "purfling": _row(PLAIN, (30, 22, 18), (30, 22, 18), gloss=0.03, rough=0.05),
    "hole": _row(PLAIN, (14, 11, 10), (14, 11, 10)),
    "maple": _row(FLAME, (214, 170, 112), (186, 136, 82), 8.0, 0.02, 0.035, 0.05),
    "blue": _row(PLAIN, (38, 92, 164), (36, 88, 158), gloss=0.045, rough=0.012),
    "carbon": _row(PLAIN, (52, 50, 50), (40, 38, 38), gloss=0.04, rough=0.06),
    "walnut": _row(WOOD, (110, 74, 48), (72, 46, 30), 2.0, 0.025, 0.035, 0.05),
    "rosette": _row(ROSETTE, (90, 60, 40), (225, 205, 165), 2.0, 0.0, 0.035, 0.06),
    "card": _row(CARD, (255, 255, 255), (255, 255, 255)),
    "drawing_paper": _row(PLAIN, (238, 237, 232), (238, 237, 232)),
    "grey_board": _row(PLAIN, (176, 174, 168), (176, 174, 168)),
    "kraft": _row(PLAIN, (196, 164, 122), (196, 164, 122)),
    "pencil": _row(PLAIN, (104, 104, 108), (104, 104, 108), gloss=0.02, rough=0.2),
    "ink": _row(PLAIN, (34, 38, 78), (34, 38, 78)),
}
NAMES = tuple(MATERIALS)


def table() -> NDArray[np.float64]:
    """(materials, 12), in the order of `NAMES`."""
    return np.array([MATERIALS[n] for n in NAMES], dtype=np.float64)


@nb.njit(cache=True, inline="always")
def _hash(i: int, j: int, k: int) -> float:
    h = (i * 374761393 + j * 668265263 + k * 2147483647) & 0xFFFFFFFF
    h = ((h ^ (h >> 13)) * 1274126177) & 0xFFFFFFFF
    return ((h ^ (h >> 16)) & 0xFFFFFF) / 16777216.0


@nb.njit(cache=True)
def noise(x: float, y: float, z: float) -> float:
    """Smooth value noise, 0 to 1, unit lattice."""
    i, j, k = math.floor(x), math.floor(y), math.floor(z)
    fx, fy, fz = x - i, y - j, z - k
    fx = fx * fx * (3 - 2 * fx)
    fy = fy * fy * (3 - 2 * fy)
    fz = fz * fz * (3 - 2 * fz)
    i, j, k = int(i), int(j), int(k)
    a = _hash(i, j, k) * (1 - fx) + _hash(i + 1, j, k) * fx
    b = _hash(i, j + 1, k) * (1 - fx) + _hash(i + 1, j + 1, k) * fx
    c = _hash(i, j, k + 1) * (1 - fx) + _hash(i + 1, j, k + 1) * fx
    d = _hash(i, j + 1, k + 1) * (1 - fx) + _hash(i + 1, j + 1, k + 1) * fx
    return (a * (1 - fy) + b * fy) * (1 - fz) + (c * (1 - fy) + d * fy) * fz


@nb.njit(cache=True)
def blend(row: NDArray[np.float64], x: float, y: float, z: float) -> float:
    """How much of the second colour shows at a place in the part's own millimetres, 0 to 1."""
    kind = int(row[0])
    if kind in (WOOD, BURST, FLAME):
        s = row[8]
        warp = 2.5 * noise(x * 0.006, y * 0.02, z * 0.02) + 0.5 * noise(x * 0.05, y * 0.3, z * 0.3)
        period = row[7] if kind != FLAME else 1.4
        u = (y + 0.35 * z) / period + warp
        line = u - math.floor(u)
        ring = line**3  # early wood pale, late wood a narrow dark line
        fibre = noise(x * s * 6, y * 4.0, z * 4.0)
        t = 0.55 * ring + 0.45 * fibre
        if kind == FLAME:
            wave = 0.5 + 0.5 * math.sin(
                6.2832 * (x / row[7] + 1.2 * noise(x * 0.02, y * 0.04, z * 0.04))
            )
            t = 0.35 * t + 0.65 * wave * (0.4 + 0.6 * noise(x * 0.03, y * 0.03, 7.0))
        return t
    if kind == ROSETTE:
        return 1.0 if math.sin(z) > 0.0 else 0.0
    if kind == PLAIN:
        return noise(x * 0.15, y * 0.15, z * 0.15)
    return 0.0
