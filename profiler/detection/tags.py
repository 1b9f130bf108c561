"""Which marker is where: identities and rough corners of every tag in a photo."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.target.tags import dictionary

#: a tag of fewer pixels than this to the module is not read reliably at half size
_HALF_SIZE_FROM_PX = 2900
_FEW = 6
#: px round a tag: 11 to the side are 1.4 to the module, and no tag is read below that
_LEAST_ROUND_PX = 44.0


def find_tags(gray: NDArray[np.uint8]) -> dict[int, NDArray[np.float64]]:
    """Find the tags of our family.

    Large photos are read at half size first, where tags are still many pixels wide and noise and
    sharpening halos are smaller; the full size follows only if that finds few.

    Args:
        gray: (H, W).

    Returns:
        code to (4, 2) px: top left, top right, bottom right, bottom left of the tag's black
        square as printed. A code seen twice is left out: one of them must be false.
    """
    if max(gray.shape) >= _HALF_SIZE_FROM_PX:
        half = cv2.resize(gray, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        found = _detect(np.asarray(half, dtype=np.uint8))
        if len(found) >= _FEW:
            return {code: corners * 2.0 + 0.5 for code, corners in found.items()}
    return _detect(gray)


def _detect(gray: NDArray[np.uint8]) -> dict[int, NDArray[np.float64]]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.cornerRefinementWinSize = 3
    parameters.minMarkerPerimeterRate = _LEAST_ROUND_PX / max(gray.shape)
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
    return {code: quad for code, quad in found.items() if code not in twice}
