"""Photos between which the sheets were moved are refused by name; a curling sheet is not that."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from profiler.pipeline.measure import solved
from profiler.pipeline.memory import Memory
from profiler.pipeline.one_lay import LaidAnew
from profiler.scene.record import Scene
from tests.painter import Lie, camera_over, paint
from tests.pipeline.test_odd_sheets import DESIGN, LENS, laid, request

CAMERAS = (
    camera_over(385.0, 240.0, 1000.0, LENS),
    camera_over(300.0, 200.0, 1040.0, LENS, (0.12, -0.08)),
)
Lying = dict[int, Lie | None]
ONE_DAY: Lying = {0: laid(DESIGN, 0, (2.0, -1.0, 0.3)), 5: laid(DESIGN, 5, (-2.0, 1.5, -0.2))}
ANOTHER: Lying = {1: laid(DESIGN, 1, (-4.0, 2.0, 0.4)), 6: laid(DESIGN, 6, (3.0, -4.0, 0.3))}


def two(first: Lying, second: Lying) -> Scene:
    """The joint solution of a photo of each lay."""
    photos = [
        replace(
            request(paint(camera, DESIGN, [], [], lying=lying)).photos[0],
            path=Path(f"top-{i}.png"),
            sha256=str(i) * 64,
        )
        for i, (camera, lying) in enumerate(zip(CAMERAS, (first, second), strict=True), start=1)
    ]
    return solved(replace(request(photos[0].pixels), photos=tuple(photos)), Memory())[0]


def test_a_mat_laid_anew_between_two_photos_is_named() -> None:
    with pytest.raises(LaidAnew, match=r"top-2\.png: the mat does not lie as in top-1\.png"):
        two(ONE_DAY, ANOTHER)


def test_one_lay_is_solved_also_where_a_sheet_curls() -> None:
    curling = {**ONE_DAY, 3: laid(DESIGN, 3, curl=6.0)}
    assert len(two(curling, curling).cameras) == 2
