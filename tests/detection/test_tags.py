"""Tags told by their codes: large ones at half size, and small ones that half the size loses."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.detection.tags import find_tags
from profiler.target.tags import dictionary

SIDE_PX, SMALL_PX = 60, 26


def _laid(codes: dict[int, tuple[int, int, int]]) -> NDArray[np.uint8]:
    """A soft, noisy photo of tags: code to column, row and side in px."""
    photo = np.full((2400, 3200), 205.0)
    for code, (x, y, side) in codes.items():
        tag = dictionary().generateImageMarker(code, 12 * side)
        photo[y : y + side, x : x + side] = cv2.resize(
            tag, (side, side), interpolation=cv2.INTER_AREA
        )
    photo = cv2.GaussianBlur(photo, (0, 0), 0.9)
    photo += 3.0 * np.random.default_rng(3).standard_normal(photo.shape)
    return np.clip(photo, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("code", [507, 21])
def test_a_small_tag_is_read_beside_large_ones(code: int) -> None:
    """A card's, or the mat's own at the far end of a long photo."""
    large = {code: (200 + 240 * code, 300 + 97 * code, SIDE_PX) for code in range(8)}
    found = find_tags(_laid({**large, code: (2500, 700, SMALL_PX)}))
    assert set(found) == {*large, code}
    for each, (x, y, side) in {**large, code: (2500, 700, SMALL_PX)}.items():
        square = np.array([(0, 0), (side, 0), (side, side), (0, side)]) + np.array(
            [x - 0.5, y - 0.5]
        )
        assert np.abs(found[each] - square).max() < 2.5


def test_a_code_that_each_look_sees_elsewhere_is_left_out() -> None:
    """A small tag is seen at full size only, another of the same code at both: one is false."""
    large = {code: (200 + 240 * code, 300 + 97 * code, SIDE_PX) for code in range(8)}
    photo = _laid(large)
    again = _laid({3: (2600, 900, SMALL_PX)})
    photo[850:980, 2550:2680] = again[850:980, 2550:2680]
    assert set(find_tags(photo)) == set(large) - {3}
