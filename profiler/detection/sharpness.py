"""How sharp a photo is, read at the printed checks: their edges are steps by design."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: a profile is sampled at this distance, px
_STEP = 0.25
#: how far a profile reaches to each side of an edge, as a part of a check
_REACH = 0.6
#: edges with less contrast than this are shadowed or covered, of 255
_LEAST_CONTRAST = 20.0
#: part of the longer side, standard deviation: with every edge blurred more than this nothing is
#: sharp; 3.4 px of a photo of 12 Mpx, twice what is measured
_SMEARED = 8.5e-4


def anything_sharp(grey: NDArray[np.uint8]) -> bool:
    """Whether there is any edge in a picture (H, W) that is not smeared over many pixels.

    A step of contrast c blurred by sigma has a second derivative of at most
    c / (sigma^2 sqrt(2 pi e)), so the strongest one there is tells the sharpest edge.
    """
    low, high = (float(v) for v in np.percentile(grey[::4, ::4], (1, 99)))
    bend = cv2.Sobel(grey, cv2.CV_32F, 2, 0, ksize=3), cv2.Sobel(grey, cv2.CV_32F, 0, 2, ksize=3)
    # the kernel's weight is 4
    strongest = max(float(np.percentile(np.abs(b), 99.8)) / 4 for b in bend)
    smeared_px = _SMEARED * max(grey.shape)
    least = max(high - low, 1.0) / (smeared_px**2 * np.sqrt(2 * np.pi * np.e))
    return bool(strongest > least)


def edge_blur(
    grey: NDArray[np.uint8], local: Array, pixels: Array, check_mm: float
) -> tuple[float, float]:
    """Standard deviation of the blur across the two families of edges, px.

    Motion blurs one family and leaves the other, so a photo is as blurred as the worse one.
    For a Gaussian blur the steepest slope of a step of contrast c is c / (sigma sqrt(2 pi)).

    Args:
        grey: (H, W) uint8.
        local: (N, 2) mm, flat, where each check's centre was printed.
        pixels: (N, 2) px, where it was seen.
        check_mm: length over which the edges run from a check's centre.

    Returns:
        medians across the edges that run along local x, and along local y; NaN where none is seen.
    """
    found, _ = cv2.findHomography(local, pixels, cv2.LMEDS)
    model = np.asarray(found, dtype=np.float64)
    if model.shape != (3, 3):
        return float("nan"), float("nan")
    # (N, 2) px: one check along local x and along local y
    along_x = _map(model, local + np.array([check_mm, 0.0])) - _map(model, local)
    along_y = _map(model, local + np.array([0.0, check_mm])) - _map(model, local)
    return (
        _blur(grey, pixels, along_x, along_y),
        _blur(grey, pixels, along_y, along_x),
    )


def _blur(grey: NDArray[np.uint8], pixels: Array, along: Array, side: Array) -> float:
    """Median blur over the edges that leave each point by `along`, both ways; px."""
    length = np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(length, 1e-9)
    reach = _REACH * np.abs((side * normal).sum(axis=1))
    half = float(np.median(reach))
    if not np.isfinite(half) or half < 1.5:
        return float("nan")
    steps = np.arange(-half, half + _STEP / 2, _STEP)
    middles = np.concatenate([pixels + along / 2, pixels - along / 2])
    across = np.concatenate([normal, normal])
    # (2N, S, 2) px
    points = (middles[:, None] + steps[None, :, None] * across[:, None]).astype(np.float32)
    h, w = grey.shape
    inside = ((points > 1) & (points < (w - 2, h - 2))).all(axis=(1, 2))
    if not inside.any():
        return float("nan")
    profiles = cv2.remap(grey, points[inside, :, 0], points[inside, :, 1], cv2.INTER_LINEAR).astype(
        np.float64
    )
    ends = max(2, len(steps) // 8)
    contrast = np.abs(profiles[:, -ends:].mean(axis=1) - profiles[:, :ends].mean(axis=1))
    # slopes over one pixel, so that noise does not pass for sharpness
    gap = round(1 / _STEP)
    slope = np.abs(profiles[:, gap:] - profiles[:, :-gap]).max(axis=1)
    clear = contrast > _LEAST_CONTRAST
    if not clear.any():
        return float("nan")
    return float(np.median(contrast[clear] / np.maximum(slope[clear], 1e-9) / np.sqrt(2 * np.pi)))


def _map(model: Array, points: Array) -> Array:
    mapped = cv2.perspectiveTransform(points.reshape(-1, 1, 2), model)
    return np.asarray(mapped, dtype=np.float64).reshape(-1, 2)
