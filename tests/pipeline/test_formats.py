"""The same picture in another wrapping gives the same numbers.

Kept without loss, the pixels are the same and so must every number be. Turned in the file, with the
EXIF orientation that turns them back (CIPA DC-008, 0x0112), only the last digits may differ. Coded
anew as JPEG the picture has other noise, and less than the stated uncertainty may come of it.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image

from profiler.instrument.record import Measurement
from profiler.jobs.records import cards_record, mat_record, record_bytes
from profiler.jobs.turning import sensor_side_up
from profiler.optics.camera import Pose
from profiler.optics.lens import Lens
from profiler.paper import PAPERS
from profiler.pipeline.job import JobWishes, run_job
from profiler.target.mat import design_mat
from tests.painter import Slab, camera_over, paint, small_four_string

DESIGN = design_mat(PAPERS["A3"])
LENS = Lens(2400, 1800, 1880.0, 1199.5, 899.5)
HEIGHTS = {"body": 70.0, "neck": 64.0, "headstock": 55.0}
#: what a turned picture may do to a length or width, mm
TURNED_MM = 0.05


@dataclass(frozen=True)
class Bench:
    """A folder with a painted JPEG and its records.

    Attributes:
        pixels: (H, W, 3) RGB of that JPEG.
        plans: (N, 2) mm each, what was painted.
    """

    folder: Path
    pixels: NDArray[np.uint8]
    plans: tuple[NDArray[np.float64], ...]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    folder = tmp_path_factory.mktemp("formats")
    plans = small_four_string()
    place = np.array([80.0, 225.0])
    slabs = [
        Slab(plans[part] + place, 0.0 if part == "body" else top - 12, top)
        for part, top in HEIGHTS.items()
    ]
    cards = [
        (k, Pose(np.eye(3), np.array([place[0] + 95, place[1] + y, 70.2])))
        for k, y in enumerate((40.0, -75.0))
    ]
    painted = paint(camera_over(385.0, 230.0, 1080.0, LENS), DESIGN, slabs, cards)
    Image.fromarray(np.ascontiguousarray(painted[:, :, ::-1])).save(
        folder / "plain.jpg", quality=93
    )
    bars = DESIGN.bar_x.length, DESIGN.bar_y.length
    (folder / "mat.json").write_bytes(record_bytes(mat_record(DESIGN, *bars)))
    (folder / "cards.json").write_bytes(record_bytes(cards_record(170.0, 220.0)))
    decoded = cv2.imread(str(folder / "plain.jpg"), cv2.IMREAD_COLOR)
    shown = tuple(plans[part] for part in HEIGHTS)
    return Bench(folder, np.ascontiguousarray(decoded[:, :, ::-1]), shown)


@cache
def measured(photo: Path) -> Measurement:
    typed = {"neck": (64.0, 1.0), "headstock": (55.0, 1.0)}
    return run_job(JobWishes(photos=(photo,), heights=typed)).measurement


def numbers(measurement: Measurement) -> dict[str, float | None]:
    """Every length and width by name."""
    named = {"length": measurement.length, "width": measurement.width, **measurement.widths}
    return {name: quantity.value for name, quantity in named.items()}


def exif(orientation: int) -> bytes:
    notes = Image.Exif()
    notes[0x0112] = orientation
    return notes.tobytes()


def png(path: Path, pixels: NDArray[np.uint8], orientation: int = 1) -> None:
    Image.fromarray(pixels).save(path, exif=exif(orientation), compress_level=1)


def tiff(path: Path, pixels: NDArray[np.uint8]) -> None:
    Image.fromarray(pixels).save(path, compression="tiff_lzw", exif=exif(1))


def heic(path: Path, pixels: NDArray[np.uint8]) -> None:
    file = pillow_heif.from_pillow(Image.fromarray(pixels))
    # without loss: no chroma thinning, and RGB kept as it is (ITU-T H.273, matrix 0)
    file.save(
        path,
        quality=-1,
        chroma=444,
        matrix_coefficients=0,
        enc_params={"preset": "ultrafast"},
    )


def jpeg(path: Path, pixels: NDArray[np.uint8], orientation: int) -> None:
    options = {"quality": 98, "subsampling": 0, "exif": exif(orientation)}
    Image.fromarray(pixels).save(path, **options)


def test_the_painting_is_measured_well(bench: Bench) -> None:
    """Else agreement would say little."""
    length, width = (np.ptp(np.vstack(list(bench.plans)), axis=0)).tolist()
    seen = measured(bench.folder / "plain.jpg")
    assert seen.length.value == pytest.approx(length, abs=seen.length.u95)
    assert seen.width.value == pytest.approx(width, abs=seen.width.u95)


@pytest.mark.parametrize("write, name", [(png, "p.png"), (tiff, "p.tif"), (heic, "p.heic")])
def test_the_same_pixels_give_the_same_numbers(
    bench: Bench, write: Callable[[Path, NDArray[np.uint8]], None], name: str
) -> None:
    write(bench.folder / name, bench.pixels)
    again, first = measured(bench.folder / name), measured(bench.folder / "plain.jpg")
    assert np.array_equal(again.outline, first.outline)
    assert numbers(again) == numbers(first)
    assert (again.length.u95, again.width.u95) == (first.length.u95, first.width.u95)


def test_a_tag_alone_changes_no_number(bench: Bench) -> None:
    """It says how the phone was held; the sensor saw what it saw."""
    path = bench.folder / "tag.png"
    png(path, bench.pixels, 6)
    assert np.array_equal(measured(path).outline, measured(bench.folder / "plain.jpg").outline)


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_a_picture_turned_in_the_file_agrees(bench: Bench, orientation: int) -> None:
    path = bench.folder / f"turned{orientation}.png"
    png(path, sensor_side_up(bench.pixels, orientation), orientation)
    plain = measured(bench.folder / "plain.jpg")
    first = numbers(plain)
    for name, value in numbers(measured(path)).items():
        # which rim of the neck is seen is a decision, and may fall differently
        allowed = plain.widths["nut"].u95 / 2 if name == "nut" else TURNED_MM
        assert value == pytest.approx(first[name], abs=allowed), name


def test_a_picture_turned_and_coded_anew_agrees(bench: Bench) -> None:
    path = bench.folder / "turned.jpg"
    jpeg(path, sensor_side_up(bench.pixels, 6), 6)
    again, first = measured(path), measured(bench.folder / "plain.jpg")
    for name in ("lower_bout", "waist", "upper_bout"):
        seen = again.widths[name].value
        assert seen == pytest.approx(first.widths[name].value, abs=TURNED_MM), name
    assert again.length.value == pytest.approx(first.length.value, abs=0.3 * first.length.u95)
    # where the neck ends is a decision, and may fall differently
    nut = first.widths["nut"]
    assert again.widths["nut"].value == pytest.approx(nut.value, abs=nut.u95)


def test_the_thickness_of_the_cards_counts(bench: Bench, tmp_path: Path) -> None:
    """On cards of 4.2 mm the wood lies 4 mm lower than under those of 0.2 mm."""
    for name in ("plain.jpg", "mat.json"):
        shutil.copy(bench.folder / name, tmp_path)
    (tmp_path / "cards.json").write_bytes(record_bytes(cards_record(170.0, 220.0, 4.2)))
    thin, thick = (
        next(h.height.value for h in measured(folder / "plain.jpg").heights if h.part == "body")
        for folder in (bench.folder, tmp_path)
    )
    # a prior belief about bodies pulls a little
    assert thin - thick == pytest.approx(4.0, abs=0.3)
