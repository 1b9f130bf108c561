"""What is seen of a photo from the side before it is measured together with those from above."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.detection.sharpness import anything_sharp
from profiler.detection.tags import find_tags
from profiler.pipeline.check_points import Point, Weight, smeared
from profiler.target.tags import UPRIGHT_CODE_START

#: printed squares that stand upright; with fewer, nothing ties the photo to its row
_LEAST = 2


def side_points(gray: NDArray[np.uint8]) -> tuple[Point, ...]:
    """Whether the upright row is seen; whether the mat in front ties it down is told by measuring.

    Args:
        gray: (H, W).
    """
    standing = sum(code >= UPRIGHT_CODE_START for code in find_tags(gray))
    if standing >= _LEAST:
        return (
            Point("mat", Weight.GOOD, "The upright sheets behind the instrument are seen."),
            Point(
                "frame",
                Weight.GOOD,
                "This is the view from the side. The rest is told once it is measured together"
                " with a photo from above.",
            ),
        )
    if not anything_sharp(gray):
        return (smeared(),)
    return (
        Point(
            "mat",
            Weight.STOP,
            "No upright sheet is seen in this view from the side. Stand the printed row up behind"
            " the instrument, with its printed squares in sight above it.",
            "Show the upright sheets behind the instrument.",
        ),
    )
