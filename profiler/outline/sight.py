"""What one photo shows of the instrument: its edge, the part at each point, the rim that it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import runs_of
from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera
from profiler.outline.heights import ButtonSeen, PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.parts import Parts
from profiler.outline.rims import edge_z
from profiler.outline.side_button import SIDE_BUTTON
from profiler.scene.record import Scene
from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]

_BUTTONS = {"button", SIDE_BUTTON}
#: of the raster that distances into a silhouette are read from, mm
_CELL_MM, _MARGIN_MM = 0.4, 10.0
#: splits whose nut and join lie nearer than this are one
_SAME_SPLIT_MM = 15.0
#: what lies further than this from all that the reference shows is not in it, mm
_NOT_THERE_MM = 2.5
#: strap buttons of a kind are further apart than this, mm
_SAME_BUTTON_MM = 40.0
#: an edge of one photo lies on what another shows if it is as near as this, mm
_SAME_EDGE_MM = 1.5
#: a strap button is a bump no longer than so many points, and stands out at least so far, mm, of
#: the line on which so many points on either side of it lie
_LONGEST_BUMP, _BUMP_MM, _BESIDE_POINTS = 45, 1.2, 16


@dataclass(frozen=True)
class Sight:
    """One photo's sight of the instrument.

    Attributes:
        photo: its name, for messages.
        index: its place among the scene's cameras.
        edge: the silhouette, anticlockwise, N points.
        parts: split of those points; its frame is shared by all sights of a scene.
        told: (N,) 0 for surely the upper rim to 1 for surely the lower, from the look inside it.
        sure: (N,) where the wall faces away, so that only the upper rim can be seen.
        rim: (N,) share of the way up from lower to upper rim.
        silhouette: (K, 2) mm, mat plane: the edge before it was mended, where walls hide the mat.
        button: what it says of the strap button, if it does.
    """

    photo: str
    index: int
    edge: Edge
    parts: Parts
    told: Array
    sure: NDArray[np.bool_]
    rim: Array
    silhouette: Array
    button: ButtonSeen | None = None

    def upper_edge(
        self,
        camera: Camera,
        heights: Mapping[str, PartEdges],
        directions: Array | None = None,
        rounder: float = 0.0,
    ) -> Array:
        """(N, 2) mm, mat frame: each point at its height, carried to the upper edge and over its
        rounding, larger than usual by so many standard uncertainties.

        `directions` is what the camera's lens makes of the edge's pixels, where that is known.
        """
        return lift_points(
            self.edge.pixels, camera, self.rim, self.parts, heights, directions, rounder
        )

    def in_frame(self, frame: Frame2D) -> Sight:
        """The same with another rough frame, in which heights are then given."""
        return replace(self, parts=replace(self.parts, frame=frame))


class Silhouetted:
    """A silhouette on the mat plane, ready to be asked how deep inside it a place lies.

    A raster of distances: good to half a cell, which is all that is asked of it.
    """

    def __init__(self, on_mat: Array) -> None:
        self._low = on_mat.min(axis=0) - _MARGIN_MM
        size = np.ceil((on_mat.max(axis=0) + _MARGIN_MM - self._low) / _CELL_MM).astype(int) + 1
        mask = np.zeros((int(size[1]), int(size[0])), dtype=np.uint8)
        cells = np.rint((on_mat - self._low) / _CELL_MM * 16).astype(np.int32)
        cv2.fillPoly(mask, [cells.reshape(-1, 1, 2)], 1, shift=4)
        inside = cv2.distanceTransform(mask, cv2.DIST_L2, 5)
        outside = cv2.distanceTransform(1 - mask, cv2.DIST_L2, 5)
        self._depth = (inside - outside) * _CELL_MM

    def depth(self, points: Array) -> Array:
        """(N,) mm inside the silhouette, negative outside, at (N, 2) mm, mat frame."""
        cells = np.rint((points - self._low) / _CELL_MM).astype(int)
        rows, columns = self._depth.shape
        depth: Array = self._depth[
            np.clip(cells[:, 1], 0, rows - 1), np.clip(cells[:, 0], 0, columns - 1)
        ].astype(np.float64)
        return depth


def fullest(sights: Sequence[Sight]) -> int:
    """Which sight's split is to stand for all: it tells most parts apart, and is like the others.

    A split that goes wrong loses parts: it takes a pegbox for the neck, or neck and all for body.
    """
    ends = np.array([_ends(s) for s in sights])
    away = np.abs(ends - np.median(ends, axis=0)).sum(axis=1)
    parts = [len({"neck", "headstock", "tuners"} & set(s.parts.labels.tolist())) for s in sights]
    return min(range(len(sights)), key=lambda k: (-parts[k], float(away[k])))


def _ends(sight: Sight) -> tuple[float, float]:
    """mm from the head's end to nut and join: a strap button that is not seen moves the tail."""
    parts = sight.parts
    return parts.length - parts.nut, parts.length - parts.join


