"""`profiler measure` as a user meets it: a job folder, or one sentence and nothing written."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pytest
from PIL import Image
from shapely.geometry import Polygon
from shapely.ops import unary_union
from typer.testing import CliRunner, Result

from profiler.cli.main import app
from profiler.geometry.frames import Frame2D
from profiler.jobs.records import cards_record, mat_record, record_bytes
from profiler.jobs.results import read_measurement, schema
from profiler.optics.camera import Pose
from profiler.optics.lens import Lens
from profiler.paper import PAPERS
from profiler.target.mat import design_mat
from tests.painter import Slab, camera_over, paint, small_four_string

runner = CliRunner()
DESIGN = design_mat(PAPERS["A3"])
LENS = Lens(3000, 2250, 2350.0, 1499.5, 1124.5)
#: the short cards are too coarse in a painting of this size, so their parts are typed
TYPED = ["--height", "tuners=48±1", "--height", "neck=64", "--height", "headstock=2 11/64in"]
NAMED = ["--name", "Räkkä", "--customer", "Aalto", "--height", "top=3 1/2in±1/16"]
TOPS = {"body": 70.0, "neck": 64.0, "headstock": 55.0, "tuner": 48.0}
#: a head on a hollow body is tilted, here by 13 degrees about its middle
HEAD_FALLS, HEAD_MIDDLE = 0.23, np.array([[552.0, 0.0]])


@dataclass(frozen=True)
class Bench:
    """A folder with a painted photo and its records."""

    folder: Path
    photo: Path
    length: float
    width: float


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    folder = tmp_path_factory.mktemp("bench")
    frame = Frame2D(0.03, (80.0, 225.0))
    plans = small_four_string()
    slabs = [
        Slab(
            frame.to_mat(plan),
            0.0 if name == "body" else TOPS[part] - 12,
            TOPS[part],
            falls=HEAD_FALLS if part in ("headstock", "tuner") else 0.0,
            level_at=float(frame.to_mat(HEAD_MIDDLE)[0, 0]),
        )
        for name, plan in plans.items()
        for part in [next(p for p in TOPS if name.startswith(p))]
    ]

    def card(x: float, y: float, z: float) -> Pose:
        return Pose(np.eye(3), np.array([*frame.to_mat(np.array([[x, y]]))[0], z]))

    cards = [(0, card(95, 40, 70.2)), (1, card(95, -75, 70.2))]
    camera = camera_over(385.0, 230.0, 1080.0, LENS)
    pixels = paint(camera, DESIGN, slabs, cards)
    photo = folder / "top-1.jpg"
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Kiekkula", "K2"
    exif.get_ifd(0x8769)[0xA405] = 27
    Image.fromarray(np.ascontiguousarray(pixels[:, :, ::-1])).save(photo, quality=93, exif=exif)
    bars = DESIGN.bar_x.length, DESIGN.bar_y.length
    (folder / "mat.json").write_bytes(record_bytes(mat_record(DESIGN, *bars)))
    (folder / "cards.json").write_bytes(record_bytes(cards_record(170.0, 220.0)))
    whole = unary_union([Polygon(p).buffer(0) for p in plans.values()]).bounds
    return Bench(folder, photo, whole[2] - whole[0], whole[3] - whole[1])


def measure(*args: object) -> Result:
    return runner.invoke(app, ["measure", *map(str, args)])


def state(folder: Path) -> dict[str, str]:
    """Every file below a folder with its digest."""
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


@pytest.fixture(scope="module")
def job(bench: Bench, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    folder = tmp_path_factory.mktemp("out") / "job"
    before = state(bench.folder)
    result = measure(bench.photo, "-o", folder, *NAMED, *TYPED)
    assert result.exit_code == 0, result.output
    assert state(bench.folder) == before, "the originals were touched"
    return folder, result


def test_a_job_folder_holds_all_that_was_promised(job: tuple[Path, Result]) -> None:
    folder, _ = job
    assert sorted(p.name for p in folder.iterdir()) == [
        "measurement.json",
        "overlay.jpg",
        "summary.pdf",
    ]
    assert [p.name for p in folder.parent.iterdir()] == ["job"]
    record = json.loads((folder / "measurement.json").read_bytes())
    jsonschema.Draft202012Validator(schema()).validate(record)
    assert record["job"] == {"name": "Räkkä", "customer": "Aalto"}
    assert record["records_used"] == ["mat.json", "cards.json"]
    assert cv2.imread(str(folder / "overlay.jpg")) is not None
    assert (folder / "summary.pdf").read_bytes().startswith(b"%PDF")


def test_the_numbers_are_those_of_the_painted_instrument(
    job: tuple[Path, Result], bench: Bench
) -> None:
    """That the right numbers arrive; how exact they are is for the accuracy table to say."""
    measurement = read_measurement(job[0])
    assert measurement.length.value == pytest.approx(bench.length, abs=3.0)
    assert measurement.width.value == pytest.approx(bench.width, abs=3.0)
    assert measurement.height.value == pytest.approx(88.9)


def test_the_terminal_tells_numbers_records_and_places(
    job: tuple[Path, Result], bench: Bench
) -> None:
    folder, result = job
    length = read_measurement(folder).length.value
    assert f"{length:.1f} ±" in result.stdout
    assert f"mat record: {bench.folder / 'mat.json'}" in result.stdout
    assert "lens record: none found" in result.stdout
    assert f"Written to {folder}" in result.stdout
    assert "Traceback" not in result.output


def test_again_gives_the_same_bytes_and_never_overwrites(
    job: tuple[Path, Result], bench: Bench, tmp_path: Path
) -> None:
    arguments = [bench.photo, "-o", tmp_path / "again", *NAMED, *TYPED]
    assert measure(*arguments).exit_code == 0
    assert state(tmp_path / "again") == state(job[0])

    for name in ("template.pdf", "overlay-side.jpg"):
        (tmp_path / "again" / name).write_bytes(b"of the first time")
    before = state(tmp_path)
    refused = measure(*arguments)
    assert refused.exit_code == 6 and "--force" in refused.stderr
    assert state(tmp_path) == before

    forced = measure(bench.photo, "-o", tmp_path / "again", *TYPED, "--force")
    assert forced.exit_code == 0
    assert "overlay-side.jpg, template.pdf there" in forced.stderr
    assert "before you cut" in forced.stderr
    after = state(tmp_path / "again")
    assert after["template.pdf"] == before["again/template.pdf"]
    assert after["measurement.json"] != before["again/measurement.json"]


def test_the_record_beside_the_photo_can_be_overruled(
    job: tuple[Path, Result], bench: Bench, tmp_path: Path
) -> None:
    """Bars that read 0.5 % longer make everything 0.5 % longer."""
    x, y = (1.005 * bar.length for bar in (DESIGN.bar_x, DESIGN.bar_y))
    bars = ["--bar-x", f"{x:.2f}mm", "--bar-y", f"{y / 10:.3f} cm"]
    bars += ["--card-bar-x", f"{1.005 * 170:.2f}", "--card-bar-y", f"{1.005 * 220:.2f}"]
    result = measure(bench.photo, "-o", tmp_path / "job", *bars, *TYPED)
    assert result.exit_code == 0, result.output
    one, other = read_measurement(job[0]), read_measurement(tmp_path / "job")
    assert one.width.value and other.width.value
    assert other.width.value / one.width.value == pytest.approx(1.005, abs=6e-4)


def test_how_the_phone_was_held_changes_the_picture_only(
    job: tuple[Path, Result], bench: Bench, tmp_path: Path
) -> None:
    """The same pixels with another EXIF orientation: the lens saw the same."""
    data = bench.photo.read_bytes()
    with Image.open(bench.photo) as image:
        exif = image.getexif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)  # keeps the block when the tags are written again
    start = data.index(b"\xff\xe1")
    length = int.from_bytes(data[start + 2 : start + 4], "big")
    block = exif.tobytes()
    segment = b"\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block
    for name in ("mat.json", "cards.json"):
        shutil.copy(bench.folder / name, tmp_path / name)
    turned = tmp_path / "turned.jpg"
    turned.write_bytes(data[:start] + segment + data[start + 2 + length :])
    result = measure(turned, "-o", tmp_path / "job", *NAMED, *TYPED)
    assert result.exit_code == 0, result.output
    one, other = (
        json.loads((f / "measurement.json").read_bytes()) for f in (job[0], tmp_path / "job")
    )
    assert other["photos"][0]["orientation"] == 6
    assert one["outline"] == other["outline"] and one["camera"]["lens"] == other["camera"]["lens"]
    wide, tall = (cv2.imread(str(f / "overlay.jpg")).shape for f in (job[0], tmp_path / "job"))
    assert wide[1] > wide[0] and tall[0] > tall[1]


# What can be wrong, and which code a script sees; each entry makes its input in its own folder.

Make = Callable[[Path, Bench], list[object]]


def copied(folder: Path, bench: Bench, name: str = "p.jpg") -> Path:
    shutil.copy(bench.photo, folder / name)
    return folder / name


def content(name: str, data: bytes) -> Make:
    def make(folder: Path, bench: Bench) -> list[object]:
        (folder / name).write_bytes(data)
        return [folder / name]

    return make


def cut(folder: Path, bench: Bench) -> list[object]:
    data = bench.photo.read_bytes()
    (folder / "p.jpg").write_bytes(data[: len(data) // 2])
    return [folder / "p.jpg"]


def flat(level: int) -> Make:
    def make(folder: Path, bench: Bench) -> list[object]:
        Image.new("RGB", (1600, 1200), (level,) * 3).save(folder / "p.jpg")
        return [folder / "p.jpg"]

    return make


def no_mat(folder: Path, bench: Bench) -> list[object]:
    noise = np.random.default_rng(1).integers(0, 255, (12, 16, 3), dtype=np.uint8)
    picture = cv2.resize(noise, (1600, 1200), interpolation=cv2.INTER_CUBIC)
    cv2.imwrite(str(folder / "p.jpg"), picture)
    return [folder / "p.jpg"]


def small(folder: Path, bench: Bench) -> list[object]:
    Image.open(bench.photo).resize((1000, 750)).save(folder / "p.jpg")
    return [folder / "p.jpg"]


def noted(folder: Path, name: str, **tags: object) -> Path:
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = str(tags.get("make", "K")), "K2"
    if size := tags.get("size"):
        exif.get_ifd(0x8769)[0xA002], exif.get_ifd(0x8769)[0xA003] = size  # type: ignore[misc]
    Image.new("RGB", (1600, 1200), "teal").save(folder / name, exif=exif)
    return folder / name


def cropped(folder: Path, bench: Bench) -> list[object]:
    return [noted(folder, "p.jpg", size=(4000, 3000))]


def two_phones(folder: Path, bench: Bench) -> list[object]:
    return [noted(folder, "a.jpg"), noted(folder, "b.jpg", make="Nirppa")]


def with_options(*options: object) -> Make:
    return lambda folder, bench: [bench.photo, *options]


def broken_record(folder: Path, bench: Bench) -> list[object]:
    (folder / "mat.json").write_text('{"format": "profiler mat", "version": 1}')
    return [copied(folder, bench)]


def another_mat(folder: Path, bench: Bench) -> list[object]:
    record = record_bytes(mat_record(design_mat(PAPERS["A4"])))
    (folder / "mat.json").write_bytes(record)
    return [copied(folder, bench)]


BAD: dict[str, tuple[Make, int, str]] = {
    "missing": (lambda folder, bench: [folder / "no.jpg"], 3, "no file"),
    "folder": (lambda folder, bench: [folder], 3, "is a folder"),
    "empty": (content("p.jpg", b""), 3, "is empty"),
    "text": (content("p.jpg", b"hello " * 99), 3, "not a picture"),
    "raw": (content("p.dng", b"II*\0" + bytes(99)), 3, "raw photo"),
    "cut off": (cut, 3, "ends before"),
    "too small": (small, 3, "1000 x 750"),
    "black": (flat(0), 3, "dark"),
    "white": (flat(255), 3, "blown out"),
    "even": (flat(128), 3, "even all over"),
    "cropped": (cropped, 3, "4000 x 3000"),
    "two phones": (two_phones, 3, "same phone"),
    "no mat": (no_mat, 4, "no mat"),
    "another mat": (another_mat, 4, "not the one in its record"),
    "broken mat record": (broken_record, 4, "mat.json"),
    "missing mat record": (with_options("--mat", "/no/mat.json"), 4, "/no/mat.json"),
    "missing cards record": (with_options("--cards", "/no/c.json"), 4, "/no/c.json"),
    "missing lens record": (with_options("--lens", "/no/lens.json"), 3, "/no/lens.json"),
    "nonsense bar": (with_options("--bar-x", "25..5"), 2, "--bar-x: '25..5'"),
    "bar not a number": (with_options("--card-bar-y", "nan"), 2, "--card-bar-y: 'nan'"),
    "scaled print": (with_options("--bar-x", "150", "--bar-y", "150"), 4, "actual size"),
    "nonsense height": (with_options("--height", "body=25..5"), 2, "'25..5'"),
    "unknown part": (with_options("--height", "tail=7"), 2, "'tail'"),
    "height twice": (with_options("--height", "body=7", "--height", "body=8"), 2, "twice"),
    "height below zero": (with_options("--height", "body=-7"), 2, "below zero"),
    "impossible height": (with_options("--height", "body=72in"), 2, "cannot be"),
    "nothing after ±": (with_options("--height", "body=72±"), 2, "after ± is missing"),
    "top below a card": (with_options("--height", "top=5mm"), 2, "at 70 mm above the bench"),
    "top below a part": (
        with_options("--height", "top=64±1", "--height", "headstock=71"),
        2,
        "the headstock is typed as 71 mm",
    ),
    "nonsense units": (with_options("--units", "furlong"), 2, "furlong"),
    "nonsense to ignore": (with_options("--ignore", "doubts"), 2, "doubts"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input(bench: Bench, tmp_path: Path, name: str) -> None:
    make, code, words = BAD[name]
    given, out = tmp_path / "given", tmp_path / "out"
    given.mkdir()
    out.mkdir()
    arguments = make(given, bench)
    before = state(given)
    result = measure(*arguments, "-o", out / "job")
    assert result.exit_code == code, result.output
    flat_words = " ".join(result.stderr.replace("│", " ").split())
    assert words in flat_words
    assert "Traceback" not in result.output and "Sorry" not in result.output
    assert list(out.iterdir()) == [], "something was written"
    assert state(given) == before


def test_only_one_bar(bench: Bench, tmp_path: Path) -> None:
    alone = copied(tmp_path, bench)
    result = measure(alone, "-o", tmp_path / "job", "--bar-x", "180")
    assert result.exit_code == 2 and "belong together" in result.stderr


def test_bars_without_a_record_are_taken_for_the_recognised_mat(
    bench: Bench, tmp_path: Path
) -> None:
    alone = copied(tmp_path, bench)
    bars = ["--bar-x", DESIGN.bar_x.length, "--bar-y", DESIGN.bar_y.length]
    result = measure(alone, "-o", tmp_path / "job", *bars)
    assert result.exit_code == 0, result.output
    assert "check bars were not read" not in result.stdout


@pytest.mark.parametrize(
    ("where", "words"),
    [("no/job", "Make it first"), ("file", "in the way"), ("full", "other things")],
)
def test_places_that_cannot_be_written(
    bench: Bench, tmp_path: Path, where: str, words: str
) -> None:
    (tmp_path / "file").write_bytes(b"mine")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_bytes(b"mine")
    before = state(tmp_path)
    for force in ([], ["--force"]):
        result = measure(bench.photo, "-o", tmp_path / where, *force)
        assert result.exit_code == 6 and words in result.stderr, result.output
        assert state(tmp_path) == before


def test_without_a_place_or_a_photo_it_says_how_to_call_it(bench: Bench) -> None:
    for arguments in ([bench.photo], ["-o", "job"]):
        result = measure(*arguments)
        assert result.exit_code == 2 and "Usage" in result.stderr


def test_help_is_for_people() -> None:
    result = runner.invoke(app, ["measure", "--help"], env={"COLUMNS": "100"})
    assert result.exit_code == 0
    for words in ("PHOTO", "--output", "--height", "body=72±0.5", "--bar-x", "mat.json"):
        assert words in result.stdout
    assert "--ignore" not in result.stdout


def test_the_installed_command_in_a_shell(tmp_path: Path) -> None:
    """Once as a real process: exit code, one line on stderr, nothing on stdout."""
    program = "from profiler.cli.main import run; run()"
    run = subprocess.run(
        [sys.executable, "-c", program, "measure", "no.jpg", "-o", "job"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert (run.returncode, run.stdout) == (3, "")
    assert run.stderr == "Error: There is no file no.jpg. Check the name and the folder.\n"
    assert list(tmp_path.iterdir()) == []
