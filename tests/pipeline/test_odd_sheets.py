"""Sheets laid badly, missing, curling or printed at another scale: solved, or told by number.

Painted scenes, exact geometry. What the studio's light makes of the same is in `tests.coverage`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from profiler.findings import Level
from profiler.geometry.frames import Frame2D
from profiler.jobs.photo import Photo
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.paper import PAPERS
from profiler.pipeline.measure import MeasureRequest, measure_photos, solved
from profiler.pipeline.memory import Memory
from profiler.pipeline.odd_sheets import sheet_findings
from profiler.pipeline.scene import AnotherMat, ScaleContradicted
from profiler.pipeline.seeing import BeyondTheMat
from profiler.scene.record import LensPrior, OddSheet, PrintScale, Scene
from profiler.target.mat import MatDesign, design_mat
from tests.painter import Array, Lie, Slab, camera_over, paint, small_four_string

DESIGN = design_mat(PAPERS["A4"])
LARGE = design_mat(PAPERS["A3"])
LENS = Lens(2400, 1800, 1900.0, 1199.5, 899.5)
CAMERA = camera_over(385.0, 240.0, 1000.0, LENS)
SCALE = PrintScale(1.0, 1.0, 5e-4, 5e-4, True)


def laid(
    design: MatDesign,
    index: int,
    off: tuple[float, float, float] = (0.0, 0.0, 0.0),
    scale: tuple[float, float] = (1.0, 1.0),
    curl: float = 0.0,
) -> Lie:
    """A sheet off its place by mm, mm and degrees, printed at a scale, its upper edge rising."""
    angle = np.radians(off[2])
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

    def lie(local: Array) -> Array:
        flat = (local * np.array(scale)) @ turn.T + np.array(design.origin(index)) + off[:2]
        # the last 120 mm rise as a bent strip does
        part = np.clip(1 - (design.sheet_height - local[:, 1]) / 120.0, 0.0, 1.0)
        return np.column_stack([flat, curl * part**2])

    return lie


def request(pixels: np.ndarray, design: MatDesign = DESIGN) -> MeasureRequest:
    prior = LensPrior(LENS, np.zeros(len(LENS_TERMS)), "fixed")
    photo = Photo(Path("top-1.png"), "0" * 64, pixels)
    return MeasureRequest((photo,), prior, design, SCALE, SCALE)


def scene(lying: dict[int, Lie | None], design: MatDesign = DESIGN) -> Scene:
    pixels = paint(CAMERA, design, [], [], lying=lying)
    return solved(request(pixels, design), Memory())[0]


@lru_cache
def straight() -> Scene:
    return scene({})


def apart(one: Scene) -> float:
    """mm: where two points of the photo come to lie on the mat, against the true camera."""
    pixels = CAMERA.project(np.array([[120.0, 90, 0], [640.0, 400, 0]]))
    true = float(np.hypot(520.0, 310.0))
    return float(np.hypot(*np.diff(one.cameras[0].at_height(pixels, 0.0)[:, :2], axis=0)[0])) - true


def test_sheets_as_they_should_be_give_no_word() -> None:
    assert straight().odd == ()
    assert abs(apart(straight())) < 0.1


@pytest.mark.parametrize("design", [DESIGN, LARGE], ids=["A4", "A3"])
def test_sheets_laid_5_mm_and_2_degrees_wrong_are_solved(design: MatDesign) -> None:
    """Alternately to the left and to the right: no plane lays them all on their drawn places."""
    lying: dict[int, Lie | None] = {
        k: laid(design, k, (5.0 * (-1) ** k, -5.0 * (-1) ** (k // 2), 2.0 * (-1) ** k))
        for k in range(1, design.count)
    }
    found = scene(lying, design)
    assert len(found.sheets) == design.count
    assert not found.odd
    assert abs(apart(found)) < 0.25


def test_a_sheet_far_from_its_place_is_another_mat() -> None:
    lying: dict[int, Lie | None] = {k: laid(DESIGN, k, (60.0 * k, 0, 0)) for k in range(2, 6)}
    with pytest.raises(AnotherMat):
        scene(lying)


@pytest.mark.parametrize(
    ("scale", "told"),
    [((0.985, 0.989), (-0.015, -0.011)), ((0.997, 0.9965), (-0.003, -0.0035))],
    ids=["fit to page", "a third of a percent"],
)
def test_a_badly_printed_sheet_is_named_and_does_no_harm(
    scale: tuple[float, float], told: tuple[float, float]
) -> None:
    found = scene({5: laid(DESIGN, 5, scale=scale)})
    (odd,) = found.odd
    assert (odd.name, odd.kind, odd.left_out) == ("sheet 6", "scale", True)
    assert odd.scale[0] - 1 == pytest.approx(told[0], abs=1e-3)
    assert odd.scale[1] - 1 == pytest.approx(told[1], abs=1e-3)
    assert abs(apart(found)) < 0.1
    # it stays in the scene at its own scale: its print is ground as well
    (own,) = [s for s in found.sheets if s.panel.name == "sheet 6"]
    assert own.scale.x == pytest.approx(scale[0], abs=1e-3)
    (finding,) = sheet_findings(found)
    assert finding.code == 203 and finding.level is Level.CAUTION
    assert "Sheet 6" in finding.message and f"{100 * told[0]:+.1f} %" in finding.message


def test_the_sheet_that_holds_the_frame_may_be_the_bad_one() -> None:
    """Without an instrument the first sheet holds it."""
    found = scene({0: laid(DESIGN, 0, scale=(0.985, 0.985))})
    assert [odd.name for odd in found.odd] == ["sheet 1"]
    assert abs(apart(found)) < 0.1


def test_of_two_sheets_both_are_named() -> None:
    lying: dict[int, Lie | None] = {k: None for k in range(2, DESIGN.count)}
    lying[1] = laid(DESIGN, 1, scale=(0.985, 0.985))
    with pytest.raises(ScaleContradicted, match="sheet 1 and sheet 2"):
        scene(lying)
    # less than that looks like a camera that leans, and is not found out
    both = tuple(OddSheet(f"sheet {k}", "scale", scale=(1.004, 1.004)) for k in (1, 2))
    told = sheet_findings(replace(straight(), odd=both))
    assert [(f.code, f.level) for f in told] == [(203, Level.DOUBT)] * 2


def test_a_sheet_that_rises_is_named() -> None:
    found = scene({2: laid(DESIGN, 2, curl=5.0)})
    (odd,) = found.odd
    assert (odd.name, odd.kind) == ("sheet 3", "raised")
    assert 0.8 < odd.rise < 5.0
    assert abs(apart(found)) < 0.15
    (finding,) = sheet_findings(found)
    assert finding.code == 204 and "Sheet 3" in finding.message


def test_an_edge_that_rises_by_2_mm_does_no_harm_and_is_named() -> None:
    found = scene({2: laid(DESIGN, 2, curl=2.0)})
    (odd,) = found.odd
    assert (odd.name, odd.kind, odd.left_out) == ("sheet 3", "raised", False)
    assert abs(apart(found)) < 0.15
    (finding,) = sheet_findings(found)
    assert finding.code == 204 and finding.level is Level.NOTE and "Sheet 3" in finding.message


def test_a_sheet_whose_tags_are_hidden_is_measured_by_its_bare_checks() -> None:
    """The plate hides every tag of sheet 6 and leaves the outer checks bare."""
    x, y = DESIGN.origin(5)
    w, h = DESIGN.sheet_width, DESIGN.sheet_height
    across = [c.x for c in DESIGN.sheets[5].clusters]
    left, right = x + min(across) - 10.0, x + max(across) + 10.0
    plate = np.array([(left, y + 20), (right, y + 20), (right, y + h - 20), (left, y + h - 20)])
    off = (2.0, -1.5, 0.4)
    photo = paint(CAMERA, DESIGN, [Slab(plate, 0.0, 0.01)], [], lying={5: laid(DESIGN, 5, off)})
    found, _ = solved(request(photo), Memory())
    assert not found.odd
    (sheet,) = [s for s in found.sheets if s.panel.name == "sheet 6"]
    middle = np.array([(w / 2, h / 2)])
    assert np.abs(sheet.to_mat(middle)[0, :2] - laid(DESIGN, 5, off)(middle)[0, :2]).max() < 0.5


def test_three_bare_checks_of_one_target_place_a_sheet() -> None:
    """All else of it is hidden, that target's tag in part."""
    x, y = DESIGN.origin(5)
    w, h = DESIGN.sheet_width, DESIGN.sheet_height
    one = max(DESIGN.sheets[5].clusters, key=lambda c: c.x - c.y)
    beside, above = x + one.x - 30.0, y + one.y + 7.0
    plate = np.array(
        [
            (x + 4, y + 4),
            (beside, y + 4),
            (beside, above),
            (x + w - 4, above),
            (x + w - 4, y + h - 4),
            (x + 4, y + h - 4),
        ]
    )
    off = (2.0, -1.5, 0.4)
    photo = paint(CAMERA, DESIGN, [Slab(plate, 0.0, 0.01)], [], lying={5: laid(DESIGN, 5, off)})
    found, _ = solved(request(photo), Memory())
    (sheet,) = [s for s in found.sheets if s.panel.name == "sheet 6"]
    assert sheet.points == 3
    place = np.array([(one.x, one.y)])
    assert np.abs(sheet.to_mat(place)[0, :2] - laid(DESIGN, 5, off)(place)[0, :2]).max() < 0.2


