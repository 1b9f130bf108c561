"""Whether a photo is too dark, blown out or empty to be measured; blur is judged at the targets."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.errors import Places
from profiler.findings import Finding, Level
from profiler.jobs.photo_errors import PhotoError

#: every eighth pixel each way says enough, and one row of a text or a hot pixel says nothing
STEP = 8
#: grey level from which a sensor has nothing more to say
CLIPPED = 252
#: shares of the frame that are clipped; pale ground just below it is as it should be
CAUTION_CLIPPED, DOUBT_CLIPPED, HOPELESS_CLIPPED = 0.12, 0.35, 0.70
#: grey level that the brightest hundredth reaches; the white rims of the mat are always in sight
CAUTION_BRIGHTEST, DOUBT_BRIGHTEST, HOPELESS_BRIGHTEST = 110, 75, 40
#: black print on white paper spreads the grey levels; a wall or a lens cap does not
HOPELESS_SPREAD = 12
#: patches that are worth a mark: so much of the frame, and so many
LEAST_PATCH, MOST_PATCHES = 0.004, 6


class PhotoHopeless(PhotoError):
    """Too dark, blown out or empty; `finding` says which."""

    def __init__(self, path: Path, finding: Finding) -> None:
        super().__init__(path, f"{path}: {finding.message}")
        self.finding = finding
        self.places = finding.places


def exposure_findings(gray: NDArray[np.uint8]) -> tuple[Finding, ...]:
    """Remarks on the light.

    Args:
        gray: (H, W) uint8, gamma-coded as in the file.

    Returns:
        at most one remark; code 101 blown out, 102 dark, 103 empty. Level DOUBT where the photo
        should be taken again.
    """
    finding, _ = _judge(gray)
    return () if finding is None else (finding,)


def check_exposure(path: Path, gray: NDArray[np.uint8]) -> None:
    """Refuse what cannot be measured at all.

    Raises:
        PhotoHopeless: nothing can be seen in it.
    """
    finding, hopeless = _judge(gray)
    if finding is not None and hopeless:
        raise PhotoHopeless(path, finding)


def _places_of(clipped: NDArray[np.bool_]) -> Places:
    """Rings in the photo round the largest patches of the sampled grid."""
    square = np.ones((3, 3), np.uint8)
    solid = cv2.morphologyEx(clipped.astype(np.uint8), cv2.MORPH_OPEN, square)
    found, _ = cv2.findContours(solid, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    large = [c for c in found if cv2.contourArea(c) > LEAST_PATCH * clipped.size]
    rings = []
    for contour in sorted(large, key=cv2.contourArea, reverse=True)[:MOST_PATCHES]:
        ring = cv2.approxPolyDP(contour, 1.0, True).reshape(-1, 2)
        rings.append(tuple((float(x * STEP), float(y * STEP)) for x, y in ring))
    return tuple(rings)


def _judge(gray: NDArray[np.uint8]) -> tuple[Finding | None, bool]:
    sample = gray[::STEP, ::STEP]
    clipped = float(np.mean(sample >= CLIPPED))
    dark, brightest = (float(v) for v in np.percentile(sample, (1, 99)))
    if clipped > CAUTION_CLIPPED:
        message = (
            f"{clipped:.0%} of the photo is blown out to white. Take it again with less exposure,"
            " or without flash and direct sun."
        )
        level = Level.DOUBT if clipped > DOUBT_CLIPPED else Level.CAUTION
        places = _places_of(sample >= CLIPPED)
        return Finding(101, level, message, places=places), clipped > HOPELESS_CLIPPED
    if brightest < CAUTION_BRIGHTEST:
        message = (
            "The photo is very dark. Take it again with more light, so that the paper is pale."
        )
        level = Level.DOUBT if brightest < DOUBT_BRIGHTEST else Level.CAUTION
        return Finding(102, level, message), brightest < HOPELESS_BRIGHTEST
    if brightest - dark < HOPELESS_SPREAD:
        message = "The photo is even all over: no print and no instrument can be seen in it."
        return Finding(103, Level.DOUBT, message), True
    return None, False
