"""Which of a small card's two tilts the solution starts from."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.pipeline import scene
from profiler.scene.record import LensPrior

Array = NDArray[np.float64]
LENS = Lens(width=2000, height=1500, f=1525.0, cx=999.5, cy=749.5)
PRIOR = LensPrior(LENS, np.zeros(len(LENS_TERMS)), "fixed")
POINTS = np.stack(np.meshgrid(np.arange(6) * 4.0, np.arange(5) * 4.0), axis=-1).reshape(-1, 2)
OBSERVED = Observations(
    panel=np.zeros(len(POINTS), dtype=np.intp),
    code=np.zeros(len(POINTS), dtype=np.intp),
    local=POINTS,
    pixels=np.zeros((len(POINTS), 2)),
    sigma=np.full(len(POINTS), 0.13),
)


def leaning(by: float) -> Pose:
    rotation, _ = cv2.Rodrigues(np.array([0.0, by, 0.0]))
    return Pose(np.asarray(rotation, np.float64), np.array([0.0, 0.0, 40.0]))


def tilt_taken() -> float:
    start = scene._card_pose(0, [OBSERVED], [Pose(np.eye(3), np.zeros(3))], PRIOR)
    assert start is not None
    return float(np.arctan2(start.rotation[0, 2], start.rotation[2, 2]))


@pytest.mark.parametrize("steep", [1.2, -1.2])
def test_a_card_does_not_start_steeper_than_paper_stays_on_varnish(
    monkeypatch: pytest.MonkeyPatch, steep: float
) -> None:
    """Points of 4 px checks are rough: seen on a headstock, 67 degrees fitted them best."""
    poses = [(0.55, leaning(steep)), (0.73, leaning(0.14))]
    monkeypatch.setattr(scene, "plane_poses", lambda *_: poses)
    assert tilt_taken() == pytest.approx(0.14)


def test_of_two_tilts_that_a_card_may_have_the_better_fit_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    poses = [(0.2, leaning(0.4)), (0.73, leaning(0.0))]
    monkeypatch.setattr(scene, "plane_poses", lambda *_: poses)
    assert tilt_taken() == pytest.approx(0.4)
