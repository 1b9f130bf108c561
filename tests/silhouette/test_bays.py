"""Bays along a white seam: of a body filled, between tuners and beside a neck left."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from profiler.silhouette.bays import Mask, without_bays
from profiler.silhouette.ground import TARGET, TINT, WHITE, Plan

CELL = 0.5
SHAPE = (600, 1400)


def plan(rows: slice, ink: int = WHITE) -> Plan:
    """Tint, and a strip of something else across it."""
    printed = np.full(SHAPE, TINT, dtype=np.uint8)
    printed[rows] = ink
    zero = np.zeros(SHAPE, dtype=np.float32)
    return Plan(np.dstack([zero] * 3), printed, zero, zero, zero == 0, np.zeros(2), CELL, 1.0)


def instrument() -> Mask:
    """A body of 250 x 200 mm, a neck, and a head with two tuners 12 mm apart on a side."""
    mask = np.zeros(SHAPE, dtype=np.uint8)
    cv2.ellipse(mask, (300, 300), (250, 200), 0, 0, 360, 1, -1)
    cv2.rectangle(mask, (500, 270), (1200, 330), 1, -1)
    cv2.rectangle(mask, (1150, 240), (1350, 360), 1, -1)
    for x in (1200, 1256):
        cv2.rectangle(mask, (x, 180), (x + 32, 420), 1, -1)
    return mask > 0


SEAM = slice(290, 312)


@pytest.mark.parametrize("deep_mm", [10, 30])
def test_a_bay_that_a_seam_cuts_into_a_body_is_filled(deep_mm: int) -> None:
    whole = instrument()
    bitten = whole.copy()
    bitten[SEAM, 50 : 50 + round(deep_mm / CELL)] = False
    mended = without_bays(bitten, plan(SEAM))
    assert (mended ^ whole).sum() * CELL**2 < 30.0
    # where nothing white is printed a bay is a bay, and so on a target
    for other in (plan(slice(500, 520)), plan(SEAM, TINT | TARGET | WHITE)):
        assert not (without_bays(bitten, other) ^ bitten).any()


def test_ground_between_tuners_and_in_a_shoulder_stays_ground() -> None:
    whole = instrument()
    for rows in (slice(0, 600), slice(195, 225), slice(330, 350)):
        assert not (without_bays(whole, plan(rows)) ^ whole).any()


def test_what_ends_at_the_plan_s_rim_ends_there() -> None:
    """Beyond it nothing is seen: it is no shore."""
    plate = np.zeros(SHAPE, dtype=bool)
    plate[100 : SHAPE[0] - 3, 300:800] = True
    assert not (without_bays(plate, plan(slice(560, 600))) ^ plate).any()
