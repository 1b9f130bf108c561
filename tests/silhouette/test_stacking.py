"""Sheets laid in another order than that of their numbers: the border that shows is paper."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import box

from profiler.paper import Paper, paper_named
from profiler.silhouette.ground import TINT, WHITE
from profiler.silhouette.inked import print_divisor
from profiler.silhouette.stacking import as_stacked
from profiler.target.mat import MatDesign, design_mat
from tests.painter import Slab
from tests.silhouette.flat import flat, laid, seen

BROWN, PAPER = (60, 90, 140), (247, 248, 248)


def _mat() -> MatDesign:
    """Two by two or more, seams between them."""
    design = design_mat(paper_named("A4"), 560, 400)
    assert design.columns > 1 and design.rows > 1
    return design


@pytest.mark.parametrize("order", [range(99), (1, 0, 3, 2, 5, 4, 7, 6)])
def test_a_border_on_top_of_its_neighbour_is_no_part_of_what_lies_across_it(
    order: range | tuple[int, ...],
) -> None:
    design = _mat()
    plate = box(180, 120, 380, 280)
    found, cell = seen(design, [flat(plate, BROWN)], [i for i in order if i < design.count])
    assert found.symmetric_difference(plate).area / plate.length < cell


def test_a_white_thing_on_a_seam_does_not_pass_for_a_border_that_shows() -> None:
    """Paper's own white, just where the lower sheet's border would show if it were on top."""
    design = _mat()
    pitch = design.pitch[0]
    thin = box(pitch + 0.2, 150, pitch + 5.8, 215)
    # and a knob that hides the whole of what tells them apart, on the seam and beside it
    knob = box(pitch + 0.2, 300, pitch + 11.8, 318)
    for white in (thin, knob):
        slabs = [flat(box(200, 120, 400, 160), BROWN), flat(white, PAPER)]
        plan, lighting, _ = laid(design, slabs)
        printed = as_stacked(plan, lighting).printed
        assert not ((printed & ~plan.printed) & WHITE).any()


@pytest.mark.parametrize("order", [(1, 0), (0, 1)])
@pytest.mark.parametrize("plates", [[], [flat(box(40, 92, 520, 130), BROWN)]])
def test_the_print_that_is_divided_out_is_that_of_the_sheet_on_top(
    order: tuple[int, ...], plates: list[Slab]
) -> None:
    """Along a seam, and close to what lies across it."""
    design = MatDesign(paper_named("A4"), True, 2, 1)
    plan, lighting, _ = laid(design, plates, order)
    plan = as_stacked(plan, lighting)
    pitch = design.pitch[0]
    # on the rim of the one and on the tint of the other, away from where paper ends and tint begins
    x = pitch + np.array([2.0, 3.0, 4.0, 14.0, 15.0, 16.0])
    y = np.arange(10.0, 200.0)
    if plates:
        y = np.concatenate([np.arange(82.0, 91.0), np.arange(132.0, 141.0)])
    places = np.dstack(np.meshgrid(x, y))
    told, doubtful = print_divisor(lighting, plan)(places)
    shown = plan.at(plan.light, places) / plan.at(lighting.lit, places)
    assert not doubtful.any()
    assert np.abs(np.log(shown / told)).max() < 0.1
    # and just beside the cut edge of the sheet on top, on either side of it, it is not
    end = pitch if order[-1] else pitch + 18.0
    beside = np.array([(end + d, 30.0) for d in (-0.5, 0.5)])
    assert print_divisor(lighting, plan)(beside)[1].all()


def test_only_the_corner_on_a_turned_seam_is_in_doubt() -> None:
    """Three by two; of the lower row the second sheet lies on the first, all else as usual."""
    design = MatDesign(Paper("small", 140.0, 190.0), True, 3, 2)
    usual, lighting, _ = laid(design, [])
    turned, turned_lighting, _ = laid(design, [], (5, 4, 3, 2, 0, 1))
    seen = as_stacked(turned, turned_lighting)
    pitch = np.array(design.pitch)

    def corner(layer: NDArray[np.uint8], column: int) -> NDArray[np.uint8]:
        steps = np.arange(2.0, 16.5, 0.5)
        places = np.dstack(np.meshgrid(steps, steps)) + pitch * (column, 1)
        return usual.at(layer, places)

    assert as_stacked(usual, lighting) is usual
    assert (corner(seen.printed, 2) == corner(usual.printed, 2)).all()
    # any of the four sheets that meet at the other one may show: tint and paper everywhere
    loose = corner(seen.printed, 1)
    assert (loose & TINT).all() and (loose & WHITE).all()


def test_tint_on_a_short_stretch_of_white_border_is_the_other_sheet_on_top() -> None:
    """Beside what lies across a seam, 12 mm of it show the sheet below, cut off on the slant."""
    design = _mat()
    pitch = design.pitch[0]
    plan, lighting, _ = laid(design, [flat(box(200, 120, 400, 160), BROWN)])
    h, w = plan.printed.shape
    x = plan.origin[0] + np.arange(w) * plan.cell
    y = (plan.origin[1] + np.arange(h) * plan.cell)[:, None]
    seam = (plan.printed == WHITE) & (x > pitch) & (x < pitch + 18)
    seam &= (y > 160) & (y < 172 + 0.5 * (x - pitch - 15))
    assert seam.sum() * plan.cell**2 > 25
    light = np.where(seam[..., None], lighting.lit, plan.light)
    shown = as_stacked(replace(plan, light=light), lighting)
    assert ((shown.printed[seam] & TINT) > 0).mean() > 0.9
