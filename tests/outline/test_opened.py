"""Our opening by a disc is OpenCV's, at the raster's border too."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from profiler.outline.opened import opened


@pytest.mark.parametrize("radius", [1, 4, 17])
def test_the_same_as_opencv(radius: int) -> None:
    rng = np.random.default_rng(radius)
    rough = cv2.GaussianBlur(rng.random((160, 230)), (0, 0), 0.6 * radius)
    raster = (rough > np.quantile(rough, 0.3)).astype(np.uint8)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))
    theirs = cv2.morphologyEx(raster, cv2.MORPH_OPEN, disc)
    assert 0 < theirs.sum() < raster.sum()
    assert (opened(raster, radius) == theirs).all()
