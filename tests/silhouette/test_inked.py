"""The print's light at a place, by formula, against the same print drawn finely and averaged."""

from __future__ import annotations

import cv2
import numpy as np

from profiler.optics.camera import Pose
from profiler.paper import paper_named
from profiler.scene.record import PlacedPanel, PrintScale
from profiler.silhouette.ground import coverage, inked
from profiler.silhouette.inked import ink_at
from profiler.silhouette.stack import Stack
from profiler.target.mat import DEFAULT_TINT, MatDesign


def sheet() -> PlacedPanel:
    design = MatDesign(paper_named("A4"), True, 1, 1, DEFAULT_TINT)
    panel = design.sheets[0]
    turn = np.radians(3.0)
    rotation = np.array(
        [[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]]
    )
    return PlacedPanel(
        panel, Pose(rotation, np.array([4.0, -2.0, 0.0])), PrintScale(1.002, 0.997), 100, 0.1
    )


def test_formula_and_drawing_agree() -> None:
    placed = sheet()
    cell = 0.1
    cluster = placed.panel.clusters[3]
    middle = placed.to_mat(np.array([(cluster.x, cluster.y)]))[0, :2]
    low = middle - 15.0
    white, black = coverage(inked([placed]), low, cell, (300, 300))
    columns, rows = np.meshgrid(np.arange(300), np.arange(300))
    places = low + cell * np.dstack([columns, rows])
    sigma = 0.4
    by_formula = ink_at(Stack((placed,)), places, sigma)
    # the drawing is blurred as much by OpenCV, and margins are cut off
    inner = np.s_[30:-30, 30:-30]
    for drawn, told in zip((white, black), by_formula[:2], strict=True):
        blurred = cv2.GaussianBlur(drawn, (0, 0), sigma / cell)
        assert np.abs(blurred - told)[inner].max() < 0.06
        assert np.abs(blurred - told)[inner].mean() < 0.01
    assert by_formula[1].max() > 0.95 and by_formula[0].max() > 0.95
    assert not by_formula[2].any()


def test_margin_is_paper_and_its_end_is_in_doubt() -> None:
    placed = sheet()
    panel = placed.panel
    margin = (panel.tinted.x0 / 2, panel.height / 2)
    bare = (panel.tinted.x0 + 3.0, panel.height / 2 + 1.7)
    end, beyond = (0.3, panel.height / 2), (-5.0, panel.height / 2)
    places = placed.to_mat(np.array([margin, bare, end, beyond]))[:, :2]
    white, black, doubtful = ink_at(Stack((placed,)), places, 0.3)
    assert white[0] > 0.99 and white[3] == 0.0
    assert black.max() < 0.01
    assert doubtful.tolist() == [False, False, True, False]


def test_the_upper_sheet_hides_the_lower() -> None:
    upper = sheet()
    shift = np.array([3.0, 0.0, 0.0])
    lower = PlacedPanel(
        upper.panel,
        Pose(upper.mat_from_panel.rotation, upper.mat_from_panel.translation + shift),
        upper.scale,
        100,
        0.1,
    )
    tag = upper.panel.clusters[2]
    place = upper.to_mat(np.array([(tag.x - tag.tag_mm / 2 + 0.4, tag.y)]))[:, :2]
    alone = ink_at(Stack((upper,)), place, 0.2)
    assert [a.tolist() for a in ink_at(Stack((upper, lower)), place, 0.2)] == [
        a.tolist() for a in alone
    ]
    assert [a.tolist() for a in ink_at(Stack((lower, upper)), place, 0.2)] != [
        a.tolist() for a in alone
    ]
