"""Calibration of made-up cameras whose lens is known: recovery, honest uncertainty, plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.detection.boards import Chessboard
from profiler.detection.observations import Observations
from profiler.errors import InputError, RequestError, SceneError
from profiler.jobs.photo import Photo
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.paper import paper_named
from profiler.pipeline.calibrate import Calibration, calibrate, calibrate_views
from profiler.pipeline.lens_verdict import CELLS, coverage_of, shape_uncertainty, spread_of
from profiler.pipeline.lens_views import LeftOut, Target, View, board_target, mat_target, view_grey
from profiler.scene.record import PrintScale
from profiler.target.mat import design_mat

Array = NDArray[np.float64]

WIDTH, HEIGHT = 4032, 3024
TRUE = Lens(WIDTH, HEIGHT, 3120.0, 2031.0, 1497.0, 1.0, 0.06, -0.11, 3e-4, -5e-4, 0.05)
BOARD = board_target(Chessboard(13, 9, 25.0))
NOISE = 0.1


def camera_from(lens: Lens, target: Array, tilt: float, side: float, roll: float, off: Array,
                distance: float) -> Camera:  # fmt: skip
    """A camera that leans by `tilt` to the side `side` (degrees) and aims at `off` (mm) of it."""
    lean = np.radians(tilt) * np.array([np.cos(np.radians(side)), np.sin(np.radians(side)), 0.0])
    rotation = (
        cv2.Rodrigues(np.array([0.0, 0.0, np.radians(roll)]))[0]
        @ np.diag([1.0, -1.0, -1.0])
        @ cv2.Rodrigues(lean)[0]
    )
    aim = np.append(target.mean(axis=0) + off, 0.0)
    return Camera(lens, Pose(rotation, np.array([0.0, 0.0, distance]) - rotation @ aim))


def view(name: str, camera: Camera, target: Target, seen: Observations, rng: np.random.Generator,
         places: Sequence[Pose] | None = None, scale: tuple[float, float] = (1.0, 1.0)
         ) -> View:  # fmt: skip
    """The points of `seen` through the camera with noise, those inside the frame."""
    flat = seen.local * scale
    spots = np.column_stack([flat, np.zeros(len(flat))])
    if places is None:
        spots[:, :2] += np.array(target.origins)[seen.panel]
    else:
        for i, place in enumerate(places):
            mine = seen.panel == i
            spots[mine] = place.apply(spots[mine])
    pixels = camera.project(spots) + rng.normal(0, NOISE, (len(spots), 2))
    inside = ((pixels > 5) & (pixels < np.array([WIDTH, HEIGHT]) - 6)).all(axis=1)
    kept = Observations(
        seen.panel[inside], seen.code[inside], seen.local[inside], pixels[inside],
        np.full(int(inside.sum()), NOISE),
    )  # fmt: skip
    hollow = np.broadcast_to(np.zeros((1, 1, 1), np.uint8), (HEIGHT, WIDTH, 3))
    photo = Photo(
        Path(name), f"sha of {name}", hollow, make="Cedar", model="Lantern 3",
        datetime="2026:11:25 10:00:00", focal35_mm=27.0,
    )  # fmt: skip
    return View(photo, kept, 1.0)


def board_points() -> Observations:
    row, column = np.divmod(np.arange(13 * 9), 13)
    local = np.column_stack([column, row]) * 25.0
    nil = np.zeros(len(local), dtype=np.intp)
    return Observations(nil, np.arange(len(local)), local, local, np.ones(len(local)))


def good_views(
    seed: int, lens: Lens = TRUE, refocus: float = 0.0, shake: float = 0.0
) -> list[View]:
    """Ten photos as the advice asks for.

    Args:
        refocus: standard deviation of each photo's own focal length, relative.
        shake: standard deviation of each photo's own optical centre, px.
    """
    rng = np.random.default_rng(seed)
    seen = board_points()
    views = []
    for i in range(10):
        own = replace(
            lens,
            f=lens.f * (1 + refocus * rng.normal()),
            cx=lens.cx + shake * rng.normal(),
            cy=lens.cy + shake * rng.normal(),
        )
        camera = camera_from(
            own, seen.local, 38.0 if i < 8 else 5.0, 45.0 * i + 10, 90.0 * (i % 3 == 0),
            np.array([70.0 * (-1) ** (i // 2), 50.0 * (-1) ** i]), 420.0,
        )  # fmt: skip
        views.append(view(f"p{i}.jpg", camera, BOARD, seen, rng))
    return views


def test_a_known_lens_is_found_within_its_uncertainty() -> None:
    result = calibrate_views(good_views(1), [], BOARD)
    free = result.record.u > 0
    miss = (result.record.lens.vector - TRUE.vector)[free] / result.record.u[free]
    assert np.abs(miss).max() < 4
    # per point, two coordinates
    assert result.record.rms_px == pytest.approx(NOISE * np.sqrt(2), rel=0.05)
    assert result.record.u[0] / TRUE.f < 0.0015
    assert result.judgement.level == "good", result.judgement
    assert result.record.verdict == "good"
    assert result.record.date == "2026-11-25"
    assert result.record.phone == "Cedar Lantern 3"


def test_stated_uncertainties_cover_the_truth_as_often_as_they_say() -> None:
    """20 data sets of a phone that refocuses by 0.25 % and stabilises by 15 px between photos.

    Squared misses over u follow chi-squared, so their mean is 1. Before each photo was allowed a
    lens of its own, f was off by up to 30 times its stated uncertainty here.
    """
    misses = []
    for seed in range(20):
        result = calibrate_views(good_views(seed, refocus=0.0025, shake=15.0), [], BOARD)
        free = [i for i, n in enumerate(LENS_TERMS) if n != "aspect"]
        difference = (result.record.lens.vector - TRUE.vector)[free]
        inverse = np.linalg.inv(result.covariance[np.ix_(free, free)])
        misses.append(difference @ inverse @ difference / len(free))
        assert result.record.rms_px == pytest.approx(NOISE * np.sqrt(2), rel=0.08)
    # mean of 160 squared unit normals: 1 +- 0.11; the weak belief may make it a little smaller
    assert 0.6 < np.mean(misses) < 1.4


def test_a_point_that_is_quite_wrong_is_set_aside() -> None:
    views = good_views(2)
    views[3].seen.pixels[17] += (40.0, -25.0)
    result = calibrate_views(views, [], BOARD)
    assert result.fits[3].set_aside >= 1
    free = result.record.u > 0
    miss = (result.record.lens.vector - TRUE.vector)[free] / result.record.u[free]
    assert np.abs(miss).max() < 4


def test_a_taped_mat_need_not_lie_as_drawn_nor_its_scale_be_known() -> None:
    """Sheets shifted by millimetres and a printer that is out by 0.6 % leave the lens alone."""
    rng = np.random.default_rng(5)
    design = design_mat(paper_named("A4"))
    target = mat_target(design, PrintScale())
    scale = (1.006, 0.998)
    places = []
    for i in range(design.count):
        turn = cv2.Rodrigues(np.array([0.0, 0.0, rng.normal(0, 0.004)]))[0]
        x, y = design.origin(i)
        places.append(Pose(turn, np.array([x + rng.normal(0, 2), y + rng.normal(0, 2), 0.0])))
    local = [(i, c.code, p) for i, s in enumerate(design.sheets)
             for c in s.clusters for p in c.saddles()]  # fmt: skip
    seen = Observations(
        np.array([r[0] for r in local]), np.array([r[1] for r in local]),
        np.array([r[2] for r in local]), np.zeros((len(local), 2)), np.ones(len(local)),
    )  # fmt: skip
    flat = seen.local + np.array(target.origins)[seen.panel]
    views = [
        view(
            f"m{i}.jpg",
            camera_from(
                TRUE, flat, 33.0 if i < 8 else 4.0, 45.0 * i, 90.0 * (i % 2),
                np.array([90.0 * (-1) ** i, 60.0 * (-1) ** (i // 2)]), 800.0,
            ),
            target, seen, rng, places, scale,
        )
        for i in range(10)
    ]  # fmt: skip
    result = calibrate_views(views, [], target)
    free = result.record.u > 0
    miss = (result.record.lens.vector - TRUE.vector)[free] / result.record.u[free]
    assert np.abs(miss).max() < 4
    assert result.record.u[0] / TRUE.f < 0.005
    assert result.record.rms_px == pytest.approx(NOISE * np.sqrt(2), rel=0.1)


class TestVerdict:
    def judged(self, views: list[View]) -> Calibration:
        return calibrate_views(views, [], BOARD)

    def test_two_photos_are_not_enough(self) -> None:
        result = self.judged(good_views(3)[:2])
        assert result.judgement.level == "not good enough"
        assert "only 2 photos" in result.judgement.sentence
        assert "8 to 12" in result.judgement.advice[0]

    def test_photos_that_are_alike_are_told(self) -> None:
        rng, seen = np.random.default_rng(7), board_points()
        views = [
            view(
                f"{i}.jpg",
                camera_from(TRUE, seen.local, 25.0 + i / 2, 20.0, 0.0, np.zeros(2), 420.0),
                BOARD, seen, rng,
            )
            for i in range(8)
        ]  # fmt: skip
        result = self.judged(views)
        assert result.judgement.level == "not good enough"
        assert "too alike" in result.judgement.sentence
        assert any("Tilt more" in a for a in result.judgement.advice)
        # and the uncertainty knows it too
        assert result.record.u[0] > 2 * self.judged(good_views(1)).record.u[0]

    def test_empty_corners_are_named(self) -> None:
        rng, seen = np.random.default_rng(8), board_points()
        views = [
            view(
                f"{i}.jpg",
                camera_from(TRUE, seen.local, 35.0, 45.0 * i, 0.0, np.zeros(2), 900.0),
                BOARD, seen, rng,
            )
            for i in range(8)
        ]  # fmt: skip
        result = self.judged(views)
        assert result.judgement.level != "good"
        assert "corners" in result.judgement.sentence
        assert any("corners of the frame" in a for a in result.judgement.advice)

    def test_a_photo_that_fits_worse_is_named(self) -> None:
        views = good_views(9)
        rng = np.random.default_rng(1)
        views[4].seen.pixels[:] += rng.normal(0, 0.6, views[4].seen.pixels.shape)
        result = self.judged(views)
        assert "p4.jpg fits worse" in result.judgement.sentence

    def test_a_sheet_that_is_not_flat_raises_the_residual(self) -> None:
        views = good_views(10)
        for v in views:
            x = v.seen.local[:, 0] / 300
            v.seen.pixels[:, 0] += 8.0 * np.sin(3 * np.pi * x)
        result = self.judged(views)
        assert result.judgement.level != "good"
        assert "from where they should" in result.judgement.sentence


def test_coverage_counts_cells_and_corners() -> None:
    corners = np.array([[3.0, 2.0], [639, 5], [10, 470]])
    coverage = coverage_of(corners, 640, 480)
    assert coverage.cells.shape == (CELLS[1], CELLS[0])
    assert coverage.cells.sum() == 3
    assert coverage.cells[0, 0] == coverage.cells[0, -1] == coverage.cells[-1, 0] == 1
    assert coverage.empty_corners == ["bottom right"]
    assert coverage.fraction == pytest.approx(3 / 48)


def test_what_each_photo_finds_for_itself_is_no_uncertainty_of_shape() -> None:
    full = np.ones((6, 8), dtype=np.int_)
    plain = Lens(WIDTH, HEIGHT, 3000.0, 2015.5, 1511.5)
    for term in (0, 2, 3):  # f, cx, cy
        unsure = np.zeros((9, 9))
        unsure[term, term] = 100.0
        assert shape_uncertainty(plain, unsure, full)[0] < 1e-9
    # distortion is what remains
    bend = np.zeros((9, 9))
    bend[4, 4] = 0.01**2
    here, everywhere = shape_uncertainty(plain, bend, full)
    assert here == pytest.approx(everywhere)
    assert here > 1.0


def test_spread_is_the_greatest_angle_between_views() -> None:
    a, b = np.radians(10), np.radians(-25)
    normals = np.array([[0, 0, -1.0], [0, np.sin(a), -np.cos(a)], [0, np.sin(b), -np.cos(b)]])
    assert spread_of(normals) == pytest.approx(35.0)


class TestRefusals:
    def test_one_photo(self, tmp_path: Path) -> None:
        with pytest.raises(RequestError, match="One photo"):
            calibrate([tmp_path / "a.jpg"], BOARD)

    def test_nothing_in_sight_names_the_files_and_why(self, tmp_path: Path) -> None:
        paths = []
        for name in ("a.png", "b.png"):
            paths.append(tmp_path / name)
            cv2.imwrite(str(paths[-1]), np.full((1200, 1600, 3), 90, np.uint8))
        with pytest.raises(SceneError, match=r"a\.png, b\.png: no chessboard with 13x9"):
            calibrate(paths, BOARD)

    def test_not_a_photo(self, tmp_path: Path) -> None:
        (tmp_path / "a.jpg").write_text("hello")
        with pytest.raises(InputError, match=r"a\.jpg"):
            calibrate([tmp_path / "a.jpg", tmp_path / "b.jpg"], BOARD)

    def test_a_blurred_photo_is_left_out_by_name(self) -> None:
        grey = drawn_board(blur=9.0)
        photo = Photo(Path("shaky.jpg"), "", np.zeros((*grey.shape, 3), np.uint8))
        seen = view_grey(photo, grey, board_target(Chessboard(9, 6, 25.0)))
        assert isinstance(seen, LeftOut)
        assert seen.name == "shaky.jpg"
        assert "blurred" in seen.reason
        sharp = view_grey(photo, drawn_board(blur=1.0), board_target(Chessboard(9, 6, 25.0)))
        assert isinstance(sharp, View)

    def test_a_mirrored_photo_is_left_out_by_name(self) -> None:
        views = good_views(12)
        views[2].seen.pixels[:, 0] = WIDTH - 1 - views[2].seen.pixels[:, 0]
        result = calibrate_views(views, [], BOARD)
        assert [(p.name, "from behind" in p.reason) for p in result.left_out] == [("p2.jpg", True)]
        assert result.record.photos == 9

    def test_photos_that_hold_no_lens_are_refused(self) -> None:
        rng, seen = np.random.default_rng(11), board_points()
        straight = camera_from(TRUE, seen.local, 0.0, 0.0, 0.0, np.zeros(2), 600.0)
        views = [view(f"{i}.jpg", straight, BOARD, seen, rng) for i in range(3)]
        try:
            result = calibrate_views(views, [], BOARD)
        except SceneError:
            return
        assert result.judgement.level == "not good enough"
        assert "focal length" in result.judgement.sentence
        # square-on photos say nothing about f, and that is what its uncertainty says
        assert result.record.u[0] > 0.02 * TRUE.f


def drawn_board(blur: float) -> NDArray[np.uint8]:
    """A 12 Mpx photo of a 9x6 chessboard, square on."""
    row, column = np.indices((7, 10))
    cells = np.where((row + column) % 2 == 0, 20, 230).astype(np.uint8)
    board = np.kron(cells, np.ones((280, 280), np.uint8))
    photo = np.full((3024, 4032), 200, np.uint8)
    photo[500 : 500 + board.shape[0], 600 : 600 + board.shape[1]] = board
    return np.asarray(cv2.GaussianBlur(photo, (0, 0), blur), dtype=np.uint8)


def test_two_phones_are_not_mixed(tmp_path: Path) -> None:
    """Through real files with EXIF, as a user would."""
    from PIL import Image
    from PIL.ExifTags import Base

    paths = []
    for model in ("Lantern 3", "Lantern 4"):
        exif = Image.Exif()
        exif[Base.Make], exif[Base.Model] = "Cedar", model
        path = tmp_path / f"{model[-1]}.jpg"
        picture = Image.fromarray(drawn_board(blur=1.0 + 0.1 * len(paths)))
        picture.convert("RGB").save(path, exif=exif, quality=90)
        paths.append(path)
    with pytest.raises(InputError, match=r"3\.jpg and 4\.jpg"):
        calibrate(paths, board_target(Chessboard(9, 6, 25.0)))


def test_the_same_photos_give_the_same_record() -> None:
    from profiler.jobs.lenses import lens_text

    one, two = (calibrate_views(good_views(4), [], BOARD).record for _ in range(2))
    assert lens_text(one) == lens_text(two)
    assert lens_text(replace(one, name="other")) != lens_text(two)
