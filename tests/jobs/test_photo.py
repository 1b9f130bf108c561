"""Opening photos: every kind of file, orientation undone, and each way in which one can be bad."""

from __future__ import annotations

import hashlib
import io
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from profiler.errors import InputError
from profiler.findings import Level
from profiler.jobs import photo_errors as errors
from profiler.jobs.exposure import PhotoHopeless, check_exposure, exposure_findings
from profiler.jobs.imagefile import jpeg_is_whole
from profiler.jobs.photo import check_same_phone, open_photo
from profiler.jobs.turning import sensor_side_up, upright

W, H = 1600, 1200


@pytest.fixture(scope="module")
def scene() -> NDArray[np.uint8]:
    """(H, W, 3) BGR: a different colour in each corner, so that no turning is missed."""
    corners = np.array(
        [[[220, 30, 30], [30, 220, 30]], [[30, 30, 220], [200, 200, 60]]], dtype=np.uint8
    )
    return np.asarray(cv2.resize(corners, (W, H), interpolation=cv2.INTER_LINEAR), np.uint8)


def exif_block(
    orientation: int = 1,
    size: tuple[int, int] | None = None,
    zoom: float | None = None,
    make: str = "Kiekkula",
    model: str = "Kiekkula K2",
    focal: float = 5.1,
) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = make
    exif[0x0110] = model
    detail = exif.get_ifd(0x8769)
    detail[0x920A] = focal
    detail[0xA405] = 26
    detail[0x9003] = "2026:05:04 10:11:12"
    if size:
        detail[0xA002], detail[0xA003] = size
    if zoom:
        detail[0xA404] = zoom
    return exif


def saved(path: Path, pixels: NDArray[np.uint8], **options: Any) -> Path:
    mode = options.pop("mode", None)
    picture = Image.fromarray(np.ascontiguousarray(pixels[:, :, ::-1]))
    (picture.convert(mode) if mode else picture).save(path, **options)
    return path


def close(pixels: NDArray[np.uint8], other: NDArray[np.uint8]) -> bool:
    if pixels.shape != other.shape:
        return False
    return float(np.abs(pixels.astype(int) - other.astype(int)).mean()) < 2.5


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_orientation_is_noted_and_not_applied(
    tmp_path: Path, scene: NDArray[np.uint8], suffix: str, orientation: int
) -> None:
    path = saved(tmp_path / f"p.{suffix}", scene, exif=exif_block(orientation, (W, H)))
    photo = open_photo(path)
    assert close(photo.pixels, scene)
    assert photo.orientation == orientation
    assert (photo.width, photo.height) == (W, H)
    assert photo.pixels.flags.c_contiguous and photo.pixels.dtype == np.uint8


@pytest.mark.parametrize("orientation", range(1, 9))
def test_upright_agrees_with_pillow(scene: NDArray[np.uint8], orientation: int) -> None:
    """Pillow's own reading of EXIF orientation is the outside source."""
    from PIL import ImageOps

    picture = Image.fromarray(scene)
    picture.getexif()[0x0112] = orientation
    turned = np.asarray(ImageOps.exif_transpose(picture))
    assert np.array_equal(upright(scene, orientation), turned)
    assert np.array_equal(sensor_side_up(upright(scene, orientation), orientation), scene)


