"""The committed photos: printed points are where truth puts them, files are what README says."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import numpy as np
import pytest

from tests.studio.register import listed_files
from tests.studio.verify import saddle_errors

SAMPLES = Path(__file__).parents[2] / "samples"
PHOTOS = sorted(SAMPLES.glob("*/top-*.jpg"))
#: all the samples together stay below this
MOST_BYTES = 40e6


@pytest.mark.parametrize("photo", PHOTOS, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_saddles_are_where_truth_puts_them(photo: Path) -> None:
    """`cv2.projectPoints` and `cv2.cornerSubPix` (OpenCV) against the recipe in truth.json."""
    errors = saddle_errors(photo)
    mat = errors["mat"]
    assert len(mat) > 60
    assert np.abs(np.median(mat, axis=0)).max() < 0.05
    assert np.sqrt((mat**2).mean()) < 0.25
    if len(errors["cards"]):
        assert np.abs(np.median(errors["cards"], axis=0)).max() < 0.1


def test_the_check_sees_half_a_pixel(monkeypatch: pytest.MonkeyPatch) -> None:
    """A principal point that is half a pixel off must show."""
    folder = SAMPLES / "wren"
    truth = json.loads((folder / "truth.json").read_text())
    truth["recipe"]["phone"]["lens"]["cx"] += 0.5
    original = Path.read_text

    def read(self: Path, *args: object, **kwargs: object) -> str:
        if self.name == "truth.json":
            return json.dumps(truth)
        return original(self, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "read_text", read)
    assert np.abs(np.median(saddle_errors(folder / "top-1.jpg")["mat"], axis=0)).max() > 0.3


def test_the_readme_lists_every_file() -> None:
    text = (SAMPLES / "README.md").read_text()
    listed = dict(re.findall(r"\| `([^`]+/[^`]+)` \| `([0-9a-f]{64})` \|", text))
    files = {str(f.relative_to(SAMPLES)): f for f in listed_files(SAMPLES)}
    assert set(listed) == set(files)
    for name, file in files.items():
        assert hashlib.sha256(file.read_bytes()).hexdigest() == listed[name], name
    assert sum(f.stat().st_size for f in SAMPLES.rglob("*") if f.is_file()) < MOST_BYTES


def test_truth_is_not_read_by_the_program() -> None:
    source = SAMPLES.parent / "profiler"
    assert not [f for f in source.rglob("*.py") if "truth.json" in f.read_text()]
