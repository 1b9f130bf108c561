"""Several photos of one scene: heights that nobody gave are seen, and who moved is named.

Painted scenes: exact geometry, no light. What the studio's photos give is in `tests.accuracy`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from shapely.geometry import Polygon
from shapely.ops import unary_union

from profiler.findings import Level
from profiler.geometry.frames import Frame2D
from profiler.jobs.photo import Photo
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.outline.spread import scene_steps
from profiler.paper import PAPERS
from profiler.pipeline.joint import moves_alone
from profiler.pipeline.measure import MeasureRequest, MeasureResult, measure_photos
from profiler.scene.perturb import moved_scene
from profiler.scene.record import LensPrior, PrintScale
from profiler.target.mat import design_mat
from tests.alignment import outline_error
from tests.painter import Slab, camera_over, paint, small_four_string

DESIGN = design_mat(PAPERS["A3"])
LENS = Lens(3000, 2250, 2350.0, 1499.5, 1124.5)
#: part to the heights of its upper and lower edge; nothing tells the program but the body's cards
HEIGHTS = {
    "body": (70.0, 0.0),
    "neck": (72.0, 61.0),
    "headstock": (58.0, 46.0),
    "tuner": (44.0, 40.0),
}
LAID = Frame2D(0.03, (66.0, 205.0))
PLACES = ((300.0, 120.0), (520.0, 190.0), (650.0, 330.0))
SCALE = PrintScale(1.0, 1.0, 5e-4, 5e-4, True)


@lru_cache
def photo(place: int, laid: Frame2D = LAID) -> Photo:
    """The painted instrument as seen from one of the places."""
    slabs = [
        Slab(laid.to_mat(plan), HEIGHTS[part][1], HEIGHTS[part][0])
        for name, plan in small_four_string().items()
        for part in [next(p for p in HEIGHTS if name.startswith(p))]
    ]
    cards = [
        (k, Pose(np.eye(3), np.array([*laid.to_mat(np.array([at]))[0], 70.25])))
        for k, at in enumerate([(95.0, 40.0), (95.0, -75.0)])
    ]
    camera = camera_over(*PLACES[place], 1080.0, LENS)
    pixels = paint(camera, DESIGN, slabs, cards, seed=place)
    return Photo(Path(f"top-{place + 1}.png"), str(place) * 64, pixels)


def measured(*photos: Photo) -> MeasureResult:
    prior = LensPrior(LENS, np.zeros(len(LENS_TERMS)), "fixed")
    return measure_photos(MeasureRequest(photos, prior, DESIGN, SCALE, SCALE))


@lru_cache
def all_three() -> MeasureResult:
    return measured(*(photo(k) for k in range(3)))


@lru_cache
def one(place: int) -> MeasureResult:
    return measured(photo(place))


def truth() -> np.ndarray:
    whole = unary_union([Polygon(p).buffer(0) for p in small_four_string().values()])
    return np.asarray(whole.exterior.coords)[:-1]


def test_heights_that_no_card_shows_are_seen() -> None:
    seen = {h.part: h for h in all_three().measurement.heights}
    # a tuner has one edge for the program: the painted ones have two, 4 mm apart
    for part, true in (("neck", 72.0), ("headstock", 58.0), ("tuners", 42.0)):
        height = seen[part].height
        assert abs(height.value - true) < height.u95, part
        assert height.u95 < 3.0, part
        assert "seen from several places" in seen[part].source
    alone = {h.part: h for h in one(0).measurement.heights}
    assert alone["tuners"].height.u95 > 2 * seen["tuners"].height.u95


def test_more_photos_are_no_worse() -> None:
    together = outline_error(all_three().measurement.outline, truth())
    alone = [outline_error(one(k).measurement.outline, truth()) for k in range(3)]
    assert together.p95 < 0.9
    assert together.mean < min(e.mean for e in alone)
    assert together.p95 < min(e.p95 for e in alone)


def test_where_one_photo_was_taken_says_nothing_of_the_others() -> None:
    """Their sights are not lifted again for it: with all photos that would grow as the square."""
    scene = all_three().scene
    on_instrument = np.array([[100.0, 200.0, 70.0], [500.0, 250.0, 40.0]])
    alone = {"where the camera was": 0}
    for source, step in scene_steps(scene):
        own = moves_alone(scene, step)
        if own is None:
            continue
        alone[source] = alone.get(source, 0) + 1
        moved = moved_scene(scene, step)
        for k, (camera, before) in enumerate(zip(moved.cameras, scene.cameras, strict=True)):
            away = camera.project(on_instrument) - before.project(on_instrument)
            assert (np.abs(away).max() > 1e-4) == (k == own)
        for card, still in zip(moved.cards, scene.cards, strict=True):
            corner = np.zeros((1, 2))
            assert np.allclose(card.to_mat(corner), still.to_mat(corner), atol=1e-6)
    assert alone["where the camera was"] == 6 * 3


def test_photos_that_agree_are_not_accused() -> None:
    assert not all_three().disagreeing
    assert 411 not in [f.code for f in all_three().measurement.findings]


def test_a_push_between_two_photos_is_told() -> None:
    pushed = Frame2D(LAID.angle, (LAID.origin[0] - 2.5, LAID.origin[1] + 1.0))
    result = measured(photo(0), photo(1, pushed))
    first = result.measurement.findings[0]
    assert (first.code, first.level) == (411, Level.DOUBT)
    assert "top-1.png and top-2.png do not agree" in first.message
    assert result.disagreeing == ("top-2.png",)
    assert [p.name for p in result.photos] == ["top-1.png"]
    # what is said is what the first photo alone says
    assert result.measurement.length == one(0).measurement.length


def test_a_push_that_heights_may_explain_is_in_doubt_all_the_same() -> None:
    """Across, two photos' heights can take up most of 3 mm; the cards that moved along cannot."""
    pushed = Frame2D(LAID.angle, (LAID.origin[0], LAID.origin[1] + 3.0))
    first = measured(photo(0), photo(1, pushed)).measurement.findings[0]
    assert first.level == Level.DOUBT and "top-1.png" in first.message
    assert first.code in (303, 411)


def test_two_of_three_outvote_the_third() -> None:
    turned = Frame2D(LAID.angle + 0.02, LAID.origin)
    result = measured(photo(0, turned), photo(1), photo(2))
    assert result.disagreeing == ("top-1.png",)
    assert (
        "top-1.png does not agree with the other photos" in result.measurement.findings[0].message
    )
    assert outline_error(result.measurement.outline, truth()).p95 < 1.0


def test_a_photo_without_an_outline_is_left_out_and_named() -> None:
    bare = photo(1)
    plain = paint(camera_over(*PLACES[1], 1080.0, LENS), DESIGN, [], [])
    result = measured(photo(0), replace(bare, pixels=plain, path=Path("bare.png")))
    left_out = [f for f in result.measurement.findings if f.code == 410]
    assert len(left_out) == 1
    assert left_out[0].where == "bare.png"
    assert left_out[0].message.startswith("bare.png was left out of the outline.")
    assert result.measurement.length.value > 500


def test_how_high_the_back_lies_is_not_said_to_be_known_exactly() -> None:
    """Seen from several places, an edge's doubt stands at its knots and no longer at its line."""
    heights = {h.part: h for h in all_three().measurement.heights}
    assert heights["back"].height.u95 > 0.5
    assert abs(heights["back"].height.value) < heights["back"].height.u95 + 2.0
