"""What a verb loads before it begins: nothing that its first second does not need."""

from __future__ import annotations

import subprocess
import sys

HEAVY = {"scipy", "skimage", "reportlab", "rich", "ezdxf"}


def loaded_by(module: str) -> set[str]:
    """The top-level packages in memory after one import in a fresh process."""
    ask = f"import sys, {module}; print(*{{name.split('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_help_loads_no_numbers() -> None:
    assert not loaded_by("profiler.cli.main") & (HEAVY | {"numpy", "cv2"})


def test_a_photo_is_opened_before_the_late_rooms_load() -> None:
    """`measure` loads them beside its first steps (pipeline/ahead.py): those must not pull them."""
    first = loaded_by("profiler.pipeline.job")
    assert "cv2" in first
    assert not first & HEAVY


def test_the_late_rooms_are_where_the_weight_is() -> None:
    assert loaded_by("profiler.pipeline.shape") >= {"scipy", "skimage"}
    assert loaded_by("profiler.pipeline.report") >= {"reportlab"}


def test_what_nobody_asks_for_is_not_loaded_and_is_there_when_asked_for() -> None:
    begin = (
        "import sys; from profiler.pipeline.ahead import load_ahead; load_ahead('scipy.ndimage')"
    )
    wait = "import numpy, threading; [t.join() for t in threading.enumerate()[1:]]"
    loaded = "print(*({'numpy.f2py.crackfortran', 'unittest'} & set(sys.modules)))"
    asked = "numpy.testing.assert_equal(1, 1); numpy.f2py.main"
    ask = f"{begin}; {wait}; {loaded}; {asked}"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert not done.stdout.strip()
