"""Where an outline winds is told as opening and closing by a round kernel tell it."""

from __future__ import annotations

import cv2
import numpy as np

from profiler.silhouette.pieces import disc
from profiler.silhouette.winding import winding


def test_a_plain_oval_does_not_wind_but_a_knob_on_it_does() -> None:
    picture = np.zeros((160, 240), dtype=np.uint8)
    cv2.ellipse(picture, (120, 80), (80, 50), 0, 0, 360, 1, -1)
    assert not winding(picture > 0, 1.0).any()
    cv2.rectangle(picture, (116, 15), (124, 40), 1, -1)
    winds = winding(picture > 0, 1.0)
    assert winds[15:30, 112:128].all()
    assert not winds[90:].any()


def test_it_is_what_opening_and_closing_change() -> None:
    """Serra's opening and closing with OpenCV's kernel, away from the kernel's jagged rim."""
    picture = np.zeros((160, 240), dtype=np.uint8)
    cv2.rectangle(picture, (40, 60), (200, 140), 1, -1)
    cv2.rectangle(picture, (90, 20), (104, 60), 1, -1)  # a shaft of 15 cells: within a disc's reach
    kernel = disc(10)
    changed = cv2.morphologyEx(picture, cv2.MORPH_CLOSE, kernel) & ~cv2.morphologyEx(
        picture, cv2.MORPH_OPEN, kernel
    )
    expected = cv2.dilate(changed & 1, kernel) > 0
    assert (winding(picture > 0, 1.0) != expected).mean() < 0.03
