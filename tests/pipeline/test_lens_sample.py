"""The rendered calibration photos under samples/lens: a lens whose truth is known exactly."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from profiler.jobs.lens_search import packaged_folder
from profiler.jobs.lenses import FORMAL_FACTOR, read_lens
from profiler.jobs.records import design_from_record, load_record
from profiler.optics.lens import LENS_TERMS
from profiler.pipeline.calibrate import Calibration, calibrate
from profiler.pipeline.lens_views import mat_target

FOLDER = Path(__file__).parents[2] / "samples" / "lens"


@pytest.fixture(scope="module")
def result() -> Calibration:
    design, scale = design_from_record(load_record(FOLDER / "mat.json"))
    return calibrate(sorted(FOLDER.glob("tilted-*.jpg")), mat_target(design, scale))


def test_the_lens_is_the_one_that_was_rendered(result: Calibration) -> None:
    facts = json.loads((FOLDER / "lens-truth.json").read_text())["lens"]["terms"]
    record = result.record
    assert record.lens.f == pytest.approx(facts["f"], rel=2e-3)
    for name, value, u in zip(LENS_TERMS, record.lens.vector, record.u, strict=True):
        if u > 0:
            # 95 % of what 'measure' believes of it
            assert abs(value - facts[name]) < 2 * FORMAL_FACTOR * u, name


def test_projections_agree_where_the_photos_show_the_mat(result: Calibration) -> None:
    """What matters in the end: where the lens puts a ray, px; a photo's own part taken out."""
    facts = json.loads((FOLDER / "lens-truth.json").read_text())["lens"]["terms"]
    lens = result.record.lens
    true = lens.with_vector(np.array([facts[n] for n in LENS_TERMS]))
    rows, columns = result.coverage.cells.shape
    xs, ys = np.meshgrid(
        (np.arange(columns) + 0.5) * lens.width / columns,
        (np.arange(rows) + 0.5) * lens.height / rows,
    )
    seen = (result.coverage.cells > 0).ravel()
    pixels = np.column_stack([xs.ravel(), ys.ravel()])[seen]
    rays = true.unproject(pixels)
    difference = lens.project(rays) - pixels
    _, by_point, by_terms = lens.jacobian(rays)
    x, y, one, nil = rays[:, 0], rays[:, 1], np.ones(len(rays)), np.zeros(len(rays))
    turns = np.stack(
        [np.column_stack(c) for c in ((nil, -one, y), (one, nil, -x), (-y, x, nil))], axis=2
    )
    taken = np.concatenate([by_point @ turns, by_terms[:, :, [0, 2, 3]]], axis=2).reshape(-1, 6)
    left = difference.ravel() - taken @ np.linalg.lstsq(taken, difference.ravel(), rcond=None)[0]
    # well calibrated lenses agree to 0.2 px over most of the frame (mrcal documentation, tour)
    assert np.hypot(*left.reshape(-1, 2).T).max() < 0.2


def test_the_photos_are_good_and_so_is_the_verdict(result: Calibration) -> None:
    assert result.judgement.level == "good", result.judgement
    assert not result.left_out
    # clean saddles of a 12 Mpx photo
    assert result.record.rms_px < 0.15


def test_the_packaged_record_is_made_from_these_photos(result: Calibration) -> None:
    folder = packaged_folder()
    assert folder is not None
    packaged = read_lens(folder / "birchfield-pocket-5.json")
    assert packaged.sources == result.record.sources
    assert packaged.lens.vector == pytest.approx(result.record.lens.vector, rel=1e-5, abs=1e-6)
    assert packaged.u == pytest.approx(result.record.u, rel=0.01)
