"""What the memory takes for the same causes, and what for others."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import pytest

from profiler.pipeline.job import JobWishes, run_job
from profiler.pipeline.memory import Memory, key_of
from profiler.silhouette.strokes import CutOut, Moved

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"


@dataclass(frozen=True)
class Mat:
    sheets: int
    scale: list[float] = field(default_factory=list)

    @cached_property
    def worked_out(self) -> int:
        return self.sheets**2


def test_what_a_value_has_worked_out_of_itself_is_no_other_cause() -> None:
    fresh, used = Mat(3), Mat(3)
    assert used.worked_out == 9 and vars(fresh) != vars(used)
    assert key_of(("a", fresh)) == key_of(("a", used))


def test_one_object_or_two_that_are_alike_are_the_same_cause() -> None:
    pair = (1.5, "tuner")
    assert key_of([pair, pair]) == key_of([pair, (1.5, "".join(["tu", "ner"]))])


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (Mat(3), Mat(4)),
        (Mat(3, [1.0]), Mat(3, [1.0, 1.0])),
        (((1, 2), 3), ((1,), 2, 3)),
        ([1, 2], (1, 2)),
        ({"a": 1}, ("a", 1)),
        (np.zeros(3), np.zeros(4)),
        (np.zeros(2, np.float32), np.zeros(2)),
        (("ab", "c"), ("a", "bc")),
        (None, ()),
        (1, True),
    ],
)
def test_other_causes_have_other_keys(one: object, other: object) -> None:
    assert key_of(one) != key_of(other)


def test_a_correction_looks_for_no_ground_again(tmp_path: Path) -> None:
    for name in ("photo-1.jpg", "mat.json", "cards.json"):
        shutil.copy(SAMPLE / name, tmp_path / name)
    photo = tmp_path / "photo-1.jpg"
    memory = Memory(kept=5)
    first = run_job(JobWishes(photos=(photo,)), memory=memory)
    at = first.result.edge_pixels[200]
    area = tuple((float(at[0] + x), float(at[1] + y)) for x, y in ((-9, -9), (9, -9), (0, 9)))
    moved = Moved((float(at[0]), float(at[1])), (float(at[0]) + 4, float(at[1])), 10.0)
    for strokes, edges in (((moved,), 1), ((moved, CutOut(area)), 2)):
        run_job(JobWishes(photos=(photo,), strokes=strokes), memory=memory)
        assert memory.made("scene") == memory.made("ground") == memory.made("departure") == 1
        assert memory.made("edge") == edges