def test_notes_are_read(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    path = saved(tmp_path / "p.jpg", scene, exif=exif_block(6, (W, H), 1.0), quality=95)
    photo = open_photo(path)
    assert (photo.make, photo.model, photo.phone) == ("Kiekkula", "Kiekkula K2", "Kiekkula K2")
    assert (photo.focal_mm, photo.focal35_mm, photo.digital_zoom) == (5.1, 26.0, 1.0)
    assert (photo.exif_width, photo.exif_height) == (W, H)
    assert photo.datetime == "2026:05:04 10:11:12"
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (photo.reduced_by, photo.cropped, photo.name) == (1, False, "p.jpg")


def test_a_photo_without_notes(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    photo = open_photo(saved(tmp_path / "p.jpg", scene))
    assert (photo.make, photo.phone, photo.orientation) == ("", "", 1)
    assert photo.focal_mm is photo.focal35_mm is photo.exif_width is None


def test_damaged_notes_read_as_none(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    whole = saved(tmp_path / "p.jpg", scene, exif=exif_block(1, (W, H))).read_bytes()
    start = whole.index(b"Exif\0\0") + 14
    path = tmp_path / "q.jpg"
    path.write_bytes(whole[:start] + b"\xee" * 60 + whole[start + 60 :])
    photo = open_photo(path)
    assert close(photo.pixels, scene) and photo.orientation in range(1, 9)


@pytest.mark.parametrize(
    ("suffix", "options"),
    [
        ("jpg", {"progressive": True, "quality": 95}),
        ("jpg", {"quality": 95, "subsampling": 0, "restart_marker_blocks": 8}),
        ("jpeg", {"mode": "CMYK", "quality": 97}),
        ("png", {"mode": "RGBA"}),
        ("png", {"mode": "P"}),
        ("tif", {"compression": "tiff_lzw"}),
        ("tif", {"compression": "tiff_adobe_deflate"}),
    ],
)
def test_flavours(
    tmp_path: Path, scene: NDArray[np.uint8], suffix: str, options: dict[str, Any]
) -> None:
    photo = open_photo(saved(tmp_path / f"p.{suffix}", scene, **options))
    assert photo.pixels.shape == scene.shape
    spread = np.abs(photo.pixels.astype(int) - scene.astype(int)).mean()
    assert spread < (25 if options.get("mode") == "P" else 2.5)  # a palette of few colours


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_gray(tmp_path: Path, scene: NDArray[np.uint8], suffix: str) -> None:
    photo = open_photo(saved(tmp_path / f"p.{suffix}", scene, mode="L"))
    assert photo.pixels.shape == (H, W, 3)
    assert np.array_equal(photo.pixels[:, :, 0], photo.pixels[:, :, 2])


@pytest.mark.parametrize("suffix", ["png", "tiff"])
@pytest.mark.parametrize("channels", [1, 3])
def test_sixteen_bits_become_eight(
    tmp_path: Path, scene: NDArray[np.uint8], suffix: str, channels: int
) -> None:
    deep = scene.astype(np.uint16) * 257
    path = tmp_path / f"p.{suffix}"
    path.write_bytes(cv2.imencode(f".{suffix}", deep if channels == 3 else deep[:, :, 0])[1])
    photo = open_photo(path)
    expected = scene if channels == 3 else np.repeat(scene[:, :, :1], 3, axis=2)
    assert np.abs(photo.pixels.astype(int) - expected).max() <= 1


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_a_sixteen_bit_tiff_that_is_turned(
    tmp_path: Path, scene: NDArray[np.uint8], orientation: int
) -> None:
    import tifffile

    path = tmp_path / "p.tif"
    tifffile.imwrite(
        path,
        scene[:, :, ::-1].astype(np.uint16) * 257,
        photometric="rgb",
        extratags=[(274, "H", 1, orientation, True)],
    )
    photo = open_photo(path)
    assert photo.orientation == orientation
    assert close(photo.pixels, scene)


def test_a_very_large_jpeg_is_halved(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    big = cv2.resize(scene, (9001, 6000), interpolation=cv2.INTER_LINEAR)
    path = tmp_path / "p.jpg"
    path.write_bytes(cv2.imencode(".jpg", big)[1])
    photo = open_photo(path)
    assert (photo.width, photo.height, photo.reduced_by) == (4501, 3000, 2)
    assert close(photo.pixels, np.asarray(cv2.resize(scene, (4501, 3000)), np.uint8))


def test_a_large_png_is_halved_too(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    big = cv2.resize(scene, (9001, 6000), interpolation=cv2.INTER_NEAREST)
    path = tmp_path / "p.png"
    path.write_bytes(cv2.imencode(".png", big)[1])
    assert open_photo(path).pixels.shape == (3000, 4501, 3)


def png_header(width: int, height: int) -> bytes:
    """A PNG that promises far more than it holds."""
    import zlib

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def test_a_bomb_is_refused_by_its_header(tmp_path: Path) -> None:
    path = tmp_path / "bomb.png"
    path.write_bytes(png_header(60_000, 60_000))
    with pytest.raises(errors.PhotoTooLarge) as caught:
        open_photo(path)
    assert caught.value.width == 60_000


def test_phones_append_after_the_picture(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    """A moving photo has a short film behind the picture's end."""
    path = saved(tmp_path / "p.jpg", scene, exif=exif_block())
    path.write_bytes(path.read_bytes() + b"\0\0\0\x18ftypmp42" + b"\xff\xd8" * 400)
    assert close(open_photo(path).pixels, scene)


def test_the_end_of_a_thumbnail_is_not_the_end(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    thumbnail = cv2.imencode(".jpg", scene[::20, ::20])[1].tobytes()
    whole = saved(tmp_path / "p.jpg", scene).read_bytes()
    app = b"Thumb\0" + thumbnail
    with_thumbnail = whole[:2] + b"\xff\xe4" + struct.pack(">H", len(app) + 2) + app + whole[2:]
    assert jpeg_is_whole(with_thumbnail)
    assert not jpeg_is_whole(with_thumbnail[: len(with_thumbnail) // 2])


Maker = Callable[[Path, NDArray[np.uint8]], Path]


def cut(suffix: str, share: float, **options: Any) -> Maker:
    def make(folder: Path, scene: NDArray[np.uint8]) -> Path:
        path = saved(folder / f"cut.{suffix}", scene, **options)
        data = path.read_bytes()
        path.write_bytes(data[: int(len(data) * share)])
        return path

    return make


def content(name: str, data: bytes) -> Maker:
    def make(folder: Path, scene: NDArray[np.uint8]) -> Path:
        path = folder / name
        path.write_bytes(data)
        return path

    return make


def folder(parent: Path, scene: NDArray[np.uint8]) -> Path:
    (parent / "photos").mkdir()
    return parent / "photos"


def padded(parent: Path, scene: NDArray[np.uint8]) -> Path:
    """A broken download: the right size, with nothing in its second half."""
    path = saved(parent / "p.jpg", scene)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2] + bytes(len(data) - len(data) // 2))
    return path


def little(parent: Path, scene: NDArray[np.uint8]) -> Path:
    return saved(parent / "small.jpg", scene[::2, ::2])


def cropped(parent: Path, scene: NDArray[np.uint8]) -> Path:
    return saved(parent / "crop.jpg", scene, exif=exif_block(size=(4000, 3000)))


def zoomed(parent: Path, scene: NDArray[np.uint8]) -> Path:
    return saved(parent / "zoom.jpg", scene, exif=exif_block(size=(W, H), zoom=1.54))


BAD: list[tuple[str, Maker, type[errors.PhotoError], str]] = [
    ("missing", lambda parent, scene: parent / "no.jpg", errors.PhotoMissing, "no file"),
    ("below a file", lambda p, s: little(p, s) / "x.jpg", errors.PhotoUnreadable, "cannot be"),
    ("folder", folder, errors.PhotoIsFolder, "is a folder"),
    ("empty", content("e.jpg", b""), errors.PhotoEmpty, "empty"),
    ("cut jpeg", cut("jpg", 0.7), errors.PhotoTruncated, "ends before"),
    ("cut jpeg end", cut("jpg", 0.999), errors.PhotoTruncated, "ends before"),
    ("cut progressive", cut("jpg", 0.7, progressive=True), errors.PhotoTruncated, "ends before"),
    ("padded jpeg", padded, errors.PhotoTruncated, "ends before"),
    ("head of a jpeg", content("h.jpg", b"\xff\xd8\xff\xe0"), errors.PhotoTruncated, "ends"),
    ("cut png", cut("png", 0.7), errors.PhotoTruncated, "ends before"),
    ("cut tiff", cut("tif", 0.7), errors.PhotoTruncated, "ends before"),
    ("cut packed tiff", cut("tif", 0.7, compression="tiff_lzw"), errors.PhotoTruncated, "ends"),
    ("text", content("t.jpg", b"not a picture\n" * 99), errors.NotAPhoto, "not a picture"),
    ("raw", content("r.DNG", b"II*\0" + bytes(99)), errors.PhotoFormatUnsupported, "raw"),
    ("raw cr2", content("r.jpg", b"II*\0\x10\0\0\0CR\2\0"), errors.PhotoFormatUnsupported, "raw"),
    ("video", content("v.jpg", b"\0\0\0\x18ftypmp42"), errors.PhotoFormatUnsupported, "video"),
    ("gif", content("g.jpg", b"GIF89a" + bytes(99)), errors.PhotoFormatUnsupported, "GIF"),
    ("small", little, errors.PhotoTooSmall, "800 x 600"),
    ("cropped", cropped, errors.PhotoCropped, "4000 x 3000"),
    ("zoomed", zoomed, errors.PhotoZoomed, "1.54"),
]


@pytest.mark.parametrize(("make", "error", "words"), [b[1:] for b in BAD], ids=[b[0] for b in BAD])
def test_bad_photos(
    tmp_path: Path,
    scene: NDArray[np.uint8],
    make: Maker,
    error: type[errors.PhotoError],
    words: str,
) -> None:
    path = make(tmp_path, scene)
    with pytest.raises(error, match=words) as caught:
        open_photo(path)
    assert isinstance(caught.value, InputError) and caught.value.exit_code == 3
    assert caught.value.path == path and path.name in str(caught.value)


def test_a_photo_that_may_not_be_read(
    tmp_path: Path, scene: NDArray[np.uint8], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    path = saved(tmp_path / "p.jpg", scene)
    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(errors.PhotoUnreadable, match="not allowed"):
        open_photo(path)


@pytest.mark.parametrize("make", [cropped, zoomed])
def test_cropped_photos_can_be_taken_knowingly(
    tmp_path: Path, scene: NDArray[np.uint8], make: Maker
) -> None:
    assert open_photo(make(tmp_path, scene), allow_crop=True).cropped


def test_a_turned_note_of_the_size_is_no_crop(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    path = saved(tmp_path / "p.jpg", scene, exif=exif_block(6, (H, W)))
    assert not open_photo(path).cropped


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"make": "Nirppa", "model": "N1"}, "Nirppa N1"),
        ({"focal": 2.2}, "focal length"),
        ({"size": (W, H), "zoom": 1.01}, "zoom"),
    ],
)
def test_two_phones_in_one_job(
    tmp_path: Path, scene: NDArray[np.uint8], other: dict[str, Any], words: str
) -> None:
    one = open_photo(saved(tmp_path / "a.jpg", scene, exif=exif_block()))
    same = open_photo(saved(tmp_path / "b.jpg", scene, exif=exif_block(6)))
    two = open_photo(saved(tmp_path / "c.jpg", scene, exif=exif_block(**other)))
    check_same_phone([one, same])
    with pytest.raises(errors.MixedPhones, match=words):
        check_same_phone([one, same, two])


def test_two_sizes_in_one_job(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    one = open_photo(saved(tmp_path / "a.jpg", scene))
    two = open_photo(saved(tmp_path / "b.jpg", scene[:, : W - 100]))
    with pytest.raises(errors.MixedPhones, match="1500 x 1200"):
        check_same_phone([one, two])


def checks() -> NDArray[np.uint8]:
    gray = np.full((600, 800), 190, dtype=np.uint8)
    gray[::2, :200] = 20
    return gray


def test_good_light_has_no_remark() -> None:
    assert exposure_findings(checks()) == ()
    check_exposure(Path("p.jpg"), checks())


@pytest.mark.parametrize(
    ("gray", "code", "level", "hopeless"),
    [
        (np.where(np.arange(800) < 200, 255, checks()), 101, Level.CAUTION, False),
        (np.where(np.arange(800) < 400, 255, checks()), 101, Level.DOUBT, False),
        (np.full((600, 800), 255), 101, Level.DOUBT, True),
        (checks() // 2, 102, Level.CAUTION, False),
        (checks() // 3, 102, Level.DOUBT, False),
        (checks() // 9, 102, Level.DOUBT, True),
        (np.full((600, 800), 150), 103, Level.DOUBT, True),
    ],
)
def test_bad_light(gray: NDArray[Any], code: int, level: Level, hopeless: bool) -> None:
    gray = gray.astype(np.uint8)
    (finding,) = exposure_findings(gray)
    assert (finding.code, finding.level) == (code, level)
    if hopeless:
        with pytest.raises(PhotoHopeless, match=r"p\.jpg"):
            check_exposure(Path("p.jpg"), gray)
    else:
        check_exposure(Path("p.jpg"), gray)


def test_the_original_is_not_touched(tmp_path: Path, scene: NDArray[np.uint8]) -> None:
    path = saved(tmp_path / "p.jpg", scene)
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    open_photo(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert [p.name for p in tmp_path.iterdir()] == ["p.jpg"]


def test_reading_notes_does_not_decode_twice(
    tmp_path: Path, scene: NDArray[np.uint8], monkeypatch: pytest.MonkeyPatch
) -> None:
    from PIL import ImageFile

    def refuse(self: ImageFile.ImageFile) -> None:
        raise AssertionError("Pillow decoded the picture")

    paths = [saved(tmp_path / f"p.{s}", scene, exif=exif_block(6)) for s in ("jpg", "png", "tif")]
    monkeypatch.setattr(ImageFile.ImageFile, "load", refuse)
    for path in paths:
        assert open_photo(path).orientation == 6


def test_nothing_is_heard_of_a_decoder(capfd: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A damaged file leads to one sentence, not to a decoder's muttering."""
    buffer = io.BytesIO()
    Image.new("RGB", (W, H), "teal").save(buffer, "TIFF")
    path = tmp_path / "p.tif"
    path.write_bytes(buffer.getvalue()[: W * H])
    with pytest.raises(errors.PhotoTruncated):
        open_photo(path)
    assert capfd.readouterr() == ("", "")
