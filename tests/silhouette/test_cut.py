"""Borders laid anew: a pocket of shadow beside a shaft, where the instrument's colour bounces."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.cut import _ground_nearby, _pattern_missing, border_anew
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


def test_the_grounds_own_light_is_known_wherever_bare_tint_is_seen() -> None:
    plan, lighting, shade, thing, pocket = _scene()
    out = cv2.distanceTransform((~(thing | pocket)).astype(np.uint8), cv2.DIST_L2, 5) * CELL
    nearby, known = _ground_nearby(plan, lighting, shade, out, None)
    beside = (out > 2.0) & (out < 4.0)
    # all of it is bare: a mean of ones that is rounded to just below one left gaps
    assert known[beside].min() > 0.8
    hue = (nearby - shade[..., None])[beside & (shade < 0)]
    assert np.abs(np.median(hue, axis=0) - np.log(BOUNCE)).max() < 0.08


def test_where_the_instrument_looks_like_the_ground_its_look_moves_no_border() -> None:
    plan, lighting, shade, thing, pocket = _scene()
    settled = border_anew(plan, lighting, shade, thing | pocket, like=thing)
    assert (settled == (thing | pocket)).all()


def test_a_dark_thing_on_a_print_hides_its_pattern_and_the_print_in_a_shadow_does_not() -> None:
    """A chequered print, seen in a deep shadow and not seen under something black or white."""
    h, w = 60, 90
    rows, columns = np.mgrid[0:h, 0:w]
    black = (((rows // 8) + (columns // 8)) % 2).astype(np.float32)
    plan, _, _, _, _ = _scene()
    plan = replace(plan, black=black, white=1 - black)
    print_ = np.where(black[..., None] > 0, 0.05, 1.3) * np.ones(3)
    own = np.log(cv2.GaussianBlur(print_, (0, 0), 0.7) + 0.06)
    nothing = np.zeros((h, w), dtype=bool)
    under_black, under_white = (np.full((h, w, 3), np.log(light + 0.06)) for light in (0.05, 1.3))
    inner = np.s_[12:-12, 12:-12]
    checks = black[inner] > 0
    for shown, missing in ((own, 0.0), (own - 0.9, 0.0), (under_black, 1.0), (under_white, 0.0)):
        told = _pattern_missing(shown, own, plan, nothing)[inner]
        assert np.abs(told[checks] - missing).max() < 0.05
        # white cells speak for themselves
        assert not told[~checks].any()
    # a thing's dark edge beside a print is no missing pattern: it is on the other side
    thing = columns >= 45
    half = np.where(thing[..., None], under_black, own)
    told = _pattern_missing(half, own, plan, thing)
    assert told[12:-12, 12:44].max() < 0.05
    assert told[12:-12, 46:-12][black[12:-12, 46:-12] > 0].min() > 0.95
