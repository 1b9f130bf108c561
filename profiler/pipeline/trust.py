"""Whether what was solved can be stood on: what makes a result that must not be relied on.

Two things, each told with the photo's name: printed points that are not where the solution puts
them, by more than they can be measured to; and an instrument that reaches beyond the printed points
that were measured, where nothing tells what the lens does.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding, Level
from profiler.optics.camera import Camera
from profiler.scene.record import Scene

Array = NDArray[np.float64]

#: the findings, for who has to know them again
RESIDUALS, BEYOND = 303, 304
#: what is left over may be so much on the mat, root mean square, mm: as much as an outline of one
#: photo may be out by; and so many times what the points can be measured to
_MOST_LEFT_MM, _MOST_LEFT_SIGMAS = 0.3, 4.0
#: part of a photo's points that may be set aside
_MOST_ASIDE = 0.3
#: part of the outline that may lie beyond the measured points, and by which part of their reach
_MOST_BEYOND, _BEYOND_REACH = 0.08, 0.08


def untrusted(scene: Scene, names: Sequence[str], outline: Array) -> list[Finding]:
    """What stands against the result; empty where nothing does.

    Args:
        scene: solved.
        names: of the photos, in the order of its cameras.
        outline: (M, 2) mm, mat frame.
    """
    found = []
    start = 0
    odd = {o.name for o in scene.odd if o.left_out}
    told = [k for k, sheet in enumerate(scene.sheets) if sheet.panel.name in odd]
    for camera, seen, name in zip(scene.cameras, scene.observations, names, strict=True):
        mine = slice(start, start + len(seen))
        start += len(seen)
        on_mat = (seen.panel < len(scene.sheets)) & ~np.isin(seen.panel, told)
        used = scene.used[mine] & on_mat
        left = _left_over(scene.residuals[mine], seen.sigma, used, on_mat, camera, name)
        if left is not None:
            found.append(left)
        beyond = _beyond(camera, seen.pixels[used], outline)
        if beyond > _MOST_BEYOND:
            found.append(
                Finding(
                    304,
                    Level.DOUBT,
                    f"{name}: {beyond:.0%} of the outline lies beyond the printed points that are"
                    " seen, where nothing tells what the lens does. Show the mat on all sides of"
                    " the instrument, and take the photo again.",
                    name,
                )
            )
    return found


def _left_over(
    residuals: Array,
    sigma: Array,
    used: NDArray[np.bool_],
    on_mat: NDArray[np.bool_],
    camera: Camera,
    name: str,
) -> Finding | None:
    if not used.any():
        return None
    px = float(np.sqrt((residuals[used] ** 2).sum(axis=1).mean()))
    mm = px * float(camera.centre[2]) / camera.lens.f
    times = float(np.sqrt(((residuals[used] / sigma[used, None]) ** 2).mean()))
    aside = 1.0 - used.sum() / max(int(on_mat.sum()), 1)
    cure = (
        "Is every sheet flat and taped, is the mat record that of this mat, and is the photo"
        " untouched, as the phone took it? Put it right and take the photo again."
    )
    if mm > _MOST_LEFT_MM and times > _MOST_LEFT_SIGMAS:
        return Finding(
            303,
            Level.DOUBT,
            f"{name}: the printed points are {mm:.1f} mm off where they should be,"
            f" {times:.0f} times what they can be measured to. {cure}",
            name,
        )
    if aside > _MOST_ASIDE:
        return Finding(
            303,
            Level.DOUBT,
            f"{name}: {aside:.0%} of the printed points are not where the others say that they"
            f" should be. {cure}",
            name,
        )
    return None


def _beyond(camera: Camera, points: Array, outline: Array) -> float:
    """Part of the outline that the photo shows well beyond the hull of the points (N, 2) px."""
    hull = cv2.convexHull(points.astype(np.float32))
    reach = float(np.hypot(*np.ptp(hull[:, 0], axis=0)))
    pixels = camera.project(np.column_stack([outline, np.zeros(len(outline))]))
    away = [-cv2.pointPolygonTest(hull, (float(x), float(y)), True) for x, y in pixels[::8]]
    return float(np.mean(np.array(away) > _BEYOND_REACH * reach))
