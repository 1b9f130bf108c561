"""What detection hands on: labelled measuring points of one photo."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Observations:
    """Saddle points of one photo, each with the panel point it is the image of.

    Attributes:
        panel: (N,) index into the scene's panels.
        code: (N,) tag that named the point.
        local: (N, 2) mm, panel frame as designed.
        pixels: (N, 2) px.
        sigma: (N,) px, standard uncertainty of one coordinate.
    """

    panel: NDArray[np.intp]
    code: NDArray[np.intp]
    local: Array
    pixels: Array
    sigma: Array

    def __len__(self) -> int:
        return len(self.local)


def nothing_observed() -> Observations:
    """No points."""
    none = np.zeros(0, dtype=np.intp)
    return Observations(none, none, np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0))


def joined(first: Observations, second: Observations) -> Observations:
    """Points of one photo, one after the other."""
    pairs = [(getattr(first, f.name), getattr(second, f.name)) for f in fields(Observations)]
    return Observations(*(np.concatenate(pair) for pair in pairs))
