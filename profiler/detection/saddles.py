"""Sub-pixel saddle points: the places where two black and two white squares meet."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: least contrast between black and white squares, of 255
_LEAST_CONTRAST = 24.0


def refine(gray: NDArray[np.uint8], guesses: Array, check_px: float) -> Array:
    """Move guesses to the nearest saddle.

    The window is matched to the printed check: at most half of it, or the neighbouring edges
    pull (on a public set of chessboard photos a window of 11 where 5 belonged doubled the
    residual).

    Args:
        gray: (H, W).
        guesses: (N, 2) px.
        check_px: side of one square, px.

    Returns:
        (N, 2) px; guesses outside the photo stay where they are.
    """
    half = int(np.clip(round(0.45 * check_px), 2, 11))
    h, w = gray.shape
    moved: Array = np.array(guesses, dtype=np.float64)
    inside = np.all((moved >= 0) & (moved <= (w - 1, h - 1)), axis=1)
    if inside.any():
        points = np.ascontiguousarray(moved[inside], dtype=np.float32).reshape(-1, 1, 2)
        found = cv2.cornerSubPix(
            gray,
            points,
            (half, half),
            (-1, -1),
            (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 60, 0.002),
        )
        moved[inside] = np.asarray(found, dtype=np.float64).reshape(-1, 2)
    return moved


def looks_like_check(
    gray: NDArray[np.uint8], centres: Array, across: Array, up: Array
) -> NDArray[np.bool_]:
    """Whether the four squares round each point have the printed colours.

    A saddle that is half covered by the instrument still attracts the refinement; its squares
    give it away.

    Args:
        gray: (H, W).
        centres: (N, 2) px.
        across: (N, 2) px, from a check's centre to its right edge.
        up: (N, 2) px, from a check's centre to its upper edge.

    Returns:
        (N,) bool.
    """
    h, w = gray.shape
    # near the point and near the squares' outer corners: the cover may lie on any part of it
    reach = np.array([0.38, 0.66])[:, None, None]
    towards = np.stack([up - across, across - up, up + across, -(up + across)])  # (4, N, 2)
    places = np.rint(centres + reach * towards[:, None]).astype(int)  # (4, 2, N, 2)
    x, y = np.clip(places[..., 0], 0, w - 1), np.clip(places[..., 1], 0, h - 1)
    up_left, down_right, up_right, down_left = gray[y, x].astype(np.float64)
    dark = np.maximum(up_left, down_right)
    light = np.minimum(up_right, down_left)
    contrast = (up_right + down_left - up_left - down_right) / 2
    spread = np.maximum(np.abs(up_left - down_right), np.abs(up_right - down_left))
    ok = ((light - dark > _LEAST_CONTRAST) & (spread < 0.6 * contrast)).all(axis=0)
    inside = (
        (centres[:, 0] > 2)
        & (centres[:, 1] > 2)
        & (centres[:, 0] < w - 3)
        & (centres[:, 1] < h - 3)
    )
    good: NDArray[np.bool_] = inside & ok
    return good
