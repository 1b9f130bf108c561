"""Linear light: IEC 61966-2-1's own numbers, and sampling between pixels."""

import cv2
import numpy as np
import pytest

from profiler.optics.light import LINEAR, remap_linear, sample_linear, to_linear


def test_srgb_reference_points() -> None:
    # IEC 61966-2-1: the linear toe ends at 0.04045; middle grey 18 % is code 118 (from memory)
    assert LINEAR[0] == 0.0
    assert LINEAR[255] == pytest.approx(1.0)
    assert LINEAR[10] == pytest.approx(10 / 255 / 12.92, rel=1e-6)
    assert LINEAR[118] == pytest.approx(0.18, abs=0.003)


def test_light_adds_up_between_two_pixels() -> None:
    photo = np.zeros((4, 4, 3), np.uint8)
    photo[:, 2:] = 255
    middle = sample_linear(photo, np.array([[1.5, 1.5]]))
    assert middle == pytest.approx(0.5)


def test_a_window_is_remapped_as_the_whole_photo_is() -> None:
    rng = np.random.default_rng(3)
    photo = rng.integers(0, 256, (60, 80, 3), dtype=np.uint8)
    x, y = np.meshgrid(np.linspace(-4, 30, 50), np.linspace(41, 66, 40))
    pixels = np.dstack([x + 0.1 * y, y]).astype(np.float32)
    for border in (cv2.BORDER_CONSTANT, cv2.BORDER_REPLICATE):
        whole = cv2.remap(
            to_linear(photo), pixels[..., 0], pixels[..., 1], cv2.INTER_LINEAR, borderMode=border
        )
        assert np.abs(remap_linear(photo, pixels, border) - whole).max() < 1e-6
