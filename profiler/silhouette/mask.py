"""What is not ground.

A soft shadow scales the mat's colours and keeps their proportions; an instrument does not. Each
cell is asked whether any mixture of what may be printed there, in any shade, explains its colour.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.ground import BLACK, STRIP, TINT, WHITE, Lighting, Plan

#: log-ratio distance from the ground's proportions that light of another colour may cause
_HUE_SLACK = 0.17
#: the deepest soft shadow: this part of the lit ground's light is left
_DEEPEST_SHADOW = 0.10
#: brighter than lit ground by this is no ground
_BRIGHTEST = 1.45
#: linear light below which 8-bit noise makes the hue meaningless
_NOISE_LIGHT = 0.004


@dataclass(frozen=True)
class Silhouette:
    """The instrument on the plan picture.

    Attributes:
        mask: (H, W) filled, one piece.
        others: area in mm² of each further piece that is not ground, largest first.
        touches_edge: where it reaches the end of the mat or of the photo: (N, 2) mm, mat frame.
        leaves_photo: whether that end is the photo's.
    """

    mask: NDArray[np.bool_]
    others: tuple[float, ...]
    touches_edge: NDArray[np.float64]
    leaves_photo: bool


def departure(plan: Plan, lighting: Lighting) -> NDArray[np.bool_]:
    """(H, W): cells that no print in any shade explains."""
    seen = np.maximum(plan.light, 1e-5)
    ratio = np.log(seen / np.maximum(lighting.lit, 1e-5))
    shade = ratio.mean(axis=2)
    hue = ratio - shade[..., None]
    # at low light the proportions drown in noise
    dark = np.minimum(plan.light.min(axis=2), lighting.lit.min(axis=2))
    slack = _HUE_SLACK + _NOISE_LIGHT / np.maximum(dark, 5e-4)
    white = np.log(np.maximum(lighting.white, 1e-3))
    white_shade = float(white.mean())
    white_hue = (white - white_shade).astype(np.float32)

    may = plan.printed
    from_tint = np.sqrt((hue**2).sum(axis=2))
    along = np.clip((hue @ white_hue) / max(float(white_hue @ white_hue), 1e-9), 0.0, 1.0)
    from_mixture = np.sqrt(((hue - along[..., None] * white_hue) ** 2).sum(axis=2))
    from_white = np.sqrt(((hue - white_hue) ** 2).sum(axis=2))
    tint, paper = (may & TINT) > 0, (may & WHITE) > 0
    distance = np.where(tint & paper, from_mixture, np.where(paper, from_white, from_tint))
    brightest = np.log(_BRIGHTEST) + np.where(paper, max(white_shade, 0.0), 0.0)
    wrong = (distance > slack) | (shade > brightest) | (shade < np.log(_DEEPEST_SHADOW))
    # where black may be printed, anything darker than half the paper may be ground
    ink = ((may & BLACK) > 0) & (shade < np.log(0.6) + max(white_shade, 0.0))
    wrong &= ~ink
    wrong &= (may > 0) & plan.seen
    return np.asarray(wrong)


def find_silhouette(plan: Plan, lighting: Lighting) -> Silhouette | None:
    """The largest thing that is not ground, with its holes filled.

    Returns:
        None where nothing stands out.
    """
    wrong = departure(plan, lighting).astype(np.uint8)
    strip = ((plan.printed & STRIP) > 0).astype(np.uint8)
    # thin lines and figures of the printed scale
    thin = _disc(1.6 / plan.cell)
    no_lines = np.where(strip > 0, cv2.morphologyEx(wrong, cv2.MORPH_OPEN, thin), wrong)
    wrong = np.asarray(
        cv2.morphologyEx(no_lines, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8)), dtype=np.uint8
    )
    joined = cv2.morphologyEx(wrong, cv2.MORPH_CLOSE, _disc(2.0 / plan.cell))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    if count < 2:
        return None
    areas = stats[1:, cv2.CC_STAT_AREA].astype(np.float64) * plan.cell**2
    main = int(np.argmax(areas)) + 1
    body = _filled(labels == main)
    # small pieces at arm's length of it are its own: a tuner behind a bright shaft
    near = cv2.dilate(body.astype(np.uint8), _disc(5.0 / plan.cell)) > 0
    others = []
    for label in range(1, count):
        if label == main or areas[label - 1] < 12.0:
            continue
        piece = labels == label
        if (piece & body).any():
            continue
        if (piece & near).any() and areas[label - 1] < 0.05 * areas[main - 1]:
            body |= piece
        else:
            others.append(float(areas[label - 1]))
    body = _filled(
        cv2.morphologyEx(body.astype(np.uint8), cv2.MORPH_CLOSE, _disc(3.0 / plan.cell)) > 0
    )
    end = ~((plan.printed > 0) & plan.seen)
    end = cv2.dilate(end.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    border = np.zeros_like(end)
    border[:3], border[-3:], border[:, :3], border[:, -3:] = True, True, True, True
    touching = np.argwhere(body & (end | border))[:, ::-1].astype(np.float64)
    leaves_photo = bool(
        (body & (cv2.dilate((~plan.seen).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0)).any()
    )
    return Silhouette(
        body, tuple(sorted(others, reverse=True)), plan.to_mat(touching), leaves_photo
    )


def _disc(radius: float) -> NDArray[np.uint8]:
    r = max(1, round(radius))
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1)), dtype=np.uint8
    )


def _filled(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Strings and holes inside do not make holes in the outline."""
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros(mask.shape, dtype=np.uint8)
    cv2.drawContours(filled, contours, -1, 1, thickness=cv2.FILLED)
    return np.asarray(filled > 0)
