"""The house's contracts hold, and an upward import would be caught."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def contracts(folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the linter on the checkout in `folder`."""
    linter = Path(sys.executable).parent / "lint-imports"
    command = [str(linter), "--no-cache"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def copied(folder: Path) -> Path:
    shutil.copy(ROOT / "pyproject.toml", folder)
    shutil.copytree(
        ROOT / "profiler", folder / "profiler", ignore=shutil.ignore_patterns("__pycache__")
    )
    return folder / "profiler"


def test_floors_hold() -> None:
    done = contracts(ROOT)
    assert done.returncode == 0, done.stdout


def test_upward_import_is_caught(tmp_path: Path) -> None:
    lens = copied(tmp_path) / "optics" / "lens.py"
    lens.write_text(lens.read_text() + "\nfrom profiler.scene.record import Scene\n")
    done = contracts(tmp_path)
    assert done.returncode != 0
    assert "profiler.optics.lens -> profiler.scene.record" in done.stdout


def test_room_without_a_floor_is_caught(tmp_path: Path) -> None:
    (copied(tmp_path) / "cellar.py").write_text('"""A room on no floor."""\n')
    done = contracts(tmp_path)
    assert done.returncode != 0
    assert "cellar" in done.stdout
