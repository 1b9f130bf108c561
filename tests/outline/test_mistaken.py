"""A point that may be another edge than it was taken for says by how much it would be out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.heights import EdgeHeight, PartEdges
from profiler.outline.mistaken import RimTaken, confirmed, mistaken_edge
from profiler.outline.parts import Parts
from profiler.outline.sight import Sight
from profiler.silhouette.edge import Edge

CAMERA = Camera(
    Lens(4000, 3000, 3000.0, 1999.5, 1499.5),
    Pose(np.diag([1.0, -1.0, -1.0]), np.array([-0.0, 0.0, 1000.0])),
)
TOP, BACK, HEAD = 100.0, 1.0, 60.0


def level(z: float) -> EdgeHeight:
    return EdgeHeight(0.0, z, 0.0, 0.0, 0.0, "made up", True)


HEIGHTS = {
    "body": PartEdges(level(TOP), level(BACK)),
    "neck": PartEdges(level(HEAD), level(HEAD)),
    "headstock": PartEdges(level(HEAD), level(HEAD)),
    "tuners": PartEdges(level(HEAD), level(HEAD)),
    "button": PartEdges(level(HEAD), level(HEAD)),
}


def sight(told: float, rim: float, sure: bool, parts: str = "one") -> Sight:
    """A round body of 150 mm radius whose edge is seen from over its middle."""
    t = np.linspace(0, 2 * np.pi, 942, endpoint=False)
    on_mat = 150.0 * np.column_stack([np.cos(t), np.sin(t)])
    pixels = CAMERA.project(np.column_stack([on_mat, np.zeros(len(t))]))
    labels = np.full(len(t), "body", dtype="<U9")
    if parts == "two":
        labels[:100] = "tuners"
    if parts == "over":
        labels[:] = "neck"
        labels[:100] = "headstock"
    ones = np.ones(len(t))
    return Sight(
        "made up.jpg",
        0,
        Edge(pixels, on_mat, ones > 0, 0.1 * ones),
        Parts(Frame2D(0.0, (-150.0, 0.0)), 300.0, 250.0, 280.0, labels, 150.0 * np.ones(301)),
        told * ones,
        np.full(len(t), sure),
        rim * ones,
        on_mat,
    )


#: upper and lower rim of the same silhouette, as far apart as a line of sight spreads over the side
APART = 150.0 * (TOP - BACK) / 1000.0


@pytest.mark.parametrize("told", [0.5, 0.3, 0.2])
def test_the_variance_is_that_of_a_choice_between_two_places(told: float) -> None:
    """p (1 - p) d², the variance of a two-valued quantity, for either choice."""
    for rim, wrong in ((1.0, told), (0.0, 1 - told)):
        u = mistaken_edge(sight(told, rim, sure=False), CAMERA, HEIGHTS)
        p = min(wrong, 0.5)
        # the rounded edge of the upper rim is a little further out
        assert u == pytest.approx(np.sqrt(p * (1 - p)) * APART, rel=0.03)


def test_a_sure_rim_is_not_mistaken_and_a_telling_look_rarely() -> None:
    assert not mistaken_edge(sight(0.5, 1.0, sure=True), CAMERA, HEIGHTS).any()
    rare = mistaken_edge(sight(0.0, 1.0, sure=False), CAMERA, HEIGHTS)
    assert 0 < rare.max() < 0.3 * APART


def test_where_parts_meet_either_may_be_meant_and_soon_no_longer() -> None:
    seen = sight(0.0, 1.0, sure=True, parts="two")
    u = mistaken_edge(seen, CAMERA, HEIGHTS)
    step = 150.0 * (TOP - HEAD) / 1000.0
    assert 0.3 * step < u[99] < 0.6 * step and 0.3 * step < u[100] < 0.6 * step
    assert u[110] < 0.3 * u[101]
    assert not u[200:800].any()


def test_a_neck_goes_over_into_its_headstock() -> None:
    tilted = {**HEIGHTS, "headstock": PartEdges(level(40.0), level(40.0))}
    assert not mistaken_edge(sight(0.0, 1.0, True, parts="over"), CAMERA, tilted).any()
    other = replace(sight(0.0, 1.0, True, parts="two"))
    assert mistaken_edge(other, CAMERA, tilted).any()


def taken(wrong: float, way: float) -> RimTaken:
    return RimTaken(np.array([wrong]), np.array([way]))


def told(*photos: RimTaken, apart: float, blind: bool = False) -> list[RimTaken]:
    """Of two photos that were found so far apart, mm."""
    hidden = np.full((2, 2, 1), blind)
    return confirmed(photos, np.array([[0.0], [apart]]), np.full((2, 1), 0.15), hidden)


def test_photos_that_come_together_are_less_in_doubt_and_others_are_not() -> None:
    unsure, sure = taken(0.5, 3.0), taken(0.0, 3.0)
    together, other = told(unsure, sure, apart=0.1)
    assert together.u < 0.8 * unsure.u
    # the other photo may be misled by the same thing
    assert together.wrong > 0.1
    assert other.wrong == 0.0
    # only the other rim would bring them together
    assert told(unsure, sure, apart=3.1)[0].wrong > 0.9
    # somewhere else altogether, or hidden: nothing is told
    assert told(unsure, sure, apart=-9.0)[0].wrong == pytest.approx(0.5, abs=0.1)
    assert told(unsure, sure, apart=0.1, blind=True)[0].wrong == pytest.approx(0.5)


def test_two_photos_that_are_as_unsure_do_not_make_each_other_sure() -> None:
    # the way is the same: together they are right, or together wrong
    unsure = taken(0.5, 3.0)
    first, second = told(unsure, unsure, apart=0.0)
    assert first.wrong == pytest.approx(second.wrong)
    assert first.wrong > 0.4
