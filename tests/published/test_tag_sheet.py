"""A7: one photo of a flat sheet with 12 tags of 53 mm, of the ViSP project's image data.

The data are GPL-2 and stay outside: fetched from Debian's package `visp-images-data` (75 MB) by its
ordinary client where `PROFILER_TEST_DOWNLOADS` is set, or used where the package is installed.
Intrinsics as published with it: f 615.1675, centre (312.189, 243.437).
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from platformdirs import user_cache_path

from profiler.detection.observations import Observations
from profiler.detection.tags import find_tags
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.scene.record import LensPrior, PrintScale, Scene
from profiler.scene.solve import PanelStart, SceneProblem, solve_scene
from profiler.scene.start import plane_pose
from profiler.target.panel import Panel, Rect

PACKAGE = "visp-images-data"
INSIDE = Path("usr/share/visp-images-data/ViSP-images/AprilTag/AprilTag.pgm")
SIDE = 53.0
LENS = Lens(640, 480, 615.1675, 312.189, 243.437)
#: top left, top right, bottom right, bottom left, y up
CORNERS = np.array([(0, SIDE), (SIDE, SIDE), (SIDE, 0), (0, 0)], dtype=np.float64)


def photo() -> NDArray[np.uint8]:
    """The picture, from the installed package, from the cache, or fetched."""
    kept = user_cache_path("profiler-bench") / PACKAGE
    places = [Path("/") / INSIDE, kept / INSIDE]
    if not any(p.exists() for p in places):
        if not os.environ.get("PROFILER_TEST_DOWNLOADS"):
            pytest.skip(f"{PACKAGE} is not installed, and PROFILER_TEST_DOWNLOADS is not set")
        if not (shutil.which("apt-get") and shutil.which("dpkg-deb")):
            pytest.skip(f"{PACKAGE} can only be fetched where Debian's tools are")
        kept.mkdir(parents=True, exist_ok=True)
        fetched = subprocess.run(
            ["apt-get", "download", PACKAGE], cwd=kept, capture_output=True, text=True, timeout=300
        )
        files = sorted(kept.glob("*.deb"))
        if fetched.returncode or not files:
            pytest.skip(f"{PACKAGE} cannot be fetched here: {fetched.stderr.strip()[-200:]}")
        subprocess.run(["dpkg-deb", "-x", str(files[0]), str(kept)], check=True, timeout=300)
        files[0].unlink()
    found = next(p for p in places if p.exists())
    return np.asarray(cv2.imread(str(found), cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


@pytest.fixture(scope="module")
def tags() -> dict[int, NDArray[np.float64]]:
    return find_tags(photo())


def sides(plane: NDArray[np.float64]) -> NDArray[np.float64]:
    """(4,) lengths of the sides of corners (4, 2)."""
    return np.hypot(*(np.roll(plane, -1, axis=0) - plane).T)


def solved(tags: dict[int, NDArray[np.float64]]) -> Scene:
    """Each tag a sheet of the program's own mat model: flat, of known size, lying anywhere."""
    codes = sorted(tags)
    face = Rect(0.0, 0.0, SIDE, SIDE)
    first = plane_pose(LENS, CORNERS, tags[codes[0]])
    assert first is not None
    rough = {
        c: cv2.perspectiveTransform(
            tags[c].reshape(-1, 1, 2),
            cv2.getPerspectiveTransform(
                tags[codes[0]].astype(np.float32), CORNERS.astype(np.float32)
            ).astype(np.float64),
        ).reshape(4, 2)
        for c in codes
    }
    starts = []
    for c in codes:
        across = rough[c][1] - rough[c][0]
        a = float(np.arctan2(across[1], across[0]))
        turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1.0]])
        middle = rough[c].mean(axis=0) - turn[:2, :2] @ CORNERS.mean(axis=0)
        starts.append(
            PanelStart(
                Panel(f"sheet {c}", SIDE, SIDE, face, face, ()),
                Pose(turn, np.array([*middle, 0.0])),
                "fixed" if c == codes[0] else "sheet",
            )
        )
    seen = Observations(
        np.repeat(np.arange(len(codes)), 4),
        np.repeat(np.array(codes), 4),
        np.tile(CORNERS, (len(codes), 1)),
        np.concatenate([tags[c] for c in codes]),
        np.full(4 * len(codes), 0.3),
    )
    exact = PrintScale(1.0, 1.0, 0.0, 0.0, True)
    held = LensPrior(LENS, np.zeros(len(LENS_TERMS)), "published")
    return solve_scene(SceneProblem(held, [seen], starts, [first], exact), robust=False)


@pytest.mark.download
def test_the_published_sides_come_back_in_millimetres(tags: dict[int, NDArray[np.float64]]) -> None:
    """Found with OpenCV 5.0, joint plane of 12: mean 53.05 mm, standard deviation 0.50.

    Here 53.00 and 0.61, and 0.58 to 0.81 with each way that OpenCV has to refine a tag's corners,
    on the picture as it is and enlarged. It is the corners, not the plane: the plane under which
    the sides come nearest to 53 mm, whatever else it does, leaves 0.61 as well. The program only
    names sheets by tags and measures at saddles, so it has no finer way to corners than this.
    """
    assert len(tags) == 12
    camera = solved(tags).cameras[0]
    all_sides = np.concatenate([sides(camera.at_height(c, 0.0)[:, :2]) for c in tags.values()])
    print(all_sides.mean(), all_sides.std())
    assert all_sides.mean() == pytest.approx(SIDE, abs=0.15)
    assert all_sides.std() < 0.65


@pytest.mark.download
def test_one_tag_alone_tells_the_plane_poorly(tags: dict[int, NDArray[np.float64]]) -> None:
    """The other sides spread by 2.6 to 3.4 mm with the plane of one tag: why a mat has many."""
    spreads = []
    for corners in tags.values():
        plane = cv2.getPerspectiveTransform(corners.astype(np.float32), CORNERS.astype(np.float32))
        others = [
            sides(cv2.perspectiveTransform(c.reshape(-1, 1, 2), plane.astype(np.float64))[:, 0])
            for c in tags.values()
            if c is not corners
        ]
        spreads.append(float(np.concatenate(others).std()))
    print(spreads)
    assert np.median(spreads) > 1.0
