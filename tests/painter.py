"""A painter of flat scenes for fast tests: exact geometry, no light simulation.

It paints the mat, then an upright-walled slab for each part of a made-up instrument, straight
through the camera's own projection. Good for geometry at known heights; for light and shadow
there is the studio.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.ops import unary_union

from profiler.jobs.photo import Photo
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.target.card import card_panels
from profiler.target.mat import MatDesign
from profiler.target.panel import Ink, Panel

Array = NDArray[np.float64]

#: designed mm of a panel (N, 2) to mat mm (N, 3)
Lie = Callable[[Array], Array]

#: 8-bit sRGB as BGR
TINT, WHITE, BLACK = (238, 210, 180), (250, 250, 250), (28, 28, 28)
WOOD, WALL = (90, 150, 205), (50, 80, 120)


@dataclass(frozen=True)
class Slab:
    """An upright-walled part: its plan (N, 2) mm in the mat frame, between two heights.

    It may fall away along x, by `falls` for each mm: the heights are those at `level_at`.
    """

    plan: Array
    low: float
    high: float
    top: tuple[int, int, int] = WOOD
    wall: tuple[int, int, int] = WALL
    falls: float = 0.0
    level_at: float = 0.0


def camera_over(
    x: float, y: float, height: float, lens: Lens, tilt: tuple[float, float] = (0.02, -0.03)
) -> Camera:
    """A camera looking down, turned a little about its own axes."""
    rotation, _ = cv2.Rodrigues(np.array([tilt[0], tilt[1], 0.01]))
    turned = rotation @ np.diag([1.0, -1.0, -1.0])
    return Camera(lens, Pose(turned, -turned @ np.array([x, y, height])))


def paint(
    camera: Camera,
    design: MatDesign,
    slabs: list[Slab],
    cards: list[tuple[int, Pose]],
    scale: tuple[float, float] = (1.0, 1.0),
    seed: int = 1,
    lying: Mapping[int, Lie | None] | None = None,
    order: Sequence[int] = (),
) -> NDArray[np.uint8]:
    """(H, W, 3) BGR: the mat, the slabs and the cards (index, mat_from_card).

    lying: index of a sheet to where it lies instead of its drawn place; None where it is missing.
    order: in which the sheets are laid, the topmost last; nothing for the usual one.
    """
    lying = lying or {}
    lens = camera.lens
    over = 3
    big = np.full((lens.height * over, lens.width * over, 3), 120, dtype=np.uint8)

    def fill(points: Array, colour: tuple[int, int, int]) -> None:
        pixels = (camera.project(points) + 0.5) * over - 0.5
        cv2.fillPoly(big, [np.rint(pixels * 256).astype(np.int32)], colour, shift=8)

    def on(pose: Pose) -> Lie:
        def lie(local: Array) -> Array:
            return pose.apply(np.column_stack([local * np.array(scale), np.zeros(len(local))]))

        return lie

    def fill_panel(panel: Panel, lie: Lie) -> None:
        def corners(rect):
            return lie(
                _dense(
                    np.array(
                        [
                            (rect.x0, rect.y0),
                            (rect.x1, rect.y0),
                            (rect.x1, rect.y1),
                            (rect.x0, rect.y1),
                        ]
                    )
                )
            )

        paper = panel.tinted.grown(6.0) if panel.name.startswith("sheet") else panel.tinted
        fill(corners(paper), WHITE)
        if panel.name.startswith("sheet"):
            fill(corners(panel.tinted), TINT)
        for cluster in panel.clusters:
            for rect, ink in cluster.ink():
                fill(corners(rect), WHITE if ink is Ink.WHITE else BLACK)

    for index in order or reversed(range(design.count)):
        drawn = on(Pose(np.eye(3), np.array([*design.origin(index), 0.0])))
        lie = lying.get(index, drawn)
        if lie is not None:
            fill_panel(design.sheets[index], lie)
    for slab in slabs:
        plan = _dense(slab.plan)
        fall = slab.falls * (plan[:, 0] - slab.level_at)
        for z in np.linspace(slab.low, slab.high, 40 if slab.high - slab.low > 0.1 else 1):
            fill(np.column_stack([plan, z - fall]), slab.wall)
        fill(np.column_stack([plan, slab.high - fall]), slab.top)
    for index, pose in cards:
        fill_panel(card_panels()[index], on(pose))
    small = cv2.resize(big, (lens.width, lens.height), interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 0.7)
    noise = np.random.default_rng(seed).normal(0, 1.2, small.shape)
    return np.clip(small + noise, 0, 255).astype(np.uint8)


def as_photo(pixels: NDArray[np.uint8], name: str = "painted.png") -> Photo:
    return Photo(Path(name), "0" * 64, pixels)


def _dense(polygon: Array, step: float = 2.0) -> Array:
    closed = np.vstack([polygon, polygon[:1]])
    pieces = []
    for a, b in pairwise(closed):
        n = max(1, int(np.hypot(*(b - a)) / step))
        pieces.append(a + (b - a) * (np.arange(n) / n)[:, None])
    return np.concatenate(pieces)


def small_four_string() -> dict[str, Array]:
    """Plans of body, neck, headstock and tuners in the instrument frame, tail at x = 0."""
    t = np.linspace(0, np.pi, 200)
    x = 150 * (1 - np.cos(t))
    half = (
        108 * np.exp(-(((x - 85) / 95) ** 4))
        + 84 * np.exp(-(((x - 235) / 72) ** 4))
        - 22 * np.exp(-(((x - 165) / 38) ** 2))
    )
    half = half * np.sqrt(np.clip(1 - (np.abs(x - 150) / 150) ** 14, 0, 1))
    body = np.vstack([np.column_stack([x, -half]), np.column_stack([x[::-1], half[::-1]])])
    neck = np.array([(270, -24), (500, -18), (500, 18), (270, 24.0)])
    head = np.array(
        [(498, -18), (515, -31), (600, -34), (606, 0), (600, 34), (515, 31), (498, 18.0)]
    )
    parts = {"body": body, "neck": neck, "headstock": head}
    k = 0
    for y in (1, -1):
        for hx in (535.0, 575.0):
            shaft = np.array(
                [(hx - 2, 30 * y), (hx + 2, 30 * y), (hx + 2, 44 * y), (hx - 2, 44 * y)]
            )
            a = np.linspace(0, 2 * np.pi, 40)
            knob = np.column_stack([hx + 8 * np.cos(a), 49 * y + 6 * np.sin(a)])
            union = unary_union([Polygon(shaft).buffer(0), Polygon(knob)])
            parts[f"tuner{k}"] = np.asarray(union.exterior.coords)[:-1]
            k += 1
    return parts
