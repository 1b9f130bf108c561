"""Which marker is where: identities and rough corners of every tag in a photo."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.cores import on_cores
from profiler.target.tags import dictionary

#: code to (4, 2) px
Tags = dict[int, NDArray[np.float64]]

#: photos of so many px to the longer side are read at half size first; with so many tags found the
#: place of the mat is known
_HALF_SIZE_FROM_PX = 2900
_FEW = 6
#: at full size one window of OpenCV's adaptive threshold does for the tags that are small, px
_WINDOW_PX = 13
#: px round a tag: 11 to the side are 1.4 to the module, and no tag is read below that. Of what both
#: sizes are asked for each has 2 to the module: checks are squares as well, and many
_LEAST_ROUND_PX, _LEAST_AT_HALF_PX, _LEAST_SMALL_PX = 44.0, 64.0, 64.0


def find_tags(gray: NDArray[np.uint8]) -> Tags:
    """Find the tags of our family.

    Large photos are read at half size, where most tags are still many pixels wide and noise and
    sharpening halos are smaller. Small ones may be lost there, a card's or those at the far end of
    a long mat: those that only the full size shows are added.

    Args:
        gray: (H, W).

    Returns:
        code to (4, 2) px: top left, top right, bottom right, bottom left of the tag's black
        square as printed. A code seen twice is left out: one of them must be false.
    """
    if max(gray.shape) >= _HALF_SIZE_FROM_PX:
        looks = on_cores(lambda look: look(gray), (_detect_at_half, _detect_small))
        (at_half, twice), (whole, also_twice) = looks
        if len(at_half) >= _FEW:
            false = twice | also_twice | _elsewhere(at_half, whole)
            both = {**whole, **at_half}
            return {code: quad for code, quad in both.items() if code not in false}
    return _detect(gray)[0]


def _elsewhere(one: Tags, other: Tags) -> set[int]:
    """Codes that two looks at a photo see in places further apart than half a tag's side."""
    return {
        code
        for code in one.keys() & other.keys()
        if np.hypot(*(one[code] - other[code]).mean(axis=0))
        > 0.5 * np.hypot(*(one[code][1] - one[code][0]))
    }


def _detect_at_half(gray: NDArray[np.uint8]) -> tuple[Tags, set[int]]:
    half = cv2.resize(gray, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    found, twice = _detect(np.asarray(half, dtype=np.uint8), _LEAST_AT_HALF_PX)
    return {code: corners * 2.0 + 0.5 for code, corners in found.items()}, twice


def _detect_small(gray: NDArray[np.uint8]) -> tuple[Tags, set[int]]:
    return _detect(gray, _LEAST_SMALL_PX, _WINDOW_PX)


def _detect(
    gray: NDArray[np.uint8], least_round: float = _LEAST_ROUND_PX, window: int | None = None
) -> tuple[Tags, set[int]]:
    """The same at the size it has, and the codes that were left out because they are seen twice.

    `least_round`: px round the smallest tag that is wanted; `window`: px across of the threshold,
    else OpenCV's usual ones.
    """
    parameters = cv2.aruco.DetectorParameters()
    if window is not None:
        parameters.adaptiveThreshWinSizeMin = parameters.adaptiveThreshWinSizeMax = window
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.cornerRefinementWinSize = 3
    parameters.minMarkerPerimeterRate = least_round / max(gray.shape)
    detector = cv2.aruco.ArucoDetector(dictionary(), parameters)
    corners, codes, _ = detector.detectMarkers(gray)
    found: dict[int, NDArray[np.float64]] = {}
    twice: set[int] = set()
    # without a tag OpenCV gives no codes at all
    names = [] if len(corners) == 0 else [int(c) for c in np.asarray(codes).ravel()]
    for code, quad in zip(names, corners, strict=True):
        if code in found:
            twice.add(code)
        found[code] = np.asarray(quad, dtype=np.float64).reshape(4, 2)
    return {code: quad for code, quad in found.items() if code not in twice}, twice
