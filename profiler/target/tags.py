"""Identities: the open AprilTag family 36h11 (Wang and Olson, IROS 2016), 587 codes.

Tags only identify. What measures are the saddle points printed beside them, because blur and
thresholds move a tag's corner but not a saddle.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

DICTIONARY_ID = cv2.aruco.DICT_APRILTAG_36h11
#: modules along one side, the black border included
MODULES = 8
#: codes 0 to 499 belong to mats, 500 to 519 to height cards, the rest to what stands upright
MAT_CODES = 500
CARD_CODE_START = 500
UPRIGHT_CODE_START = 520
CODES = 587


@lru_cache(maxsize=1)
def dictionary() -> cv2.aruco.Dictionary:
    """The family as OpenCV carries it."""
    return cv2.aruco.getPredefinedDictionary(DICTIONARY_ID)


@lru_cache(maxsize=CODES)
def black_modules(code: int) -> NDArray[np.bool_]:
    """Which modules of a tag are black.

    Returns:
        (8, 8) bool, row 0 at the top of the upright tag, border included.
    """
    image = cv2.aruco.generateImageMarker(dictionary(), code, MODULES, borderBits=1)
    return np.asarray(image) < 128
