"""What something has to fit into, read from what people have: sizes, drawings, plans."""

from __future__ import annotations

import json
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely

from profiler.archive.container import line_from_file, rectangle_line
from profiler.archive.errors import CannotKeep
from profiler.errors import RequestError
from tests.archive.made import folder, job


def sides(line: np.ndarray) -> tuple[float, float]:
    x0, y0, x1, y1 = shapely.Polygon(line).bounds
    return x1 - x0, y1 - y0


@pytest.mark.parametrize("text", ["900x300", "900 mm × 300mm", "90cm x 30 cm"])
def test_a_rectangle_is_typed(text: str) -> None:
    assert sides(rectangle_line(text, "mm")) == pytest.approx((900, 300))


def test_an_inch_is_25_4_mm() -> None:
    assert sides(rectangle_line("35 1/2in x 12in", "mm")) == pytest.approx((901.7, 304.8))
    assert sides(rectangle_line("35 1/2 x 12", "in")) == pytest.approx((901.7, 304.8))


@pytest.mark.parametrize("text", ["900", "0x300", "900x300x100", "axb", "-5x3", "99999999x1"])
def test_no_rectangle(text: str) -> None:
    with pytest.raises(RequestError):
        rectangle_line(text, "mm")


@pytest.mark.parametrize(("code", "factor"), [(4, 1.0), (1, 25.4), (0, 1.0)])
def test_the_largest_closed_line_of_a_drawing(tmp_path: Path, code: int, factor: float) -> None:
    """$INSUNITS 4 is mm, 1 is inches; a drawing without a unit counts as mm."""
    drawing = ezdxf.new(units=code)
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (30, 0), (30, 20), (0, 20)], close=True)
    space.add_circle((5, 5), 3)
    space.add_lwpolyline([(0, 0), (500, 500)])
    drawing.saveas(tmp_path / "inside.dxf")
    assert sides(line_from_file(tmp_path / "inside.dxf")) == pytest.approx(
        (30 * factor, 20 * factor)
    )


def test_a_plan_of_a_case_means_its_inside(tmp_path: Path) -> None:
    outline = [[0, 0], [600, 0], [600, 200]]
    plan = {"box": {"inside": [652.5, 240.5, 99.5]}, "instrument": {"outline": outline}}
    (tmp_path / "plan.json").write_text(json.dumps(plan))
    assert sides(line_from_file(tmp_path / "plan.json")) == (652.5, 240.5)


def test_a_measurement_means_its_outline(tmp_path: Path) -> None:
    path = folder(tmp_path / "b" / "job", 1) / "measurement.json"
    assert len(line_from_file(path)) == len(job(1).measurement.outline)


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "{}", '{"outline": [[0, 0], [1, 1], [0, 1], [1, 0]]}', "[" * 99_999]
)
def test_a_file_without_a_closed_line_is_a_sentence(tmp_path: Path, text: str) -> None:
    for name in ("x.json", "x.dxf"):
        (tmp_path / name).write_text(text)
        with pytest.raises(CannotKeep):
            line_from_file(tmp_path / name)
