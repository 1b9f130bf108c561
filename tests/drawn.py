"""An outline drawn for the purpose: body, neck, head, and tuners where they are put."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: mm, the head's width, and where it begins and ends
HEAD, NUT, END = 60.0, 500.0, 640.0
_STEM = 6.0


@dataclass(frozen=True)
class Tuner:
    """Attributes:
    x: mm from the tail.
    side: 1 on the left, -1 on the right.
    button: mm, how wide it is along the head.
    """

    x: float
    side: int
    button: float = 16.0


def drawn_instrument(tuners: Sequence[Tuner], slip: int = 0) -> tuple[Array, NDArray[np.str_]]:
    """Outline, anticlockwise, a point every mm, and labels.

    Args:
        tuners: of its head.
        slip: points of each tuner's stem that are told as headstock.
    """
    body, neck = shapely.box(0, -100, 300, 100), shapely.box(290, -20, NUT + 10, 20)
    shape = shapely.union_all([body, neck, shapely.box(NUT, -HEAD / 2, END, HEAD / 2)])
    for tuner in tuners:
        stem = shapely.box(tuner.x - _STEM / 2, 0, tuner.x + _STEM / 2, 45)
        button = shapely.box(tuner.x - tuner.button / 2, 40, tuner.x + tuner.button / 2, 55)
        here = stem.union(button)
        if tuner.side < 0:
            here = shapely.transform(here, lambda xy: xy * (1.0, -1.0))
        shape = shape.union(here)
    ring = shapely.geometry.polygon.orient(shape).exterior
    outline = shapely.get_coordinates(ring.interpolate(np.arange(0, ring.length, 1.0)))
    x, y = outline.T
    labels = np.where(x < 300, "body", np.where(x < NUT, "neck", "headstock")).astype("<U9")
    labels[(x > NUT) & (np.abs(y) > HEAD / 2 + slip + 0.5)] = "tuners"
    return outline, labels
