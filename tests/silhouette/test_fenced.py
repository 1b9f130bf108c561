"""A glossy wall mirrors the mat and has its hue; but it ends sharply, and no soft shadow does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import box

from profiler.paper import paper_named
from profiler.silhouette.ground import TARGET, TINT, Lighting, Plan
from profiler.silhouette.mask import find_silhouette
from profiler.silhouette.patches import fenced_off
from profiler.target.mat import design_mat
from tests.silhouette.flat import flat, laid

BROWN = (60, 90, 140)
#: the mat's light that is left on the wall, and in the shadow
DIMMED = 0.45
X = 280.0


@pytest.fixture(scope="module")
def plate() -> tuple[Plan, Lighting]:
    plan, lighting, _ = laid(
        design_mat(paper_named("A2"), 560, 400), [flat(box(190, 150, X, 250), BROWN)]
    )
    return plan, lighting


def _dimmed(plan: Plan, wide: float, ends_over: float) -> Plan:
    """With a dark band beside the plate, so wide, that ends over so many mm."""
    h, w = plan.printed.shape
    x = plan.origin[0] + np.arange(w) * plan.cell - X
    y = plan.origin[1] + np.arange(h) * plan.cell
    share = np.clip((wide - x) / ends_over + 0.5, 0, 1) * (x > 0)
    share = share * ((y > 150) & (y < 250))[:, None]
    light = plan.light * np.exp(share * np.log(DIMMED))[..., None]
    return replace(plan, light=light.astype(np.float32))


def _beside(plan: Plan) -> NDArray[np.float64]:
    """Places on bare tint 2 to 5 mm beside the plate."""
    x, y = np.meshgrid(X + np.arange(2.0, 5.5, 0.5), np.arange(155.0, 246.0))
    places = np.column_stack([x.ravel(), y.ravel()])
    return places[plan.at(plan.printed, places) == TINT]


def test_a_wall_that_mirrors_the_mat_belongs_to_what_it_stands_on(
    plate: tuple[Plan, Lighting],
) -> None:
    plan, lighting = plate
    found = find_silhouette(_dimmed(plan, 7.0, 1.0), lighting)
    assert found is not None
    # by its hue all of it was ground
    assert plan.at(found.mask, _beside(plan)).mean() > 0.95


def test_a_shadow_of_the_same_depth_is_ground(plate: tuple[Plan, Lighting]) -> None:
    plan, lighting = plate
    # 5 mm is steep: the step from cell to cell is that of an edge that is blurred a little more
    for ends_over in (5.0, 8.0):
        found = find_silhouette(_dimmed(plan, 12.0, ends_over), lighting)
        assert found is not None
        assert not plan.at(found.mask, _beside(plan)).any()


@pytest.mark.parametrize(("darker", "fenced"), [(-1.2, True), (-0.5, False)])
def test_a_target_half_under_a_dark_plate_of_the_mats_hue_is_no_way_onto_it(
    plate: tuple[Plan, Lighting], darker: float, fenced: bool
) -> None:
    """The plate's edge runs across a target, whose other half is seen. Were the plate no darker
    than the ground's shadow may be, the target could lie in that."""
    plan, _ = plate
    h, w = 120, 160
    printed = np.full((h, w), TINT, dtype=np.uint8)
    printed[45:75, 65:95] = TARGET
    under = np.arange(w)[None, :] >= 80
    under = np.repeat(under, h, axis=0)
    steps = np.zeros((h, w), dtype=np.float32)
    steps[:, 79:81] = 0.5
    shown = (printed == TARGET) & ~under
    shade = np.where(under, darker, 0.0).astype(np.float32)
    sure = printed == TINT
    found = fenced_off(sure, steps, shade, shown, replace(plan, printed=printed))
    assert found[sure & under & (np.arange(w) > 85)].all() == fenced
    assert not found[~under & (np.arange(w) < 75)].any()
