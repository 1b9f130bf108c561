"""Looking at a photo that has just come."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from profiler.errors import ProfilerError
from profiler.jobs.photo import open_photo
from profiler.jobs.turning import upright
from profiler.pipeline.check import Check, Weight, check_photo
from profiler.pipeline.job import JobWishes
from profiler.web.tasks.measuring import MEMORY
from profiler.web.wording import for_page

Progress = Callable[[str, float], None]

SMALL_PX = 900


def check(progress: Progress, photo: Path, accept_crop: bool) -> dict[str, Any]:
    """Check one photo; the memory keeps what measuring needs of it again."""
    wishes = JobWishes(photos=(photo,), accept_crop=accept_crop)
    return check_record(check_photo(wishes, progress, MEMORY))


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
    return {
        "ok": found.ok,
        "points": [
            {
                "what": p.what,
                "ok": p.weight is not Weight.STOP,
                "weight": p.weight.value,
                "message": for_page(p.message),
            }
            for p in found.points
        ],
        "hints": {
            "targets": found.targets,
            "cards": found.cards,
            "tilt_deg": None if found.tilt_deg is None else round(found.tilt_deg, 1),
            "height_mm": None if found.height_mm is None else round(found.height_mm),
        },
        "phone": found.phone,
        "width": found.width,
        "height": found.height,
    }
