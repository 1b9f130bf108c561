"""Painted photos of a contour gauge, a tracing or a cut card on the mat: exact, in a second."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from profiler.jobs.records import mat_record, record_bytes
from profiler.optics.camera import Pose
from profiler.optics.lens import Lens
from profiler.paper import PAPERS
from profiler.target.mat import design_mat
from tests.painter import Slab, camera_over, paint

Array = NDArray[np.float64]

LENS = Lens(2600, 1950, 1980.0, 1303.0, 970.0, 1.0, 0.02, -0.04, 0.0, 0.0, 0.0)
STEEL, BAR, PAPER, INK, BOARD = (
    (150, 152, 150),
    (40, 40, 42),
    (246, 247, 248),
    (50, 48, 46),
    (60, 95, 150),
)
#: height of the painted needles' middle, mm
NEEDLES_MM = 6.0


def profile(
    half: float = 21.0, depth: float = 20.0, side: float = 5.0, power: float = 2.3
) -> Array:
    """(N, 2) mm, section frame: a back of our own, right edge first."""
    t = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 401))
    z = -side - (depth - side) * (1 - np.abs(t) ** power) ** (1 / power)
    return np.vstack([(-half, 0.0), np.column_stack([half * t, z]), (half, 0.0)])


def _placed(points: Array, at: tuple[float, float], degrees: float) -> Array:
    a = np.radians(degrees)
    return points @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + np.array(at)


def gauge(
    curve: Array, at: tuple[float, float], degrees: float, pitch: float = 1.0, over: float = 3.0,
    count: int = 100, length: float = 70.0,
) -> list[Slab]:  # fmt: skip
    """A gauge as seen from the tail: its left is the section's left, tips up."""
    thick = 0.82 * pitch  # gaps wide enough to be painted
    r = thick / 2
    places = (np.arange(count) - (count - 1) / 2) * pitch + 0.17
    # from the tail, left is left on the bench too: u = -y
    back = curve * np.array([-1.0, 1.0])
    grid = np.arange(back[:, 0].min(), back[:, 0].max(), 0.02)
    order = np.argsort(back[1:-1, 0])
    lower = np.interp(grid, back[1:-1][order, 0], back[1:-1][order, 1])
    slabs = []
    for u in places:
        near = np.abs(grid - u) <= r
        drop = r - np.sqrt(np.maximum(r**2 - (grid[near] - u) ** 2, 0.0))
        end = min(float((lower[near] + drop).min()) if near.any() else np.inf, over)
        stick = LineString([(u, end - length + r), (u, end - r)]).buffer(r, quad_segs=12)
        plan = _placed(np.asarray(stick.exterior.coords)[:-1], at, degrees)
        slabs.append(Slab(plan, NEEDLES_MM - 0.02, NEEDLES_MM, STEEL, STEEL))
    low = float(curve[:, 1].min()) - 28.0
    w = count * pitch / 2 + 6
    bar = _placed(np.array([(-w, low), (w, low), (w, low + 18), (-w, low + 18)]), at, degrees)
    return [*slabs, Slab(bar, 0.0, 2 * NEEDLES_MM, BAR, BAR)]


def tracing(
    curve: Array, at: tuple[float, float], degrees: float, pen: float = 0.6, closed: bool = False
) -> list[Slab]:
    """A paper with the profile drawn on it, as seen from the tail."""
    drawn = curve * np.array([-1.0, 1.0])
    sheet = np.array([(-55.0, -40), (55, -40), (55, 25), (-55, 25)])
    line = LineString(np.vstack([drawn, drawn[:1]]) if closed else drawn)
    stroke = line.buffer(pen / 2, quad_segs=4)
    slabs = [Slab(_placed(sheet, at, degrees), 0.05, 0.1, PAPER, PAPER)]
    outer = np.asarray(stroke.exterior.coords)[:-1]
    slabs.append(Slab(_placed(outer, at, degrees), 0.1, 0.1, INK, INK))
    slabs += [
        Slab(_placed(np.asarray(hole.coords)[:-1], at, degrees), 0.1, 0.1, PAPER, PAPER)
        for hole in stroke.interiors
    ]
    return slabs


def cut_card(curve: Array, at: tuple[float, float], degrees: float, notch: bool) -> list[Slab]:
    """A card cut to the profile: the neck's own shape, or a board with its notch."""
    shape = curve * np.array([-1.0, 1.0])
    plan = Polygon(shape)
    if notch:
        plan = Polygon([(-50, 0), (50, 0), (50, -45), (-50, -45)]).difference(plan)
    outer = np.asarray(plan.exterior.coords)[:-1]
    return [Slab(_placed(outer, at, degrees), 0.0, 0.3, BOARD, BOARD)]


def card_on_bar(at: tuple[float, float], degrees: float, low: float = -39.0) -> tuple[int, Pose]:
    """Card 4 lying along the middle of the bar of a gauge that was placed so."""
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), -np.sin(a), 0.0], [np.sin(a), np.cos(a), 0.0], [0.0, 0.0, 1.0]])
    corner = _placed(np.array([(-36.0, low - 11.0)]), at, degrees)[0]
    return 3, Pose(turn, np.array([*corner, 2 * NEEDLES_MM + 0.2]))


def photographed(
    slabs: list[Slab],
    folder: Path,
    name: str = "photo.png",
    seed: int = 1,
    cards: Sequence[tuple[int, Pose]] = (),
) -> Path:
    """The photo, with the mat's record beside it."""
    design = design_mat(PAPERS["A4"])
    camera = camera_over(390.0, 230.0, 470.0, LENS)
    pixels = paint(camera, design, slabs, list(cards), seed=seed)
    path = folder / name
    cv2.imwrite(str(path), pixels)
    (folder / "mat.json").write_bytes(record_bytes(mat_record(design, 180.0, 270.0)))
    return path
