"""Whether what was solved can be stood on: what makes a result that must not be relied on.

Two things, each told with the photo's name: printed points that are not where the solution puts
them, by more than they can be measured to; and an instrument that reaches beyond the printed points
that were measured, where nothing tells what the lens does.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding, Level
from profiler.optics.camera import Camera
from profiler.scene.record import PlacedPanel, Scene

Array = NDArray[np.float64]

#: the findings, for who has to know them again
RESIDUALS, BEYOND, BROKEN, FAINT, STEPPED = 303, 304, 305, 306, 308
#: photos from the side that contradict each other: told by pipeline/side.py
SIDES_DIFFER = 533
#: what is left over may be so much on the mat, root mean square, mm: as much as an outline of one
#: photo may be out by; and so many times what the points can be measured to
_MOST_LEFT_MM, _MOST_LEFT_SIGMAS = 0.3, 4.0
#: part of a photo's points that may be set aside
_MOST_ASIDE = 0.3
#: part of the outline that may lie beyond the measured points, and by which part of their reach
_MOST_BEYOND, _BEYOND_REACH = 0.08, 0.08
#: an instrument's outline is longer than the line drawn tight round it, tuners and all, by a third;
#: one that follows the grain of its wood by more than this (a guess between rendered ones)
_MOST_RAGGED = 1.6
#: what a card lies on is seen round it: this part of its border, so far out, mm; above the mat, mm
_LEAST_ROUND_CARD, _ROUND_CARD_MM, _ON_SOMETHING_MM = 0.55, (2.0, 4.0, 6.0), 15.0


def untrusted(scene: Scene, names: Sequence[str], outline: Array) -> list[Finding]:
    """What stands against the result; empty where nothing does.

    Args:
        scene: solved.
        names: of the photos, in the order of its cameras.
        outline: (M, 2) mm, mat frame.
    """
    found = _broken(scene, names[0], outline)
    start = 0
    # of a sheet that rises the targets that do are left out, of any other odd one all
    left_out = {o.name: o.kind for o in scene.odd if o.left_out}
    kinds = [left_out.get(sheet.panel.name) for sheet in scene.sheets]
    rising = [k for k, kind in enumerate(kinds) if kind == "raised"]
    odd = [k for k, kind in enumerate(kinds) if kind not in (None, "raised")]
    for camera, seen, name in zip(scene.cameras, scene.observations, names, strict=True):
        mine = slice(start, start + len(seen))
        start += len(seen)
        told = np.isin(seen.panel, odd) | (np.isin(seen.panel, rising) & ~scene.used[mine])
        on_mat = (seen.panel < len(scene.sheets)) & ~told
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


def _broken(scene: Scene, name: str, outline: Array) -> list[Finding]:
    """An outline that no instrument has: where its colour is the mat's, the edge is lost."""
    ring = np.ascontiguousarray(outline, dtype=np.float32).reshape(-1, 1, 2)
    tight = cv2.arcLength(cv2.convexHull(ring), True)
    if tight <= 0:
        return []
    bare = [card.panel.name for card in scene.cards if _lies_bare(card, ring)]
    if not bare and cv2.arcLength(ring, True) < _MOST_RAGGED * tight:
        return []
    why = f"It leaves out what {' and '.join(bare)} lies on" if bare else "It is ragged"
    return [
        Finding(
            305,
            Level.DOUBT,
            f"{name}: the outline is not the instrument's. {why}: is the instrument's colour near"
            " the mat's tint, or its edge lost in shadow or glare? Look at the overlay picture;"
            " print the mat in another tint ('profiler mat --tint'), and photograph it in even"
            " light.",
            name,
        )
    ]


def _lies_bare(card: PlacedPanel, ring: NDArray[np.float32]) -> bool:
    """Whether a card well above the mat has no instrument round it, inside the outline."""
    w, h = card.panel.width, card.panel.height
    middle = card.to_mat(np.array([(w / 2, h / 2)]))[0]
    if middle[2] < _ON_SOMETHING_MM:
        return False
    t = np.linspace(0.0, 1.0, 12, endpoint=False)
    around = []
    for out in _ROUND_CARD_MM:
        x0, y0, x1, y1 = -out, -out, w + out, h + out
        corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)])
        for a, b in pairwise(corners):
            around.append(a + t[:, None] * (b - a))
    places = card.to_mat(np.vstack(around))[:, :2]
    inside = [cv2.pointPolygonTest(ring, (float(x), float(y)), False) > 0 for x, y in places]
    return float(np.mean(inside)) < _LEAST_ROUND_CARD


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
