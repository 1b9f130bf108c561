"""The overlay: everything falls where the photo shows it, whatever way the phone was held."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.pipeline.easel import INK, VERMILION, Colour, Easel
from profiler.pipeline.overlay import ENLARGEMENTS, draw_overlay
from profiler.pipeline.overlay_view import instrument_on, marks_on, view_of
from profiler.pipeline.wording import Wording
from tests.made_up import HEIGHTS, MadeUp, made_up, without_doubt

Array = NDArray[np.float64]


@pytest.fixture(scope="module")
def job() -> MadeUp:
    return made_up()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_photo_and_mat_meet_in_the_overlay(job: MadeUp, orientation: int) -> None:
    """Two ways round: through the lens and out again, and straight through the pinhole."""
    view = view_of(job.scene, orientation, job.edge_pixels)
    places = np.array([[100.0, 100.0, 0.0], [600.0, 350.0, 70.0], [385.0, 235.0, 0.0]])
    through_photo = view.from_photo(job.scene.cameras[0].project(places))
    assert np.allclose(through_photo, view.from_mat(places), atol=0.01)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_picture_shows_things_where_the_view_says(job: MadeUp, orientation: int) -> None:
    """A bright dot in the photo is found in the overlay by its brightness."""
    view = view_of(job.scene, orientation, job.edge_pixels)
    for place in ([120.0, 120.0, 0.0], [650.0, 330.0, 0.0]):
        at = job.scene.cameras[0].project(np.array([place]))
        pixels = np.zeros((1200, 1600, 3), dtype=np.uint8)
        centre = tuple(int(v) for v in np.round(at[0] * 16))
        cv2.circle(pixels, centre, 6 * 16, (255, 255, 255), cv2.FILLED, cv2.LINE_AA, 4)
        picture = view.picture(pixels)
        assert picture.shape[1::-1] == view.size
        weight = picture[:, :, 0].astype(float)
        y, x = np.indices(weight.shape)
        found = np.array([(x * weight).sum(), (y * weight).sum()]) / weight.sum()
        assert np.allclose(found, view.from_photo(at)[0], atol=0.25)


def test_the_view_holds_the_mat_and_the_instrument(job: MadeUp) -> None:
    view = view_of(job.scene, 1, job.edge_pixels)
    corners = np.array(
        [[0.0, 0.0, 0.0], [job.scene.sheets[-1].mat_from_panel.translation[0], 0, 0]]
    )
    shown = np.vstack([view.from_mat(corners), view.from_photo(job.edge_pixels)])
    assert (shown >= 0).all() and (shown <= np.array(view.size) - 1).all()


def test_stations_and_centreline_lie_on_the_instrument(job: MadeUp) -> None:
    view = view_of(job.scene, 6, job.edge_pixels)
    seen = instrument_on(view, job.measurement, job.edge_pixels)
    assert set(seen.stations) == {"lower_bout", "waist", "headstock"}
    body = job.measurement.frame.to_mat(np.array([[0.0, 0.0]]))[0]
    tail = view.from_mat(np.array([[*body, HEIGHTS["body"]]]))[0]
    assert np.allclose(seen.centreline[0], tail, atol=0.01)
    ends, width = seen.stations["lower_bout"]
    drawn = float(np.hypot(*(ends[1] - ends[0]))) / seen.px_per_mm
    assert drawn == pytest.approx(width, rel=0.01)
    outline = seen.outline
    for end in ends:
        assert np.hypot(*(outline - end).T).min() < 3


def test_doubt_falls_on_the_doubtful_part(job: MadeUp) -> None:
    view = view_of(job.scene, 1, job.edge_pixels)
    seen = instrument_on(view, job.measurement, job.edge_pixels)
    tuners = np.array([part == "tuners" for part in job.measurement.outline_part])
    assert np.mean(seen.doubtful == tuners) > 0.98


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_residuals_point_from_predicted_to_seen(job: MadeUp, orientation: int) -> None:
    view = view_of(job.scene, orientation, job.edge_pixels)
    marks = marks_on(view, job.scene)
    seen = job.scene.observations[0]
    predicted = view.from_photo(seen.pixels - job.scene.residuals)
    drawn = marks.points - predicted
    scale = view.pinhole.f / view.camera.lens.f
    # undistorting stretches a residual by a few percent
    assert np.allclose(drawn, scale * marks.residuals, rtol=0.15, atol=0.03)


def near(picture: NDArray[np.uint8], colour: Colour) -> NDArray[np.bool_]:
    return np.asarray(
        np.abs(picture[:, :, ::-1].astype(int) - np.array(colour)).max(axis=2) < 60, dtype=bool
    )


@pytest.fixture
def recorded(monkeypatch: pytest.MonkeyPatch) -> dict[str, list[Any]]:
    """What is put onto the easel."""
    calls: dict[str, list[Any]] = {"cased": [], "arrows": [], "text": [], "frame": []}
    for name, seen in calls.items():
        real = getattr(Easel, name)

        def spy(
            self: Easel, *args: Any, _real: Any = real, _seen: list[Any] = seen, **more: Any
        ) -> Any:
            _seen.append(args)
            return _real(self, *args, **more)

        monkeypatch.setattr(Easel, name, spy)
    return calls


def drawn(job: MadeUp, **change: Any) -> bytes:
    measurement = change.get("measurement", job.measurement)
    orientation = change.get("orientation", 1)
    return draw_overlay(
        job.photo.pixels,
        change.get("scene", job.scene),
        measurement,
        job.edge_pixels,
        orientation,
        change.get("wording", Wording("Räkkä")),
        "top-1.jpg",
    )


@pytest.mark.parametrize("orientation", [1, 6])
def test_the_edge_is_drawn_where_it_was_seen(
    job: MadeUp, recorded: dict[str, list[Any]], orientation: int
) -> None:
    picture = cv2.imdecode(np.frombuffer(drawn(job, orientation=orientation), np.uint8), 1)
    top, _, side = recorded["frame"][0]
    view = view_of(job.scene, orientation, job.edge_pixels)
    assert picture.shape[1] == view.size[0] + 2 * side
    seen = instrument_on(view, job.measurement, job.edge_pixels)
    for colour, part in ((INK, ~seen.doubtful), (VERMILION, seen.doubtful)):
        there = near(np.asarray(picture, np.uint8), colour)
        thick = cv2.dilate(there.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        places = np.round(seen.outline[part] + [side, top]).astype(int)
        hit = thick[places[:, 1], places[:, 0]].mean()
        # tags and station lines cover a little of it
        assert hit > 0.85, (colour, hit)


def test_words_on_the_overlay(job: MadeUp, recorded: dict[str, list[Any]]) -> None:
    drawn(job)
    words = [call[2] for call in recorded["text"]]
    assert "Räkkä" in words and "seen in top-1.jpg" in words
    assert f"length {job.measurement.length.value:.1f} mm" in words
    assert "waist 154.2 mm" in words
    assert "1 doubt: read the summary before you cut" in words
    assert f"rms of that: {job.scene.rms:.2f} px of the photo" in words
    assert "printed point set aside (1)" in words


def test_tags_in_inches(job: MadeUp, recorded: dict[str, list[Any]]) -> None:
    """154.2 mm is 6.0709 in: 6 1/16 to the nearest sixteenth."""
    drawn(job, wording=Wording(units="in", inch_step=16))
    assert "waist 6 1/16 in" in [call[2] for call in recorded["text"]]


def test_nothing_to_warn_of(job: MadeUp, recorded: dict[str, list[Any]]) -> None:
    drawn(job, measurement=without_doubt(job.measurement))
    assert "no warnings" in [call[2] for call in recorded["text"]]


def test_the_enlargement_is_the_one_that_is_written(
    job: MadeUp, recorded: dict[str, list[Any]]
) -> None:
    drawn(job)
    (words,) = [c[2] for c in recorded["text"] if str(c[2]).startswith("what the solution")]
    enlarged = int(words.split("enlarged ")[1].split()[0])
    assert enlarged in ENLARGEMENTS
    lengths = np.hypot(*recorded["arrows"][0][1].T)  # the next is the legend's
    residuals = np.hypot(*job.scene.residuals[job.scene.used].T)
    assert np.allclose(sorted(lengths), sorted(residuals * enlarged))
    assert 8 < np.median(lengths) < 60


def test_a_perfect_scene_can_be_drawn(job: MadeUp) -> None:
    scene = replace(job.scene, residuals=np.zeros_like(job.scene.residuals), rms=0.0)
    assert drawn(job, scene=scene)


def test_the_same_overlay_has_the_same_bytes(job: MadeUp) -> None:
    assert drawn(job) == drawn(job)


def test_tags_do_not_cover_each_other() -> None:
    easel = Easel(np.zeros((400, 600, 3), dtype=np.uint8))
    places = [np.array([300.0, 100.0 + 40 * i]) for i in range(4)]
    for _ in range(4):
        easel.tag(places, "lower bout 224.4 mm", 16)
    boxes = easel._tags
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def heading(job: MadeUp, name: str, photo: str) -> NDArray[np.uint8]:
    """The top of the overlay, decoded."""
    coded = draw_overlay(
        job.photo.pixels,
        job.scene,
        job.measurement,
        job.edge_pixels,
        wording=Wording(name),
        photo=photo,
    )
    return np.asarray(cv2.imdecode(np.frombuffer(coded, np.uint8), cv2.IMREAD_COLOR)[:40], np.uint8)


@pytest.mark.parametrize("name", ["x" * 10_000, "\x1b[31m\n\t\0" * 40, "🎻 <b>" * 400])
def test_names_leave_the_warnings_room(job: MadeUp, name: str) -> None:
    """The count of doubts at the right end of the heading is what must be read."""
    usual, odd = heading(job, "Lute", "a.jpg"), heading(job, name, f"{name}.jpg")
    assert usual.shape == odd.shape
    right = usual.shape[1] * 4 // 5
    assert np.abs(usual[:, right:].astype(int) - odd[:, right:]).max() < 12  # JPEG's own noise
