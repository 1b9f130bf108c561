"""A photo is looked at before it is measured: each thing that may be wrong is told as itself."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from typer.testing import CliRunner

from profiler.cli.main import app
from profiler.pipeline.check import Check, Weight, check_photo
from profiler.pipeline.job import JobWishes, run_job
from profiler.pipeline.memory import Memory

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"
Picture = NDArray[np.uint8]


def darkened(photo: Picture) -> Picture:
    return np.asarray(photo * 0.12, dtype=np.uint8)


def blurred(photo: Picture) -> Picture:
    return np.asarray(cv2.GaussianBlur(photo, (0, 0), 2.2), dtype=np.uint8)


def without_mat(photo: Picture) -> Picture:
    return np.ascontiguousarray(np.tile(photo[:400], (6, 1, 1))[: len(photo)])


def with_another_thing(photo: Picture) -> Picture:
    cv2.rectangle(photo, (1550, 1365), (1665, 1480), (40, 60, 30), -1)
    return photo


def head_outside(photo: Picture) -> Picture:
    return np.ascontiguousarray(photo[:, :1960])


def tail_outside(photo: Picture) -> Picture:
    return np.ascontiguousarray(photo[:, 860:])


def looked_at(folder: Path, spoil: Callable[[Picture], Picture]) -> Check:
    """The sample, spoiled, with its records beside it; its EXIF is gone, as in a crop."""
    for name in ("mat.json", "cards.json"):
        shutil.copy(SAMPLE / name, folder / name)
    photo = cv2.imread(str(SAMPLE / "photo-1.jpg"))
    assert photo is not None
    path = folder / "photo.png"
    cv2.imwrite(str(path), spoil(np.asarray(photo, dtype=np.uint8)))
    return check_photo(JobWishes(photos=(path,), accept_crop=True))


@pytest.mark.parametrize(
    ("spoil", "what", "words"),
    [
        (darkened, "light", "dark"),
        (blurred, "sharp", "blurred"),
        (without_mat, "mat", "no mat is seen"),
        (with_another_thing, "frame", "besides the instrument"),
        (head_outside, "frame", "headstock reaches the border"),
        (tail_outside, "frame", "tail end reaches the border"),
    ],
)
def test_what_is_wrong_is_named(
    tmp_path: Path, spoil: Callable[[Picture], Picture], what: str, words: str
) -> None:
    check = looked_at(tmp_path, spoil)
    worst = [p for p in check.points if p.weight is not Weight.GOOD]
    assert worst and worst[-1].what == what, check.points
    assert words.lower() in worst[-1].message.lower()
    assert "photo.png" not in worst[-1].message
    assert check.ok == (worst[-1].weight is not Weight.STOP)


def test_a_file_that_is_none_is_told(tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"no photo")
    for one in (path, tmp_path / "missing.jpg"):
        check = check_photo(JobWishes(photos=(one,)))
        assert not check.ok and [p.what for p in check.points] == ["photo"]


def test_measuring_afterwards_uses_what_the_check_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The scene is solved once, and the result is that of measuring at once."""
    from profiler.pipeline import measure

    wishes = JobWishes(photos=(SAMPLE / "photo-1.jpg",))
    solved = []
    real = measure.solve_photos

    def counted(*args: object) -> object:
        solved.append(args)
        return real(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(measure, "solve_photos", counted)
    memory = Memory()
    assert check_photo(wishes, memory=memory).ok
    again = run_job(wishes, memory=memory)
    assert len(solved) == 1
    fresh = run_job(wishes)
    assert len(solved) == 2 and again.record == fresh.record


def test_the_command_says_so(tmp_path: Path) -> None:
    good = CliRunner().invoke(app, ["check", str(SAMPLE / "photo-1.jpg")])
    assert good.exit_code == 0 and "The whole instrument is in the photo" in good.output
    bad = CliRunner().invoke(app, ["check", str(SAMPLE / "mat.json")])
    assert bad.exit_code == 3 and "cannot be measured" in bad.output
