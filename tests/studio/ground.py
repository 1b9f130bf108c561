"""The printed mat on the bench: pictures of its sheets, and where each of them lies."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.target.mat import MatDesign

Array = NDArray[np.float64]

#: what office paper and toner give back, as sRGB bytes
PAPER = (236, 236, 232)
TONER = (46, 45, 47)


@dataclass(frozen=True)
class SheetPlace:
    """Where one sheet's lower left paper corner lies, and how it is turned."""

    x: float
    y: float
    z: float
    degrees: float


@dataclass(frozen=True)
class Ground:
    """The mat as `kernels.ground` takes it.

    Attributes:
        sheets: (S, 10), see `kernels.ground`; topmost first.
        textures: (S, H, W, 3) uint8, RGB, row 0 at the top.
        lut: (256,) byte to linear reflectance.
        bench: (7,) z and two colours of the bench.
    """

    sheets: Array
    textures: NDArray[np.uint8]
    lut: Array
    bench: Array


def srgb_lut() -> Array:
    """(256,): sRGB byte to linear, IEC 61966-2-1."""
    v = np.arange(256) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def on_paper(page: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A page as a PDF shows it (white 255, black 0) turned into toner on real paper."""
    lut = srgb_lut()
    linear = lut[page]
    low, high = lut[np.array(TONER)], lut[np.array(PAPER)]
    mixed = low + (high - low) * linear
    out = np.where(mixed <= 0.0031308, 12.92 * mixed, 1.055 * mixed ** (1 / 2.4) - 0.055)
    return np.round(out * 255).astype(np.uint8)


def laid(
    design: MatDesign,
    places: list[SheetPlace],
    textures: list[NDArray[np.uint8]],
    scale: tuple[float, float],
    bench: tuple[tuple[float, float, float], tuple[float, float, float]],
) -> Ground:
    """Sheets on the bench; the first lies on top of the others."""
    rows = []
    for i, p in enumerate(places):
        a = np.radians(p.degrees)
        rows.append(
            (p.x, p.y, np.cos(a), np.sin(a), p.z, design.sheet_width, design.sheet_height,
             scale[0], scale[1], float(i))
        )  # fmt: skip
    return Ground(
        np.array(rows),
        np.stack(textures),
        srgb_lut(),
        np.array([-0.3, *bench[0], *bench[1]]),
    )


def uneven_places(
    design: MatDesign, rng: np.random.Generator, shift: float, turn: float
) -> list[SheetPlace]:
    """Sheets laid by hand: a few millimetres and a part of a degree off."""
    places = []
    for i in range(design.count):
        x, y = design.origin(i)
        row, column = divmod(i, design.columns)
        level = (design.rows - 1 - row) + (design.columns - 1 - column)
        dx, dy = rng.uniform(-shift, shift, 2) if design.count > 1 else (0.0, 0.0)
        places.append(
            SheetPlace(
                x + dx, y + dy, 0.2 * level / max(1, design.rows + design.columns - 2) - 0.1,
                float(rng.uniform(-turn, turn)) if design.count > 1 else 0.0,
            )
        )  # fmt: skip
    return places


def card_sheet(faces: list[NDArray[np.uint8]]) -> NDArray[np.uint8]:
    """Card faces of different sizes in one array, padded with their last row and column."""
    h = max(f.shape[0] for f in faces)
    w = max(f.shape[1] for f in faces)
    return np.stack(
        [
            cv2.copyMakeBorder(f, 0, h - f.shape[0], 0, w - f.shape[1], cv2.BORDER_REPLICATE)
            for f in faces
        ]
    )
