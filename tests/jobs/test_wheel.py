"""The lens records travel in the wheel, where the search looks for them."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from importlib import resources
from pathlib import Path

import pytest

from profiler.jobs import lens_search

ROOT = Path(__file__).parents[2]


def test_the_folder_in_the_package_goes_before_the_checkout(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside, outside = tmp_path / "profiler" / "calib", tmp_path / "calib"
    monkeypatch.setattr(resources, "files", lambda package: tmp_path / package)
    assert lens_search.packaged_folder() is None
    outside.mkdir()
    assert lens_search.packaged_folder() == outside
    inside.mkdir(parents=True)
    assert lens_search.packaged_folder() == inside


@pytest.mark.download
def test_a_wheel_holds_every_record(tmp_path: Path) -> None:
    """Fetches the build backend; skipped where that cannot be done."""
    build = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--no-deps", "-q", "-w", str(tmp_path), str(ROOT)],
        capture_output=True,
        text=True,
        timeout=300,
    )
    if build.returncode != 0 and "hatchling" in build.stderr:
        pytest.skip("the build backend cannot be fetched here")
    assert build.returncode == 0, build.stderr
    (wheel,) = tmp_path.glob("*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    expected = {f"profiler/calib/{p.name}" for p in (ROOT / "calib").iterdir()}
    assert expected
    assert expected <= names
    page = ROOT / "profiler" / "web" / "static"
    built = {f"profiler/web/static/{p.name}" for p in page.iterdir()}
    assert "profiler/web/static/index.html" in built
    assert built <= names
    assert not [name for name in names if name.startswith("profiler/web/front")]