def test_a_sheet_that_is_hidden_whole_lies_where_its_neighbours_put_it() -> None:
    """Its own targets say nothing, and nobody is asked to lay what lies there."""
    x, y = DESIGN.origin(5)
    w, h = DESIGN.sheet_width, DESIGN.sheet_height
    left, right, low, high = x + 10.0, x + w - 10.0, y + 10.0, y + h - 10.0
    plate = np.array([(left, low), (right, low), (right, high), (left, high)])
    photo = paint(CAMERA, DESIGN, [Slab(plate, 0.0, 20.0)], [])
    found, _ = solved(request(photo), Memory())
    (sheet,) = found.presumed
    assert sheet.panel.name == "sheet 6" and not sheet.points
    middle = np.array([(w / 2, h / 2)])
    assert np.abs(sheet.to_mat(middle)[0, :2] - (middle[0] + (x, y))).max() < 0.5
    area = measure_photos(replace(request(photo), ignore_heights=True)).measurement.area.value
    assert area is not None
    # 20 mm thick below a camera at 1000: the picture is 2 % larger
    assert area == pytest.approx((right - left) * (high - low) * 1.02**2, rel=0.02)


def test_a_missing_sheet_is_told_and_where_it_is_needed_it_is_asked_for() -> None:
    plan = small_four_string()
    frame = Frame2D(0.03, (66.0, 125.0))
    slabs = [Slab(frame.to_mat(p), 0.0, 60.0) for p in plan.values()]
    cards = [(0, Pose(np.eye(3), np.array([*frame.to_mat(np.array([(95.0, 40.0)]))[0], 60.25])))]
    # the upper right sheet lies below nothing; the body lies on the lower left one
    far = paint(CAMERA, DESIGN, slabs, cards, lying={DESIGN.count - 1: None})
    result = measure_photos(request(far))
    (told,) = [f for f in result.measurement.findings if f.code == 205]
    assert told.where == f"sheet {DESIGN.count}"
    under = paint(CAMERA, DESIGN, slabs, cards, lying={0: None})
    with pytest.raises(BeyondTheMat, match="sheet 1 is seen"):
        measure_photos(request(under))
