"""The printed mat on the bench: pictures of its sheets, and where each of them lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.target.mat import MatDesign

Array = NDArray[np.float64]

#: what office paper and toner give back, as sRGB bytes
PAPER = (236, 236, 232)
TONER = (46, 45, 47)


#: edges that may curl, in the numbering of `kernels.ground`
EDGES = ("left", "right", "bottom", "top")


@dataclass(frozen=True)
class Curl:
    """An edge that rises off the bench: not at all `length` mm inside it, `height` mm at the edge,
    with the square of the way, as a strip bends under its own stiffness."""

    edge: str
    height: float
    length: float = 80.0


@dataclass(frozen=True)
class SheetPlace:
    """Where one sheet's lower left paper corner lies, how it is turned, printed and bent.

    Attributes:
        x, y, z: mm.
        degrees: counter-clockwise.
        scale: printed over designed along its x and y, where it differs from the other sheets'.
        curl: None where it lies flat.
        bare: it shows no print, as a sheet lying upside down.
    """

    x: float
    y: float
    z: float
    degrees: float
    scale: tuple[float, float] | None = None
    curl: Curl | None = None
    bare: bool = False


@dataclass(frozen=True)
class Ground:
    """The mat as `kernels.ground` takes it.

    Attributes:
        sheets: (S, 13), see `kernels.ground`; topmost first.
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
    low, high = lut[np.array(TONER)], lut[np.array(PAPER)]
    mixed = low + (high - low) * lut[:, None]
    out = np.where(mixed <= 0.0031308, 12.92 * mixed, 1.055 * mixed ** (1 / 2.4) - 0.055)
    table = np.round(out * 255).astype(np.uint8)  # (256, 3): a page has few colours, many dots
    return np.stack([table[page[..., k], k] for k in range(3)], axis=-1)


def laid(
    design: MatDesign,
    places: Sequence[SheetPlace | None],
    textures: list[NDArray[np.uint8]],
    scale: tuple[float, float],
    bench: tuple[tuple[float, float, float], tuple[float, float, float]],
) -> Ground:
    """Sheets on the bench; the first lies on top of the others; one that is None is missing."""
    rows = []
    textures = list(textures)
    for i, p in enumerate(places):
        if p is None:
            continue
        a = np.radians(p.degrees)
        sx, sy = p.scale or scale
        curl = p.curl or Curl("left", 0.0)
        if p.bare:
            textures[i] = np.broadcast_to(np.array(PAPER, dtype=np.uint8), textures[i].shape)
        rows.append(
            (p.x, p.y, np.cos(a), np.sin(a), p.z, design.sheet_width, design.sheet_height,
             sx, sy, float(i), EDGES.index(curl.edge), curl.height, curl.length)
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
