"""Borders laid anew: a pocket of shadow beside a shaft, where the instrument's colour bounces."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.cut import border_anew
from profiler.silhouette.ground import TINT, Lighting, Plan

CELL = 0.66
#: blue, green, red: of the tint in the light, and what a blue instrument adds to it in its shadow
TINT_LIGHT = np.array([0.35, 0.55, 0.7], dtype=np.float32)
BOUNCE = np.array([1.30, 1.0, 0.85], dtype=np.float32)
INSTRUMENT = np.array([0.30, 0.10, 0.04], dtype=np.float32)


def _scene() -> tuple[Plan, Lighting, NDArray[np.float32], NDArray[np.bool_], NDArray[np.bool_]]:
    """A wall with a knob on a shaft, its shadow all round: plan, lighting, shade, thing, pocket."""
    h, w = 160, 220
    thing = np.zeros((h, w), dtype=bool)
    thing[90:150, 20:200] = True
    thing[68:90, 106:114] = True
    thing[40:68, 94:126] = True
    pocket = np.zeros_like(thing)
    pocket[68:90, 88:106] = True
    pocket[68:90, 114:132] = True
    rng = np.random.default_rng(5)
    light = np.empty((h, w, 3), dtype=np.float32)
    light[:] = TINT_LIGHT
    shaded = np.zeros((h, w), dtype=np.float32)
    shaded[30:160, 60:160] = np.log(0.55)
    light[shaded < 0] *= 0.55 * BOUNCE
    light[thing] = INSTRUMENT
    light *= np.exp(0.03 * rng.standard_normal((h, w, 1))).astype(np.float32)
    plan = Plan(
        light,
        np.full((h, w), TINT, dtype=np.uint8),
        np.zeros((h, w), dtype=np.float32),
        np.zeros((h, w), dtype=np.float32),
        np.ones((h, w), dtype=bool),
        np.zeros(2),
        CELL,
        0.7,
    )
    lit = np.empty((h, w, 3), dtype=np.float32)
    lit[:] = TINT_LIGHT
    ink = np.full(3, 0.05, dtype=np.float32)
    return plan, Lighting(lit, np.full(3, 1.3, dtype=np.float32), ink), shaded, thing, pocket


def test_a_pocket_that_was_filled_is_emptied_by_the_hue_of_the_ground_beside_it() -> None:
    plan, lighting, shade, thing, pocket = _scene()
    settled = border_anew(plan, lighting, shade, thing | pocket)
    assert settled[pocket].mean() < 0.12
    assert settled[thing].mean() > 0.99
    assert not settled[~thing & ~pocket].any()


def test_where_the_instrument_looks_like_the_ground_its_look_moves_no_border() -> None:
    plan, lighting, shade, thing, pocket = _scene()
    settled = border_anew(plan, lighting, shade, thing | pocket, like=thing)
    assert (settled == (thing | pocket)).all()
