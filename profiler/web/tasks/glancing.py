"""A glance at a picture that is kept nowhere: a phone's live view, or a photo before it is sent."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from profiler.errors import InputError, ProfilerError
from profiler.jobs.records import design_from_record, load_record
from profiler.pipeline.check import glance
from profiler.target.mat import MatDesign
from profiler.web.tasks.checking import check_record

Progress = Callable[[str, float], None]

#: a reduced picture has no more px than this
MOST_PX = 8_000_000
LEAST_SIDE_PX = 240


class NoPicture(InputError):
    """What came is no picture that a glance can take."""


def look(
    _progress: Progress,
    jpeg: bytes,
    mat: Path | None,
    finer: float | None,
    from_side: bool = False,
) -> dict[str, Any]:
    """What is seen in a reduced picture, as a check's record.

    Args:
        jpeg: the picture, upright.
        mat: the record of the mat; None to recognise it.
        finer: px of the photo for one px of the picture; None where there is no photo yet.
        from_side: it is meant to be a view from the side.

    Raises:
        NoPicture: no JPEG, damaged, far too large or too small.
    """
    return check_record(glance(_pixels(jpeg), _design(mat), finer, from_side))


def _pixels(jpeg: bytes) -> np.ndarray[Any, np.dtype[np.uint8]]:
    try:
        with Image.open(io.BytesIO(jpeg), formats=("JPEG",)) as header:
            width, height = header.size
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise NoPicture("The picture is no JPEG that can be read.") from None
    if width * height > MOST_PX or min(width, height) < LEAST_SIDE_PX:
        raise NoPicture("The picture is not of the size that a glance takes.")
    try:
        found = cv2.imdecode(
            np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
        )
    except cv2.error:
        found = None
    if found is None:
        raise NoPicture("The picture is damaged.")
    return np.asarray(found, dtype=np.uint8)


def _design(mat: Path | None) -> MatDesign | None:
    if mat is None:
        return None
    try:
        return design_from_record(load_record(mat))[0]
    except (ProfilerError, OSError):
        return None
