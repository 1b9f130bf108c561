"""What a user does wrong on the bench: the sample photo edited, the whole command run on it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.whole.conftest import SAMPLE, digests, profiler

Picture = NDArray[np.uint8]


def no_instrument(photo: Picture) -> Picture:
    """A bench without mat or instrument: the wooden strip at the top, again and again."""
    return np.ascontiguousarray(np.tile(photo[:150], (photo.shape[0] // 150, 1, 1)))


def second_object(photo: Picture) -> Picture:
    """A dark box on bare ground."""
    changed = photo.copy()
    h, w = photo.shape[:2]
    cv2.rectangle(
        changed,
        (int(0.62 * w), int(0.64 * h)),
        (int(0.72 * w), int(0.76 * h)),
        (30, 60, 90),
        cv2.FILLED,
    )
    return changed


def over_the_edge(photo: Picture) -> Picture:
    """A plank of the body's colour from the body off the mat's left edge."""
    changed = photo.copy()
    h, w = photo.shape[:2]
    cv2.rectangle(
        changed, (0, int(0.40 * h)), (int(0.25 * w), int(0.52 * h)), (120, 175, 215), cv2.FILLED
    )
    return changed


def blurred(photo: Picture) -> Picture:
    return np.asarray(cv2.GaussianBlur(photo, (0, 0), 10), dtype=np.uint8)


def dark(photo: Picture) -> Picture:
    return np.asarray(photo * 0.08, dtype=np.uint8)


def blown(photo: Picture) -> Picture:
    return np.asarray(np.clip(photo.astype(np.float32) * 4, 0, 255), dtype=np.uint8)


EDITS: dict[str, tuple[Callable[[Picture], Picture], int, str]] = {
    "no mat": (no_instrument, 4, "no mat"),
    "two objects": (second_object, 5, "besides the instrument"),
    "over the edge": (over_the_edge, 5, "mat's edge"),
    "blurred": (blurred, 4, "no mat is seen"),
    "dark": (dark, 3, "dark"),
    "blown out": (blown, 3, "blown out"),
}


def refused(photo: Path, *options: object) -> tuple[int, str]:
    """Run the command, see that nothing was written or changed; its code and sentence."""
    given, out = photo.parent, photo.parent.parent / "out"
    out.mkdir()
    before = digests(given)
    done = profiler("measure", photo, "-o", out / "job", *options)
    assert list(out.iterdir()) == [], "something was written"
    assert digests(given) == before
    assert "Traceback" not in done.stderr and done.returncode != 70, done.stderr
    return done.returncode, " ".join(done.stderr.replace("│", " ").split())


@pytest.fixture
def given(tmp_path: Path) -> Path:
    folder = tmp_path / "given"
    folder.mkdir()
    for name in ("mat.json", "cards.json"):
        shutil.copy(SAMPLE / name, folder / name)
    return folder


@pytest.mark.parametrize("name", EDITS)
def test_a_spoiled_photo_is_refused(name: str, given: Path) -> None:
    edit, code, words = EDITS[name]
    photo = np.asarray(cv2.imread(str(SAMPLE / "top-1.jpg")), dtype=np.uint8)
    cv2.imwrite(str(given / "p.jpg"), edit(photo))
    got = refused(given / "p.jpg")
    assert got[0] == code, got
    assert words in got[1]


def test_a_bare_mat_is_refused(given: Path) -> None:
    """A tilted photo of the mat alone, from the same phone."""
    shutil.copy(SAMPLE.parent / "lens" / "tilted-6.jpg", given / "p.jpg")
    code, words = refused(given / "p.jpg")
    assert code == 5, words
    assert "nothing lies on the mat" in words


def test_the_record_of_another_mat_is_refused(given: Path) -> None:
    shutil.copy(SAMPLE / "top-1.jpg", given / "p.jpg")
    record = json.loads((given / "mat.json").read_bytes())
    record["paper"] = {"name": "A3", "width_mm": 297.0, "height_mm": 420.0}
    record["columns"], record["rows"] = 3, 2
    for bar in ("bar_x", "bar_y"):
        del record[bar]
    (given / "mat.json").write_text(json.dumps(record))
    code, words = refused(given / "p.jpg")
    assert code == 4, words
    assert "mat.json" in words or "not the one in its record" in words


def test_an_impossible_height_is_refused(given: Path) -> None:
    shutil.copy(SAMPLE / "top-1.jpg", given / "p.jpg")
    code, words = refused(given / "p.jpg", "--height", "body=72in")
    assert code == 2
    assert "body" in words and "cannot be" in words
