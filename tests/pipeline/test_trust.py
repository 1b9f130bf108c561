"""A result that must not be relied on says so first, and names the photo."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from profiler.findings import Level
from profiler.geometry.frames import Frame2D
from profiler.jobs.photo import Photo
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.paper import PAPERS
from profiler.pipeline.measure import MeasureRequest, MeasureResult, measure_photos
from profiler.pipeline.trust import BEYOND, BROKEN, RESIDUALS, untrusted
from profiler.scene.record import LensPrior, OddSheet, PrintScale
from profiler.target.mat import design_mat
from tests.painter import Slab, camera_over, paint, small_four_string

DESIGN = design_mat(PAPERS["A3"])
LENS = Lens(2400, 1800, 1900.0, 1199.5, 899.5)
LAID = Frame2D(0.03, (66.0, 205.0))
SCALE = PrintScale(1.0, 1.0, 5e-4, 5e-4, True)


@lru_cache
def painted() -> Photo:
    slabs = [Slab(LAID.to_mat(plan), 0.0, 50.0) for plan in small_four_string().values()]
    cards = [(0, Pose(np.eye(3), np.array([*LAID.to_mat(np.array([(95.0, 40.0)]))[0], 50.25])))]
    camera = camera_over(400.0, 220.0, 1080.0, LENS)
    return Photo(Path("top-9.png"), "9" * 64, paint(camera, DESIGN, slabs, cards))


@lru_cache
def measured(k1: float = 0.0) -> MeasureResult:
    """With a lens record that is held to be exact, and right only without distortion."""
    prior = LensPrior(replace(LENS, k1=k1), np.zeros(len(LENS_TERMS)), "record")
    return measure_photos(MeasureRequest((painted(),), prior, DESIGN, SCALE, SCALE))


def test_a_sound_photo_has_nothing_against_it() -> None:
    assert measured().standing_against == ()


def test_a_lens_that_is_not_this_one_is_told_first_with_the_photo() -> None:
    """A k1 of -0.05 bends points near the border of this frame by some 4 px, or 2 mm."""
    result = measured(-0.05)
    (finding,) = result.standing_against
    assert finding.code == RESIDUALS and finding.level is Level.DOUBT
    assert finding.where == "top-9.png" and finding.message.startswith("top-9.png: ")
    assert result.measurement.findings[0] is finding


def test_points_set_aside_in_number_stand_against_it() -> None:
    scene = measured().scene
    few = np.arange(len(scene.used)) % 5 < 3
    (finding,) = untrusted(replace(scene, used=few), ["p.jpg"], LAID.to_mat(np.zeros((40, 2))))
    assert finding.code == RESIDUALS and "40%" in finding.message


def test_an_outline_beyond_the_print_that_is_seen_stands_against_it() -> None:
    result = measured()
    outline = result.measurement.frame.to_mat(result.measurement.outline)
    scene = result.scene
    pixels = scene.observations[0].pixels
    # as if the mat had been seen below the body only
    half = replace(scene, used=scene.used & (pixels[:, 0] < np.median(pixels[:, 0])))
    codes = {f.code for f in untrusted(half, ["p.jpg"], outline)}
    assert BEYOND in codes
    assert untrusted(scene, ["p.jpg"], outline) == []


def test_an_outline_that_leaves_out_what_a_card_lies_on_is_told() -> None:
    """The edge was lost in the wood: it follows the card's border, or the grain."""
    result = measured()
    whole = result.measurement.frame.to_mat(result.measurement.outline)
    card = result.scene.cards[0]
    w, h = card.panel.width, card.panel.height
    shut = card.to_mat(np.array([(-1, -1), (w + 1, -1), (w + 1, h + 1), (-1, h + 1)]))[:, :2]
    (finding,) = untrusted(result.scene, ["p.jpg"], shut)
    assert finding.code == BROKEN and card.panel.name in finding.message
    middle = whole.mean(axis=0)
    frayed = middle + (whole - middle) * np.where(np.arange(len(whole)) % 2, 1.0, 0.98)[:, None]
    (finding,) = untrusted(result.scene, ["p.jpg"], frayed)
    assert finding.code == BROKEN and "ragged" in finding.message
    assert untrusted(result.scene, ["p.jpg"], whole) == []


def test_of_a_sheet_that_rises_only_the_targets_that_do_are_left_out() -> None:
    """All of a mat of one sheet lies on the sheet that rises somewhere."""
    result = measured()
    outline = result.measurement.frame.to_mat(result.measurement.outline)
    scene = result.scene
    sheets = [sheet.panel.name for sheet in scene.sheets]
    rising = tuple(OddSheet(name, "raised", rise=4.0, left_out=True) for name in sheets)
    seen = scene.observations[0]
    codes = np.unique(seen.code[seen.panel < len(sheets)])
    high = seen.code == codes[len(codes) // 2]
    told = replace(scene, odd=rising, used=scene.used & ~high)
    assert untrusted(told, ["p.jpg"], outline) == []
