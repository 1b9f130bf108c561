"""Sheets laid in another order than that of their numbers: the border that shows is paper."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from profiler.paper import paper_named
from profiler.silhouette.ground import TINT, WHITE
from profiler.silhouette.stacking import as_stacked
from profiler.target.mat import MatDesign, design_mat
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
        plan, lighting, scene = laid(design, slabs)
        printed = as_stacked(plan, lighting, scene.lying).printed
        assert not ((printed & ~plan.printed) & WHITE).any()


def test_tint_on_a_short_stretch_of_white_border_is_the_other_sheet_on_top() -> None:
    """Beside what lies across a seam, 12 mm of it show the sheet below, cut off on the slant."""
    design = _mat()
    pitch = design.pitch[0]
    plan, lighting, scene = laid(design, [flat(box(200, 120, 400, 160), BROWN)])
    h, w = plan.printed.shape
    x = plan.origin[0] + np.arange(w) * plan.cell
    y = (plan.origin[1] + np.arange(h) * plan.cell)[:, None]
    seam = (plan.printed == WHITE) & (x > pitch) & (x < pitch + 18)
    seam &= (y > 160) & (y < 172 + 0.5 * (x - pitch - 15))
    assert seam.sum() * plan.cell**2 > 25
    light = np.where(seam[..., None], lighting.lit, plan.light)
    shown = as_stacked(replace(plan, light=light), lighting, scene.lying)
    assert ((shown.printed[seam] & TINT) > 0).mean() > 0.9
