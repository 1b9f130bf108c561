"""Where sheets lie of which nothing was measured: where their neighbours put them.

A large instrument hides the targets of a whole sheet. That sheet is there all the same, its tint is
ground where it is seen, and its edge meets its neighbours'.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Pose
from profiler.scene.record import PlacedPanel
from profiler.target.mat import MatDesign

Array = NDArray[np.float64]


def presumed(sheets: Sequence[PlacedPanel], design: MatDesign) -> tuple[PlacedPanel, ...]:
    """The design's sheets that are not among those solved, each laid to its neighbours.

    Args:
        sheets: solved, each with its design's panel.

    Returns:
        those with at least one neighbour that was solved; `points` is 0.
    """
    solved = {sheet.panel.name: sheet for sheet in sheets}
    placed = {k: solved[s.name] for k, s in enumerate(design.sheets) if s.name in solved}
    found = []
    for k in range(design.count):
        if k in placed:
            continue
        pose = _between(k, placed, design)
        if pose is not None:
            scale = next(iter(placed.values())).scale
            found.append(PlacedPanel(design.sheets[k], pose, scale, 0, 0.0))
    return tuple(found)


def _between(index: int, placed: dict[int, PlacedPanel], design: MatDesign) -> Pose | None:
    """mat_from_panel of a sheet: the rigid motion that lays its sides on its neighbours' best.

    Where two sheets meet people lay overlap marks on each other: the ends of that line are asked
    of the neighbour's own place (Procrustes, in the plane).
    """
    row, column = divmod(index, design.columns)
    w, h = design.sheet_width, design.sheet_height
    own, there, height = [], [], []
    for other, sheet in placed.items():
        up, right = (
            a - b for a, b in zip(divmod(other, design.columns), (row, column), strict=True)
        )
        if abs(up) + abs(right) != 1:
            continue
        x, y = (w * max(right, 0), h * max(up, 0)) if up + right > 0 else (0.0, 0.0)
        line = np.array([(x, y), (x, h) if right else (w, y)])
        shift = np.subtract(design.origin(other), design.origin(index))
        laid = sheet.to_mat(line - shift)
        scale = np.array([sheet.scale.x, sheet.scale.y])
        own.append(line * scale)
        there.append(laid[:, :2])
        height.append(float(laid[:, 2].mean()))
    if not own:
        return None
    a, b = np.concatenate(own), np.concatenate(there)
    from_, to = a - a.mean(axis=0), b - b.mean(axis=0)
    cross = float((from_[:, 0] * to[:, 1] - from_[:, 1] * to[:, 0]).sum())
    angle = float(np.arctan2(cross, float((from_ * to).sum())))
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, -s], [s, c]])
    corner = b.mean(axis=0) - turn @ a.mean(axis=0)
    full = np.eye(3)
    full[:2, :2] = turn
    return Pose(full, np.array([*corner, float(np.mean(height))]))
