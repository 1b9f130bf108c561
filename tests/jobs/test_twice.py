"""A photo given twice is known by its file, and saved anew by what it shows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from profiler.jobs.photo import Photo
from profiler.jobs.twice import SamePhoto, check_all_differ, check_other_files, glimpse_of


def picture(shift: int = 0) -> Photo:
    """Blots as large as a card, 1600 px wide, moved to the left by some px."""
    blots = np.random.default_rng(5).integers(60, 200, (30, 44, 3), dtype=np.uint8)
    large = cv2.resize(blots, (1760, 1200), interpolation=cv2.INTER_CUBIC)
    pixels = np.ascontiguousarray(large[:, shift : shift + 1600])
    return Photo(Path("a.jpg"), "a" * 64, pixels)


def saved_anew(photo: Photo, quality: int, width: int) -> Photo:
    """As a chat sends it on: smaller, squeezed, a little brighter."""
    size = (width, width * 3 // 4)
    small = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA)
    data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    pixels = cv2.convertScaleAbs(cv2.imdecode(data, cv2.IMREAD_COLOR), alpha=1.05, beta=4)
    return Photo(Path("b.jpg"), "b" * 64, np.asarray(pixels, dtype=np.uint8))


@pytest.mark.parametrize(("quality", "width"), [(95, 1600), (60, 1600), (80, 1000)])
def test_a_copy_saved_anew_is_no_second_witness(quality: int, width: int) -> None:
    first = picture()
    with pytest.raises(SamePhoto, match=r"b\.jpg shows the same as a\.jpg"):
        check_all_differ([glimpse_of(first), glimpse_of(saved_anew(first, quality, width))])


def test_the_same_file_under_another_name() -> None:
    first = picture()
    copy = replace(first, path=Path("b.jpg"))
    with pytest.raises(SamePhoto, match="same picture"):
        check_all_differ([glimpse_of(first), glimpse_of(copy)])
    with pytest.raises(SamePhoto, match="same picture"):
        check_other_files(copy, [first])


@pytest.mark.parametrize("shift", [10, 40, 160])
def test_a_camera_that_moved_a_little_is_another_witness(shift: int) -> None:
    moved = replace(picture(shift), path=Path("b.jpg"), sha256="b" * 64)
    check_all_differ([glimpse_of(picture()), glimpse_of(moved)])
