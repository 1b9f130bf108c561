"""`profiler calibrate` as a user types it, on published chessboard photos (tests/published)."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from profiler.cli.main import app
from profiler.jobs import lens_search
from profiler.jobs.lenses import read_lens

DATA = Path(__file__).parents[1] / "published" / "opencv"
LEFT = [str(p) for p in sorted(DATA.glob("left*.jpg"))]
CHESSBOARD = ["--chessboard", "9x6", "--square", "25mm"]


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nothing is written into the checkout or the home of whoever runs the tests."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(lens_search, "user_folder", lambda: tmp_path / "user")
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(app, ["calibrate", *words], env={"COLUMNS": "100"})


def said(result: Result) -> str:
    return " ".join((result.stdout + result.stderr).split())


def test_a_lens_record_is_written_and_explained(elsewhere: Path) -> None:
    result = run(*LEFT, *CHESSBOARD, "--name", "webcam")
    assert result.exit_code == 0, said(result)
    record = read_lens(elsewhere / "lens.json")
    assert record.name == "webcam"
    assert record.lens.f == pytest.approx(533.0, abs=1.5)
    assert record.photos == 13
    assert len(record.sources) == 13
    text = said(result)
    for name in ("left01.jpg", "left14.jpg"):
        assert name in text
    for word in ("rms", "coverage", "verdict usable", "Next:", "lens.json"):
        assert word in text

    # a second run does not replace the first in silence, and says so before the long work
    again = run(*LEFT, *CHESSBOARD)
    assert again.exit_code == 6
    assert "--force" in said(again)
    assert read_lens(elsewhere / "lens.json").name == "webcam"


def test_a_poor_lens_is_not_kept_unless_asked(elsewhere: Path) -> None:
    result = run(*LEFT[:2], *CHESSBOARD)
    assert result.exit_code == 4
    assert "not good enough" in said(result)
    assert "8 to 12 photos" in said(result)
    assert not (elsewhere / "lens.json").exists()
    assert run(*LEFT[:2], *CHESSBOARD, "--anyway").exit_code == 0
    assert "not good enough" in read_lens(elsewhere / "lens.json").verdict


def test_photos_without_a_phone_cannot_be_installed(elsewhere: Path) -> None:
    result = run(*LEFT[:5], *CHESSBOARD, "--install", "--anyway")
    assert result.exit_code == 2
    assert "do not say which phone" in said(result)
    assert not (elsewhere / "user").exists()


@pytest.mark.parametrize(
    "words,code,told",
    [
        (["--chessboard", "9", "--square", "25mm"], 2, "as in 9x6"),
        (["--chessboard", "9x1", "--square", "25mm"], 2, "between 3 and 200"),
        (["--chessboard", "9x6"], 2, "needs --square"),
        (["--chessboard", "9x6", "--square", "25..5"], 2, "--square"),
        (["--chessboard", "9x6", "--charuco", "5x7"], 2, "cannot go together"),
        (["--square", "25mm"], 2, "belong to a board"),
        (["--charuco", "5x7", "--square", "4cm", "--marker", "5cm"], 2, "does not fit"),
        (
            ["--charuco", "5x7", "--square", "4cm", "--marker", "2cm", "--dictionary", "x"],
            2,
            "APRILTAG_36H11",
        ),
        (["--mat", "gone.json"], 4, "gone.json"),
        (["--chessboard", "9x7", "--square", "25mm"], 4, "9x7 inner corners"),
        ([], 4, "--chessboard 9x6 --square 25mm"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(
    elsewhere: Path, words: list[str], code: int, told: str
) -> None:
    result = run(*LEFT[:2], *words)
    assert result.exit_code == code, said(result)
    assert told in said(result)
    assert "Traceback" not in said(result)
    assert not list(elsewhere.iterdir())


def test_other_files_are_refused_by_name(elsewhere: Path) -> None:
    result = run(LEFT[0], str(DATA / "LICENSE"), *CHESSBOARD)
    assert result.exit_code == 3
    assert "LICENSE" in said(result)
    mixed = run(LEFT[0], str(DATA / "img_00.jpg"), "gone.jpg", *CHESSBOARD)
    assert mixed.exit_code == 3
    assert "gone.jpg" in said(mixed)
