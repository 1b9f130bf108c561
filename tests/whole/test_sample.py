"""A photo-real photo through the whole program: files, numbers against the truth, sheets."""

from __future__ import annotations

import io
import json
from pathlib import Path

import cv2
import ezdxf
import jsonschema
import numpy as np
import pikepdf
import pytest
import shapely
import svgpathtools

from profiler.jobs.results import schema
from tests.alignment import outline_error
from tests.drawing.reading import pdf_pages
from tests.plates.test_offset import clipper
from tests.whole.conftest import SAMPLE, Job, digests, profiler

#: mm beyond its own ± that a number may be out, so that this test sees blunders; the table of
#: `tests.accuracy` holds the fine figures
GENEROUS_MM = 1.0
CLEARANCE_MM = 3.0
#: what the sheets have to be right to
TOLERANCE_MM = 0.02


@pytest.fixture(scope="module")
def record(wren: Job) -> dict:
    return json.loads((wren.folder / "measurement.json").read_bytes())


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads((SAMPLE / "truth.json").read_bytes())


def test_the_job_is_whole_and_the_photo_untouched(wren: Job, record: dict) -> None:
    jsonschema.Draft202012Validator(schema()).validate(record)
    assert record["units"] == "mm"
    assert cv2.imread(str(wren.folder / "overlay.jpg")).shape[0] > 1000
    with pikepdf.open(wren.folder / "summary.pdf") as page:
        assert len(page.pages) == 1
    assert digests(wren.given) == wren.before


def test_numbers_hold_the_truth_within_their_uncertainty(record: dict, truth: dict) -> None:
    pairs = {name: (record["envelope"][name], truth[name]) for name in ("length", "width")}
    # the truth's headstock is taken over the buttons, as our tuners are
    for ours, theirs in {
        "lower_bout": "lower bout",
        "waist": "waist",
        "upper_bout": "upper bout",
        "nut": "nut",
        "tuners": "headstock",
    }.items():
        pairs[ours] = (record["widths"][ours], truth["widths"][theirs]["width"])
    for name, (mine, true) in pairs.items():
        assert abs(mine["value"] - true) <= mine["u95"] + GENEROUS_MM, (name, mine, true)
        # the photo does not show whether a strap button hides below the rim
        assert 0.05 < mine["u95"] < (16 if name == "length" else 5), name
    assert record["envelope"]["height"]["value"] is None
    assert "--height top" in record["envelope"]["height"]["reason"]


def test_the_outline_is_the_true_one(record: dict, truth: dict) -> None:
    outline = np.array(record["outline"])
    ring = shapely.LinearRing(outline)
    assert ring.is_ccw and ring.is_simple
    error = outline_error(outline, np.array(truth["outline"]))
    assert error.mean < 1.0
    assert error.p95 < 3.0


def test_again_gives_the_same_bytes(wren: Job, tmp_path: Path) -> None:
    done = profiler("measure", wren.given / "top-1.jpg", "-o", tmp_path / "job")
    assert done.returncode == 0, done.stderr
    assert digests(tmp_path / "job") == {
        name: digest for name, digest in digests(wren.folder).items() if "/" not in name
    }


def test_a_job_is_never_overwritten_silently(wren: Job) -> None:
    before = digests(wren.folder)
    done = profiler("measure", wren.given / "top-1.jpg", "-o", wren.folder)
    assert done.returncode == 6
    assert "--force" in done.stderr
    assert digests(wren.folder) == before


def distance(lines: shapely.Geometry, want: shapely.Polygon) -> float:
    """Largest distance, mm, once both have their lower left corners together."""
    shift = np.array(want.bounds[:2]) - np.array(lines.bounds[:2])
    moved = shapely.transform(lines, lambda p: p + shift)
    return float(shapely.hausdorff_distance(moved, want.exterior, densify=0.5))


def test_every_sheet_is_the_outline_and_its_clearance(
    wren: Job, record: dict, tmp_path: Path
) -> None:
    done = profiler("template", wren.folder, "--clearance", f"{CLEARANCE_MM}mm", "-o", tmp_path)
    assert done.returncode == 0, done.stderr
    want = clipper(np.array(record["outline"]), CLEARANCE_MM)

    (page,) = pdf_pages((tmp_path / "template.pdf").read_bytes())
    thick = [p for p in page.paths if p.stroked and abs(p.width - 0.45) < 0.01]
    # drawn in pieces of different certainty, the outline is one closed line all the same
    drawn = shapely.line_merge(shapely.MultiLineString([p.points for p in thick]))
    outline = max(shapely.get_parts(drawn), key=shapely.length)
    assert outline.is_closed
    assert distance(outline, want) < TOLERANCE_MM

    text = (tmp_path / "template.svg").read_text()
    cut = text[text.index('<g id="cut">') :].split("</g>")[0] + "</g>"
    paths, _ = svgpathtools.svgstr2paths(f'<svg xmlns="http://www.w3.org/2000/svg">{cut}</svg>')
    (path,) = paths
    points = np.array([(s.start.real, -s.start.imag) for s in path])
    assert distance(shapely.LinearRing(points), want) < TOLERANCE_MM

    document = ezdxf.read(io.StringIO((tmp_path / "template.dxf").read_text()))
    (line,) = document.modelspace().query('*[layer=="cut"]')
    points = np.array([p[:2] for p in line.get_points()])
    assert distance(shapely.LinearRing(points), want) < TOLERANCE_MM
    assert distance(shapely.LinearRing(np.array(record["outline"])), want) > 1, "it can fail"
