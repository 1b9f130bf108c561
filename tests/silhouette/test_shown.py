"""Where the print itself is seen, it is ground, in whatever shade and colour of light."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from profiler.paper import paper_named
from profiler.silhouette.ground import WHITE, Lighting, Plan
from profiler.silhouette.mask import find_silhouette
from profiler.silhouette.shown import paper_unseen, shown_print
from profiler.silhouette.stacking import as_stacked
from profiler.target.mat import design_mat
from tests.silhouette.flat import flat, laid

#: BGR: what a red wall leaves of the light in the pocket beside it
RED_SHADE = np.array([0.05, 0.05, 0.09], dtype=np.float32)


@pytest.fixture(scope="module")
def pocket() -> tuple[Plan, Lighting, NDArray[np.float64]]:
    """A red plate up to the middle of a target, whose other half lies in the plate's red shade."""
    design = design_mat(paper_named("A2"), 560, 400)
    cluster = min(
        (c for s in design.sheets for c in s.clusters),
        key=lambda c: np.hypot(c.x - 280, c.y - 200),
    )
    place = np.array([cluster.x, cluster.y])
    plate = box(place[0] - 120, place[1] - 80, place[0], place[1] + 80)
    plan, lighting, _ = laid(design, [flat(plate, (60, 70, 200))])
    return _shaded(plan, place), lighting, place


def _shaded(plan: Plan, place: NDArray[np.float64]) -> Plan:
    """The same with 16 mm of ground right of the place in deep red shade, softly ended."""
    h, w = plan.printed.shape
    x = plan.origin[0] + np.arange(w) * plan.cell - place[0]
    y = plan.origin[1] + np.arange(h) * plan.cell - place[1]
    fades = np.clip((24.0 - x) / 8.0, 0, 1) * (x > 0)
    depth = np.clip((24.0 - np.abs(y)) / 8.0, 0, 1)[:, None] * fades
    light = plan.light * np.exp(depth[..., None] * np.log(RED_SHADE))
    return replace(plan, light=light.astype(np.float32))


def test_a_print_deep_in_red_shade_is_ground(
    pocket: tuple[Plan, Lighting, NDArray[np.float64]],
) -> None:
    plan, lighting, place = pocket
    found = find_silhouette(plan, lighting)
    assert found is not None
    bare = np.array([(x, y) for x in (3.0, 5.0, 7.0, 9.0, 11.0) for y in (-5.0, 0.0, 5.0)])
    # by shade and hue alone the whole target was taken for the plate's
    assert not plan.at(found.mask, place + bare).any()
    assert plan.at(found.mask, place - bare).all()


def test_the_print_shows_the_light_on_it_and_only_where_it_is_bare(
    pocket: tuple[Plan, Lighting, NDArray[np.float64]],
) -> None:
    plan, lighting, place = pocket
    shown = shown_print(plan, lighting)
    beside = place + np.array([[5.0, 0.0], [8.0, 4.0], [8.0, -4.0]])
    assert plan.at(shown.there, beside).all()
    assert np.abs(np.exp(plan.at(shown.light, beside)) / RED_SHADE - 1).max() < 0.15
    assert not plan.at(shown.there, place - np.array([[3.0, 0.0], [8.0, 4.0], [60.0, 0.0]])).any()


def test_a_print_seen_in_a_mirror_is_not_where_it_should_be(
    pocket: tuple[Plan, Lighting, NDArray[np.float64]],
) -> None:
    plan, lighting, place = pocket
    middle = round(float(plan.to_cells(place[None])[0, 0]))
    wide = 30
    light = plan.light.copy()
    light[:, middle - wide : middle] = 0.7 * plan.light[:, middle : middle + wide][:, ::-1]
    shown = shown_print(replace(plan, light=light), lighting)
    assert not plan.at(shown.there, place - np.array([[5.0, 0.0], [8.0, 4.0], [8.0, -4.0]])).any()


@pytest.fixture(scope="module")
def board() -> tuple[Plan, Lighting, Polygon]:
    """A dark grey board with some grain across the white seam of two sheets."""
    design = design_mat(paper_named("A4"), 560, 400)
    thing = box(120, 180, 440, 230)
    plan, lighting, _ = laid(design, [flat(thing, (88, 88, 88))])
    grain = np.exp(0.1 * np.random.default_rng(3).standard_normal(plan.light.shape))
    plan = replace(plan, light=(plan.light * grain).astype(np.float32))
    return as_stacked(plan, lighting), lighting, thing


def test_a_dark_board_over_a_white_seam_is_not_bitten(
    board: tuple[Plan, Lighting, Polygon],
) -> None:
    plan, lighting, thing = board
    found = find_silhouette(plan, lighting)
    assert found is not None
    # paper in shadow is grey as well, and the board's grey beside it passed into that
    assert plan.at(found.mask, _within(thing)).all()


def test_a_seam_in_deep_shadow_is_still_ground(board: tuple[Plan, Lighting, Polygon]) -> None:
    plan, lighting, _ = board
    shaded = replace(plan, light=plan.light * np.float32(0.25))
    ratio = np.log(np.maximum(shaded.light, 1e-5) / np.maximum(lighting.lit, 1e-5))
    shade = ratio.mean(axis=2)
    hue = (ratio[..., 0] - shade, ratio[..., 2] - shade)
    unseen = paper_unseen(shaded, lighting, shade, hue)
    away = _within(box(120, 60, 440, 160))
    paper = plan.at(plan.printed, away) == WHITE
    assert paper.sum() > 50
    assert not plan.at(unseen, away).any()


def test_a_white_board_over_a_white_seam_is_not_bitten_and_a_tape_on_it_stays_small() -> None:
    board_ = box(150, 90, 420, 260)
    tape = box(262, 300, 298, 318)
    white = (236, 238, 240)
    plan, lighting, _ = laid(
        design_mat(paper_named("A4"), 560, 400), [flat(board_, white), flat(tape, white)]
    )
    plan = as_stacked(plan, lighting)
    paper = plan.at(plan.printed, _within(board_)) == WHITE
    assert paper.sum() > 50  # a seam runs under it
    found = find_silhouette(plan, lighting)
    assert found is not None
    assert plan.at(found.mask, _within(board_)).mean() > 0.995
    area = float(found.mask.sum()) * plan.cell**2
    assert area == pytest.approx(board_.area, rel=0.01)
    assert sum(found.others) < 1.05 * tape.area


def _within(area: Polygon) -> NDArray[np.float64]:
    """(N, 2) mm, a grid of places 2 mm inside an area."""
    x0, y0, x1, y1 = area.buffer(-2.0).bounds
    x, y = np.meshgrid(np.arange(x0, x1), np.arange(y0, y1))
    return np.column_stack([x.ravel(), y.ravel()])
