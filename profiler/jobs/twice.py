"""One photo given twice: as the same file, or as a copy that was saved anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.errors import RequestError
from profiler.jobs.photo import Photo

#: px of the small pictures that are compared
_SMALL = (160, 120)
#: RMS difference of small pictures, over their own contrast, below which the camera stood still.
#: On the samples: saved anew 0.003 to 0.01, moved by 5 mm at a metre 0.28, by a step 0.43 and more
_STOOD_STILL = 0.05


class SamePhoto(RequestError):
    """Two photos that cannot witness for each other."""

    def __init__(self, photo: str, other: str, copied: bool) -> None:
        self.photo, self.other = photo, other
        super().__init__(
            f"{photo} is the same picture as {other}: it would be counted as a second witness. Give"
            " each photo once."
            if copied
            else f"{photo} shows the same as {other}, from the very same place: it would be counted"
            " as a second witness. Give one of them, or photos taken a step apart."
        )


@dataclass(frozen=True)
class Glimpse:
    """What is kept of a photo to know it again.

    Attributes:
        name, sha256: of the file.
        small: (120, 160) brightness, mean 0 and standard deviation 1.
    """

    name: str
    sha256: str
    small: NDArray[np.float64]


def glimpse_of(photo: Photo) -> Glimpse:
    small = cv2.resize(
        cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY), _SMALL, interpolation=cv2.INTER_AREA
    ).astype(np.float64)
    return Glimpse(photo.name, photo.sha256, (small - small.mean()) / max(small.std(), 1.0))


def check_all_differ(glimpses: Sequence[Glimpse]) -> None:
    """Raise unless each photo differs from all before it.

    Raises:
        SamePhoto: names both.
    """
    for other, glimpse in combinations(glimpses, 2):
        if glimpse.sha256 == other.sha256:
            raise SamePhoto(glimpse.name, other.name, copied=True)
        if float(np.sqrt(np.mean((glimpse.small - other.small) ** 2))) < _STOOD_STILL:
            raise SamePhoto(glimpse.name, other.name, copied=False)


def check_other_files(photo: Photo, before: Sequence[Photo]) -> None:
    """Raise if a photo is the same file as one before; all that can be told without its pixels.

    Raises:
        SamePhoto: names both.
    """
    for other in before:
        if photo.sha256 == other.sha256:
            raise SamePhoto(photo.name, other.name, copied=True)
