"""A side view's camera: placed from points, refused in clear words; and whose edge is used."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import cv2
import numpy as np
import pytest

from profiler.detection.grazing import corner_observations, find_grazing_tags
from profiler.errors import RequestError, SceneError
from profiler.instrument.record import PartHeight, Quantity, SideProfile, missing
from profiler.jobs.records import design_from_record, mat_record
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.heights import EdgeHeight
from profiler.paper import PAPERS
from profiler.pipeline.measure import NOT_TO_BE_RELIED_ON, _surest
from profiler.pipeline.side import SideResult, side_findings
from profiler.pipeline.side_scene import SideUnusable, solve_side
from profiler.scene.record import LensPrior, PlacedPanel, PrintScale, Scene
from profiler.target.card import card_panels
from profiler.target.mat import design_mat, design_upright
from profiler.target.panel import Ink, Panel
from tests.made_up import made_up_measurement

LENS = Lens(3000, 2250, 2250.0, 1499.5, 1124.5)
PRIOR = LensPrior(LENS, np.array([10.0, 0, 2, 2, 0, 0, 0, 0, 0]), "record")
SCALE = PrintScale(1.0, 1.0, 1e-4, 1e-4, True)
MAT = design_mat(PAPERS["A4"])
ROW = design_upright(PAPERS["A4"])
CENTRE = np.array([420.0, -330.0, 120.0])


def level_camera() -> Camera:
    forward = np.array([0.0, 1.0, -0.03]) / np.hypot(1.0, 0.03)
    right = np.array([1.0, 0.0, 0.0])
    rotation = np.stack([right, np.cross(forward, right), forward])
    return Camera(LENS, Pose(rotation, -rotation @ CENTRE))


def standing(lean_deg: float) -> list[Pose]:
    a = np.radians(lean_deg)
    x = np.array([1.0, 0, 0])
    up = np.array([0.0, np.sin(a), np.cos(a)])
    turn = np.column_stack([x, up, np.cross(x, up)])
    foot = np.array([10.0, 480.0, 1.0])
    return [Pose(turn, foot + turn @ np.array([*ROW.origin(k), 0.0])) for k in range(ROW.count)]


def lying() -> list[Pose]:
    return [Pose(np.eye(3), np.array([*MAT.origin(k), 0.0])) for k in range(MAT.count)]


def from_above() -> Scene:
    sheets = tuple(
        PlacedPanel(panel, pose, SCALE, 24, 0.1)
        for panel, pose in zip(MAT.sheets, lying(), strict=True)
    )
    over = Camera(LENS, Pose(np.diag([1.0, -1, -1]), np.array([-400.0, 250.0, 1000.0])))
    none = np.zeros(0, dtype=bool)
    return Scene(
        (over,), sheets, (), (), np.zeros((0, 0)), 0.1, np.zeros((0, 2)), none, (), "record"
    )


def painted(lean_deg: float, row: bool = True, mat: bool = True) -> np.ndarray:
    """Both prints through the camera, three times finer and then averaged: no light, no noise."""
    k = 3
    camera = level_camera()
    picture = np.full((LENS.height * k, LENS.width * k, 3), 120, dtype=np.uint8)

    def put(panel: Panel, pose: Pose) -> None:
        inks = [(panel.tinted, Ink.TINT), *(i for c in panel.clusters for i in c.ink())]
        for rect, ink in inks:
            flat = np.array(
                [
                    (rect.x0, rect.y0, 0.0),
                    (rect.x1, rect.y0, 0.0),
                    (rect.x1, rect.y1, 0.0),
                    (rect.x0, rect.y1, 0.0),
                ]
            )
            points = pose.apply(flat)
            if (camera.camera_from_mat.apply(points)[:, 2] < 60).any():
                continue
            corners = (camera.project(points) * k + (k - 1) / 2) * 16
            colour = {Ink.TINT: (238, 210, 180), Ink.WHITE: (250,) * 3, Ink.BLACK: (28,) * 3}[ink]
            cv2.fillConvexPoly(picture, np.rint(corners).astype(np.int32), colour, shift=4)

    for wanted, design, poses in ((mat, MAT, lying()), (row, ROW, standing(lean_deg))):
        for panel, pose in zip(design.sheets, poses, strict=True):
            if wanted:
                put(panel, pose)
    return cv2.resize(picture, (LENS.width, LENS.height), interpolation=cv2.INTER_AREA)


def test_the_camera_is_found_and_the_lean_is_told() -> None:
    side = solve_side("side-1.jpg", painted(3.0), from_above(), PRIOR, ROW, SCALE)
    off = np.abs(side.scene.cameras[0].centre - CENTRE)
    # the height is what counts; how far away it stood trades places with the focal length
    assert off[2] < 0.2 and off.max() < 1.2
    assert abs(side.lean - 3.0) < 0.3


def test_the_row_is_recognised_without_its_record() -> None:
    side = solve_side("side-1.jpg", painted(0.0), from_above(), PRIOR, None, SCALE)
    assert side.design.paper.name == "A4" and side.design.landscape


@pytest.mark.parametrize(
    ("lean", "row", "mat", "words"),
    [
        (27.0, True, True, "leans by 2"),
        (0.0, False, True, "no upright sheet is seen"),
        (0.0, True, False, "targets on the bench"),
    ],
)
def test_what_cannot_be_placed_is_refused(lean: float, row: bool, mat: bool, words: str) -> None:
    with pytest.raises(SideUnusable, match=words) as told:
        solve_side("side-1.jpg", painted(lean, row, mat), from_above(), PRIOR, ROW, SCALE)
    assert isinstance(told.value, SceneError)
    assert str(told.value).startswith("side-1.jpg")


def test_slivers_of_tags_are_read() -> None:
    gray = cv2.cvtColor(painted(0.0), cv2.COLOR_BGR2GRAY)
    camera = level_camera()
    tags = find_grazing_tags(gray, LENS, camera.camera_from_mat.after(standing(0.0)[1]))
    ours = {c.code: (panel, pose, c) for panel, pose in zip(MAT.sheets, lying(), strict=True)
            for c in panel.clusters}  # fmt: skip
    right = [code for code in tags if code in ours]
    assert len(right) >= 8
    for code in right:
        _, pose, cluster = ours[code]
        flat = np.column_stack([cluster.tag_corners(), np.zeros(4)])
        true = camera.project(pose.apply(flat))
        assert np.abs(true - tags[code]).max() < 4.0
    points = corner_observations({c: tags[c] for c in right}, list(MAT.sheets))
    assert len(points) == 4 * len(right)


def test_identities_belong_to_one_kind_of_print() -> None:
    kinds = [
        {c.code for panel in panels for c in panel.clusters}
        for panels in (MAT.sheets, ROW.sheets, card_panels())
    ]
    assert not (kinds[0] & kinds[1] or kinds[1] & kinds[2] or kinds[0] & kinds[2])
    with pytest.raises(RequestError, match="identities"):
        design_upright(PAPERS["A0"])


def test_the_record_of_a_row_is_read_back_as_one() -> None:
    design, scale = design_from_record(mat_record(ROW, ROW.bar_x.length, ROW.bar_y.length - 0.5))
    assert design == ROW
    assert scale.read and scale.y < 1.0


def test_side_views_that_contradict_each_other_are_named_and_not_relied_on() -> None:
    blank = np.zeros(0)
    none = missing("not asked")
    one = SideProfile(
        "side-1.jpg", blank, blank, blank, blank, blank, (), (), none, none, none, none,
        Quantity(14.0, 0.6), none,
    )  # fmt: skip
    two = replace(one, photo="side-2.jpg", tilt=Quantity(17.0, 0.6))
    seen = [
        cast(
            SideResult,
            SimpleNamespace(
                photo=SimpleNamespace(name=p.photo), profile=p, placed=SimpleNamespace(lean=0.0)
            ),
        )
        for p in (one, two)
    ]
    bench = replace(made_up_measurement(), side=one)
    (finding,) = side_findings(bench, seen)
    assert finding.code in NOT_TO_BE_RELIED_ON and finding.where == "side-2.jpg"
    assert "side-1.jpg and side-2.jpg do not agree about the headstock's tilt" in finding.message
    assert side_findings(bench, [seen[0], seen[0]]) == []


def told(edges: dict[str, EdgeHeight]) -> SideResult:
    """A side view that tells these edges; the rest of it is not asked."""
    return cast(SideResult, SimpleNamespace(edges=edges))


def test_the_outline_is_lifted_to_the_surest_edge_where_its_height_counts() -> None:
    known = PartHeight("body", Quantity(70.0, 2.0, x=150.0), "card 1")
    bench = replace(made_up_measurement(), heights=(known,))
    near = EdgeHeight(150.0, 71.0, 0.0, 0.3, 0.001, "the side view b.jpg", True)
    # as sure where it was seen, and unsure 150 mm away
    far = EdgeHeight(0.0, 69.0, 0.0, 0.2, 0.02, "the side view a.jpg", True)
    assert _surest([told({"body": far})], bench) == {}
    for seen in ([far, near], [near, far]):
        assert _surest([told({"body": edge}) for edge in seen], bench) == {"body": near}
    assert _surest([told({"button": near})], bench) == {}
