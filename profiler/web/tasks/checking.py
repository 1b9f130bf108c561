"""Looking at a photo that has just come."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from profiler.errors import Places, ProfilerError
from profiler.jobs.photo import open_photo
from profiler.jobs.turning import upright, upright_points
from profiler.pipeline.check import Check, Weight, check_photo
from profiler.pipeline.check_points import most_urgent
from profiler.pipeline.job import JobWishes
from profiler.web.tasks.measuring import MEMORY
from profiler.web.wording import for_page

Progress = Callable[[str, float], None]

SMALL_PX = 900


def check(
    progress: Progress, photo: Path, accept_crop: bool, from_side: bool = False
) -> dict[str, Any]:
    """Check one photo; the memory keeps what measuring needs of it again."""
    wishes = JobWishes(photos=(photo,), accept_crop=accept_crop)
    return check_record(check_photo(wishes, progress, MEMORY, from_side))


def small_copy(_progress: Progress, photo: Path) -> bytes | None:
    """A small upright JPEG; None where the photo cannot be opened."""
    try:
        opened = open_photo(photo, allow_crop=True)
    except ProfilerError:
        return None
    scale = min(1.0, SMALL_PX / max(opened.pixels.shape[:2]))
    small = cv2.resize(opened.pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    turned = upright(np.asarray(small, dtype=np.uint8), opened.orientation)
    done, coded = cv2.imencode(".jpg", turned, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return coded.tobytes() if done else None


def check_record(found: Check) -> dict[str, Any]:
    """A check as the contract says."""
    first = most_urgent(found.points)
    return {
        "ok": found.ok,
        "first": None if first is None else first.do or for_page(first.message),
        "points": [
            {
                "what": p.what,
                "ok": p.weight is not Weight.STOP,
                "weight": p.weight.value,
                "message": for_page(p.message),
                "do": p.do,
                "places": _shares(p.places, found),
            }
            for p in found.points
        ],
        "hints": {
            "targets": found.targets,
            "cards": found.cards,
            "tilt_deg": None if found.tilt_deg is None else round(found.tilt_deg, 1),
            "height_mm": None if found.height_mm is None else round(found.height_mm),
        },
        "from_side": found.from_side,
        "phone": found.phone,
        "width": found.width,
        "height": found.height,
    }


def _shares(places: Places, found: Check) -> list[list[list[float]]]:
    """Rings as shares of the upright picture's width and height; what lies outside is cut off."""
    if found.width is None or found.height is None:
        return []
    size = np.array([found.width, found.height], dtype=np.float64)
    rings = []
    for place in places:
        share = np.clip((np.array(place) + 0.5) / size, 0.0, 1.0)
        ring = upright_points(share, found.orientation)
        rings.append([[round(float(x), 4), round(float(y), 4)] for x, y in ring])
    return rings
