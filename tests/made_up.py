"""A made-up measurement, with the scene and the photo that it could come from.

Nothing here is measured: the outline is drawn, the printed points are projected and then shifted by
known residuals. For tests of what comes after measuring.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.ops import unary_union

from profiler.detection.observations import Observations
from profiler.findings import Finding, Level
from profiler.geometry.frames import Frame2D
from profiler.instrument.record import Measurement, PartHeight, Quantity, Stretch, missing
from profiler.jobs.photo import Photo
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.paper import PAPERS
from profiler.scene.record import PlacedPanel, PrintScale, Scene
from profiler.target.card import card_panels
from profiler.target.mat import design_mat
from tests.painter import camera_over, small_four_string

Array = NDArray[np.float64]

LENS = Lens(1600, 1200, 1250.0, 806.0, 595.0, k1=0.06, k2=-0.08, p1=0.0006, p2=-0.0004)
HEIGHTS = {"body": 72.0, "neck": 66.0, "headstock": 52.0, "tuners": 44.0}
FRAME = Frame2D(0.06, (90.0, 205.0))


@dataclass(frozen=True)
class MadeUp:
    """What a job would hold."""

    measurement: Measurement
    scene: Scene
    photo: Photo
    #: (N, 2) px, where the outline would be seen
    edge_pixels: Array


def outline() -> tuple[Array, tuple[str, ...]]:
    """Plan outline and part of each point, instrument frame."""
    whole = unary_union([Polygon(p).buffer(0.5) for p in small_four_string().values()])
    points = np.asarray(whole.exterior.coords)[:-1]
    if Polygon(points).exterior.is_ccw is False:
        points = points[::-1]
    points = points - [points[:, 0].min(), 0.0]
    tuner = (np.abs(points[:, 1]) > 35) & (points[:, 0] > 450)
    parts = np.select(
        [tuner, points[:, 0] < 285, points[:, 0] < 503], ["tuners", "body", "neck"], "headstock"
    )
    return points, tuple(map(str, parts))


def made_up_measurement() -> Measurement:
    points, parts = outline()
    tuners = np.flatnonzero(np.array(parts) == "tuners")
    runs = np.split(tuners, np.flatnonzero(np.diff(tuners) > 1) + 1)
    length, width = float(np.ptp(points[:, 0])), float(np.ptp(points[:, 1]))
    return Measurement(
        outline=points,
        outline_u95=np.linspace(0.3, 0.6, len(points)),
        outline_part=parts,
        doubtful=tuple(
            Stretch(int(r[0]), int(r[-1]), "the height of the tuners is assumed") for r in runs
        ),
        length=Quantity(length, 0.41, mostly="lens, camera place and cards"),
        width=Quantity(width, 0.32, mostly="the edge in the photo"),
        height=missing("nobody measured the thickest place"),
        widths={
            "lower_bout": Quantity(width, 0.32, x=85.0),
            "waist": Quantity(154.2, 0.35, x=165.0),
            "upper_bout": missing("the body has no second bout"),
            "headstock": Quantity(66.0, 0.4, mostly="the height of the headstock", x=580.0),
        },
        box=(Quantity(length, 0.41), Quantity(width, 0.32)),
        area=Quantity(float(Polygon(points).area), 310.0),
        heights=(
            PartHeight("body", Quantity(72.0, 0.8, x=150.0), "card 1 and card 2"),
            PartHeight("neck", Quantity(66.0, 1.5, x=390.0), "card 4"),
            PartHeight("headstock", Quantity(52.0, 1.0, x=550.0), "card 5"),
            PartHeight("tuners", Quantity(44.0, 8.0, x=550.0), "assumed"),
        ),
        frame=FRAME,
        symmetric=True,
        findings=(
            Finding(202, Level.DOUBT, "The mat's check bars were not read."),
            Finding(511, Level.CAUTION, "The height of the tuners is assumed.", "tuners"),
            Finding(301, Level.NOTE, "No lens record for this phone."),
        ),
    )


def made_up_scene(seed: int = 7) -> Scene:
    """A solved scene: a mat of several sheets, one card, residuals of 0.2 px, one outlier."""
    rng = np.random.default_rng(seed)
    camera = camera_over(385.0, 235.0, 1050.0, LENS, (0.05, -0.04))
    design = design_mat(PAPERS["A4"])
    sheets = [
        PlacedPanel(
            panel,
            Pose(np.eye(3), np.array([*design.origin(i), 0.0])),
            PrintScale(0.998, 1.001, 5e-4, 5e-4, True),
            sum(len(c.offsets) for c in panel.clusters),
            0.19,
        )
        for i, panel in enumerate(design.sheets)
    ]
    card = PlacedPanel(
        card_panels()[0], Pose(np.eye(3), np.array([200.0, 200.0, 72.2])), PrintScale(), 10, 0.2
    )
    panels = [*sheets, card]
    index, code, local, exact = [], [], [], []
    for number, placed in enumerate(panels):
        for cluster in placed.panel.clusters:
            for saddle in cluster.saddles():
                index.append(number)
                code.append(cluster.code)
                local.append(saddle)
                exact.append(camera.project(placed.to_mat(saddle[None]))[0])
    residuals = rng.normal(0, 0.2, (len(local), 2))
    residuals[5] = (4.0, -3.0)
    used = np.ones(len(local), dtype=bool)
    used[5] = False
    observations = Observations(
        np.array(index),
        np.array(code),
        np.array(local),
        np.array(exact) + residuals,
        np.full(len(local), 0.1),
    )
    return Scene(
        (camera,),
        tuple(sheets),
        (card,),
        ("lens f",),
        np.eye(1),
        float(np.sqrt((residuals[used] ** 2).sum(axis=1).mean())),
        residuals,
        used,
        (observations,),
        "record",
    )


def seen_edge(measurement: Measurement, camera: Camera) -> Array:
    """(N, 2) px: the outline at the height of its parts, through the camera."""
    z = np.array([HEIGHTS[part] for part in measurement.outline_part])
    return camera.project(np.column_stack([measurement.frame.to_mat(measurement.outline), z]))


def made_up_photo(orientation: int = 1) -> Photo:
    x = np.linspace(90, 200, LENS.width)[None, :, None]
    pixels = np.broadcast_to(x, (LENS.height, LENS.width, 3)).astype(np.uint8)
    return Photo(
        Path("folder/top-1.jpg"), "ab" * 32, np.ascontiguousarray(pixels), orientation, "K", "K2"
    )


def made_up(orientation: int = 1) -> MadeUp:
    measurement, scene = made_up_measurement(), made_up_scene()
    return MadeUp(
        measurement, scene, made_up_photo(orientation), seen_edge(measurement, scene.cameras[0])
    )


def without_doubt(measurement: Measurement) -> Measurement:
    """The same with nothing to warn of."""
    return replace(
        measurement,
        doubtful=(),
        findings=(),
        height=Quantity(88.0, 1.0, mostly="the typed height"),
    )
