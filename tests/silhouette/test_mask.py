"""What is not ground lies where it lies: flat things painted on the mat, against their own plan."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point, box

from profiler.paper import paper_named
from profiler.silhouette.patches import passes_into_ground
from profiler.target.mat import MatDesign, design_mat
from tests.silhouette.flat import flat, seen


def _mat() -> MatDesign:
    return design_mat(paper_named("A2"), 560, 400)


@pytest.mark.parametrize("shift", [0.0, 0.3, 0.6])
def test_the_mask_is_shifted_to_no_side(shift: float) -> None:
    plate = box(180 + shift, 120 - shift, 380 + shift, 280 - shift)
    found, cell = seen(_mat(), [flat(plate, (60, 90, 140))])
    off = np.array(found.centroid.coords[0]) - np.array(plate.centroid.coords[0])
    assert np.abs(off).max() < 0.45 * cell
    assert found.symmetric_difference(plate).area / plate.length < 0.5 * cell


@pytest.mark.parametrize("top", [(225, 228, 230), (40, 40, 42), (120, 122, 125)])
def test_a_print_half_covered_gives_the_border_of_what_covers_it(
    top: tuple[int, int, int],
) -> None:
    """White, black and grey things: each is like some part of a target."""
    design = _mat()
    cluster = min(
        (c for s in design.sheets for c in s.clusters),
        key=lambda c: np.hypot(c.x - 280, c.y - 200),
    )
    # the disc's edge runs through the middle of the target
    thing = Point(cluster.x - 60.0, cluster.y).buffer(60.0, quad_segs=64)
    found, cell = seen(_mat(), [flat(thing, top)])
    assert found.symmetric_difference(thing).area / thing.length < 0.8 * cell
    # 40 mm of border run over the target; cell by cell, without the cut, it strays by 2.1 cells
    near = box(cluster.x - 20, cluster.y - 20, cluster.x + 20, cluster.y + 20)
    there = found.intersection(near).symmetric_difference(thing.intersection(near)).area
    assert there / 40.0 < 1.8 * cell


def test_a_white_thing_on_a_printed_white_ends_where_it_ends_and_not_where_the_print_does() -> None:
    """A round of the paper's own white over a target: its border is seen on black and tint only.

    Where it crosses white cells it goes on the shortest way; before the print's own steps were
    taken out it ran round each cell.
    """
    design = _mat()
    cluster = min(
        (c for s in design.sheets for c in s.clusters),
        key=lambda c: np.hypot(c.x - 280, c.y - 200),
    )
    thing = Point(cluster.x - 60.0, cluster.y).buffer(60.0, quad_segs=64)
    found, cell = seen(design, [flat(thing, (247, 248, 248))])
    near = box(cluster.x - 20, cluster.y - 20, cluster.x + 20, cluster.y + 20)
    there = found.exterior.intersection(near)
    # with them it strayed by 2.4 mm
    assert thing.exterior.intersection(near).hausdorff_distance(there) < 2 * cell


def test_a_pocket_shut_in_by_pegs_and_a_printed_edge_is_judged_by_its_hue() -> None:
    """Ground, a printed edge, a pocket between two pegs: no border tells, the hue does."""
    labels = np.ones((12, 14), dtype=np.int32)
    labels[5:] = 2
    labels[5:10, 5:9] = 3
    steps = np.full(labels.shape, 0.02, dtype=np.float32)
    steps[4:6] = 0.4
    telling = np.ones(labels.shape)
    telling[4:6] = 0.1
    tinted = labels == 3
    assert passes_into_ground(labels, steps, telling, tinted)[3]
    assert not passes_into_ground(labels, steps, telling, ~tinted)[3]
    # a sharp step on bare tint is the edge of something, whatever its hue
    assert not passes_into_ground(labels, steps, np.ones(labels.shape), tinted)[3]
