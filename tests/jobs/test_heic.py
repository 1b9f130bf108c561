"""HEIC: turned back to the sensor, EXIF read; real phone files where they can be fetched."""

from __future__ import annotations

import io
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps

from profiler.jobs import photo_errors as errors
from profiler.jobs.heic import open_heic
from profiler.jobs.photo import open_photo
from profiler.jobs.turning import upright

W, H = 1600, 1200


@pytest.fixture(scope="module")
def scene() -> NDArray[np.uint8]:
    corners = np.array([[[200, 60, 60], [60, 200, 60]], [[60, 60, 200], [160, 160, 60]]], np.uint8)
    return np.asarray(cv2.resize(corners, (W, H), interpolation=cv2.INTER_LINEAR), np.uint8)


def heic(scene: NDArray[np.uint8], orientation: int = 1, **options: object) -> bytes:
    """What a phone writes: the sensor's picture, a rotation in the file and EXIF that agrees."""
    picture = Image.fromarray(np.ascontiguousarray(scene[:, :, ::-1]))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x0110] = "Kiekkula K2"
    detail = exif.get_ifd(0x8769)
    detail[0xA002], detail[0xA003] = W, H
    file = pillow_heif.from_pillow(picture)
    file.info["exif"] = exif.tobytes()
    buffer = io.BytesIO()
    file.save(buffer, quality=90, **options)
    return buffer.getvalue()


def close(pixels: NDArray[np.uint8], other: NDArray[np.uint8]) -> bool:
    if pixels.shape != other.shape:
        return False
    return float(np.abs(pixels.astype(int) - other.astype(int)).mean()) < 3


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_rotation_in_the_file_is_undone(
    tmp_path: Path, scene: NDArray[np.uint8], orientation: int
) -> None:
    path = tmp_path / "p.heic"
    path.write_bytes(heic(scene, orientation))
    seen = pillow_heif.open_heif(path).size  # the encoder really wrote a rotation
    assert seen == ((H, W) if orientation >= 5 else (W, H))
    photo = open_photo(path)
    assert close(photo.pixels, scene)
    assert photo.orientation == orientation
    assert photo.model == "Kiekkula K2"
    assert photo.pixels.flags.c_contiguous


def test_exif_that_disagrees_with_the_file_gives_way(
    tmp_path: Path, scene: NDArray[np.uint8]
) -> None:
    """Some programs turn the file and leave EXIF as it was; the decoder follows the file."""
    data = heic(scene, 6)
    at = data.index(b"\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06")  # the tag, big-endian
    path = tmp_path / "p.heic"
    path.write_bytes(data[: at + 9] + b"\x01" + data[at + 10 :])
    photo = open_photo(path)
    assert close(photo.pixels, scene) and photo.orientation == 6


def test_gray_heic(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    path = tmp_path / "p.heic"
    gray = Image.fromarray(scene[:, :, 0])
    pillow_heif.from_pillow(gray).save(path, quality=90)
    photo = open_photo(path)
    assert close(photo.pixels, np.repeat(scene[:, :, :1], 3, axis=2))


@pytest.mark.parametrize("share", [0.01, 0.3, 0.9])
def test_a_cut_heic(tmp_path: Path, scene: NDArray[np.uint8], share: float) -> None:
    data = heic(scene)
    path = tmp_path / "p.heic"
    path.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(errors.PhotoTruncated):
        open_photo(path)


def test_the_library_is_only_loaded_for_heic(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    path = tmp_path / "p.png"
    cv2.imwrite(str(path), scene)
    program = (
        "import sys; from pathlib import Path; from profiler.jobs.photo import open_photo;"
        f"open_photo(Path({str(path)!r})); print('pillow_heif' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert run.stdout.strip() == "False", run.stderr


@pytest.fixture(scope="module")
def real_photos(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Photos in the source package of pillow-heif 1.8.1 (BSD-3-Clause), tests/images."""
    folder = tmp_path_factory.mktemp("heic")
    fetch = subprocess.run(
        [
            *(sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"),
            *("--no-binary", ":all:", "--dest", str(folder), "pillow-heif==1.8.1"),
        ],
        capture_output=True,
        text=True,
        timeout=300,
    )
    archives = list(folder.glob("*.tar.gz"))
    if fetch.returncode or not archives:
        pytest.skip("the source package of pillow-heif cannot be fetched here")
    with tarfile.open(archives[0]) as archive:
        archive.extractall(folder, filter="data")
    yield next(folder.glob("pillow_heif-*/tests/images"))


@pytest.mark.download
def test_a_real_photo_that_was_turned(real_photos: Path) -> None:
    """arrow.heic is a phone photo held upright: the file turns it by 270 degrees, EXIF says 6."""
    path = real_photos / "heif_other" / "arrow.heic"
    photo = open_photo(path)
    assert (photo.width, photo.height, photo.orientation) == (4032, 3024, 6)
    assert (photo.exif_width, photo.exif_height) == (4032, 3024)
    assert (photo.focal_mm, photo.focal35_mm) == (pytest.approx(3.99), 28)
    pillow_heif.register_heif_opener()
    with Image.open(path) as image:
        as_seen = np.asarray(ImageOps.exif_transpose(image).convert("RGB"))[:, :, ::-1]
    assert np.array_equal(upright(photo.pixels, photo.orientation), as_seen)


@pytest.mark.download
def test_a_real_photo_with_a_rotation_of_nothing(real_photos: Path) -> None:
    photo = open_photo(real_photos / "heif_other" / "pug.heic")
    assert (photo.width, photo.height, photo.orientation) == (4032, 3024, 1)


@pytest.mark.download
def test_a_real_photo_that_was_zoomed(real_photos: Path) -> None:
    """xiaomi.heic: DigitalZoomRatio 1.5432, as Pillow and exifread read it."""
    path = real_photos / "heif_special" / "xiaomi.heic"
    with pytest.raises(errors.PhotoZoomed) as caught:
        open_photo(path)
    assert caught.value.zoom == pytest.approx(1.5432)
    photo = open_photo(path, allow_crop=True)
    assert photo.cropped and (photo.width, photo.height) == (2592, 1944)


@pytest.mark.download
def test_a_real_photo_that_was_edited(real_photos: Path) -> None:
    """empty_icc.heic is 1025 x 900 and notes 4032 x 3024; it is below the least size as well."""
    with pytest.raises((errors.PhotoCropped, errors.PhotoTooSmall)):
        open_photo(real_photos / "heif_other" / "empty_icc.heic")


@pytest.mark.download
def test_two_hundred_million_pixels_are_refused_before_decoding(real_photos: Path) -> None:
    with pytest.raises(errors.PhotoTooLarge):
        open_photo(real_photos / "heif_special" / "200MP.heic")


@pytest.mark.download
@pytest.mark.parametrize("name", ["corrupted.heic", "empty.heic"])
def test_damaged_files_of_others(real_photos: Path, name: str) -> None:
    found = next(real_photos.rglob(name))
    with pytest.raises(errors.PhotoError):
        open_photo(found)


@pytest.mark.download
def test_ten_bits_become_eight(real_photos: Path) -> None:
    heic = open_heic((real_photos / "heif" / "RGB_10__128x128.heif").read_bytes())
    pixels = heic.decode()
    assert pixels.dtype == np.uint8 and pixels.shape == (128, 128, 3)
    deep = open_heic((real_photos / "heif" / "L_10__128x128.heif").read_bytes()).decode()
    shallow = open_heic((real_photos / "heif" / "L_8__128x128.heif").read_bytes()).decode()
    assert np.abs(deep.astype(int) - shallow.astype(int)).mean() < 3
