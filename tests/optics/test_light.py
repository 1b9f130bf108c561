"""Linear light: IEC 61966-2-1's own numbers, and sampling between pixels."""

import numpy as np
import pytest

from profiler.optics.light import LINEAR, sample_linear


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