def split_alike(
    sights: Sequence[Sight], scene: Scene, heights: Mapping[str, PartEdges], reference: int
) -> list[Sight]:
    """The sights, those that were split otherwise split as the reference is.

    Args:
        sights: in one rough frame.
        scene: solved.
        heights: by part.
        reference: which sight's split stands for all.
    """
    first = sights[reference]
    plan = first.upper_edge(scene.cameras[first.index], heights)
    upper, lower = edge_z(plan, first.parts, heights)
    solid = np.column_stack([plan, lower + first.rim * (upper - lower)])
    found = set(first.parts.labels.tolist()) - _BUTTONS
    out = []
    for sight in sights:
        parts = sight.parts
        same = set(parts.labels.tolist()) - _BUTTONS == found
        if same and np.abs(np.subtract(_ends(sight), _ends(first))).max() < _SAME_SPLIT_MM:
            out.append(sight)
            continue
        camera = scene.cameras[sight.index]
        seen = camera.at_height(camera.project(solid), 0.0)
        distance, nearest = cKDTree(seen).query(sight.edge.on_mat)
        labels = first.parts.labels[nearest].copy()
        own = np.isin(parts.labels, ("tuners", *_BUTTONS)) & (distance > _NOT_THERE_MM)
        labels[own] = parts.labels[own]
        out.append(
            replace(
                sight,
                parts=replace(parts, labels=labels, join=first.parts.join, nut=first.parts.nut),
            )
        )
    return out


def with_buttons(
    sights: Sequence[Sight], scene: Scene, heights: Mapping[str, PartEdges]
) -> list[Sight]:
    """The sights, a strap button that stands out too little in one of them told by the others."""
    for part in sorted(_BUTTONS):
        for solid in _told(part, sights, scene, heights):
            sights = [_with(part, solid, sight, scene) for sight in sights]
    return list(sights)


def _told(
    part: str, sights: Sequence[Sight], scene: Scene, heights: Mapping[str, PartEdges]
) -> list[Array]:
    """(K, 3) mm each, mat frame: the edge of each strap button of a kind, as all sights show it."""
    apart: list[list[Array]] = []
    for sight in sights:
        if not len(sight.parts.members(part)):
            continue
        plan = sight.upper_edge(scene.cameras[sight.index], heights)
        x = sight.parts.frame.from_mat(plan)[:, 0]
        solid = np.column_stack([plan, heights[part].upper.at(x)])
        for run in runs_of(sight.parts.labels == part):
            for others in apart:
                away = np.hypot(*(others[0].mean(axis=0) - solid[run].mean(axis=0))[:2])
                if away < _SAME_BUTTON_MM:
                    others.append(solid[run])
                    break
            else:
                apart.append([solid[run]])
    return [np.vstack(same) for same in apart]


def _with(part: str, solid: Array, sight: Sight, scene: Scene) -> Sight:
    """A sight in which a strap button (K, 3) mm is told, if it stands out there and is not yet."""
    camera = scene.cameras[sight.index]
    seen = camera.at_height(camera.project(solid), 0.0)
    distance, _ = cKDTree(seen).query(sight.edge.on_mat)
    labels = sight.parts.labels
    if ((distance < _SAME_BUTTON_MM) & (labels == part)).any():
        return sight
    near = np.flatnonzero((distance < _SAME_EDGE_MM) & (labels == "body"))
    labels = labels.copy()
    labels[near[_stands_out(sight.edge.on_mat, near)]] = part
    return replace(sight, parts=replace(sight.parts, labels=labels))


def _stands_out(curve: Array, near: NDArray[np.intp]) -> NDArray[np.bool_]:
    """(M,) which of some neighbouring points of a closed curve stand out of the line on which it
    comes to them and goes on behind them; none where nothing stands out clearly."""
    none = np.zeros(len(near), dtype=bool)
    if len(near) < 4:
        return none
    n = len(curve)
    # round the closed curve: begin behind the largest gap
    gap = np.diff(np.append(near, near[0] + n))
    begin = (int(np.argmax(gap)) + 1) % len(near)
    first = int(near[begin])
    at = (near - first) % n
    last = int(at.max())
    if last > _LONGEST_BUMP:
        return none
    before, after = np.arange(-_BESIDE_POINTS, -1), np.arange(2, _BESIDE_POINTS + 1)
    s = np.concatenate([before, last + after]).astype(np.float64)
    beside = curve[(first + s.astype(int)) % n]
    middle, reach = last / 2, last / 2 + _BESIDE_POINTS
    fit = np.polyfit((s - middle) / reach, beside, 2)
    t = (at - middle) / reach
    line = np.outer(t**2, fit[0]) + np.outer(t, fit[1]) + fit[2]
    off = np.hypot(*(curve[near] - line).T)
    return np.asarray((off > _BUMP_MM / 2) & (off.max() > _BUMP_MM))
