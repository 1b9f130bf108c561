"""The print at any place of the mat, blurred as the photo blurs it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from profiler.scene.record import PlacedPanel
from profiler.silhouette.ground import Lighting, Plan
from profiler.silhouette.stack import Stack
from profiler.target.panel import Cluster, Ink, Panel, Rect

Array = NDArray[np.float64]
#: from places (..., 2) mm, mat frame, to the print's light beside bare tint (..., 3) and where
#: that is not known
Divisor = Callable[[Array], tuple[Array, NDArray[np.bool_]]]

#: linear light below which proportions mean nothing where a print is divided out
PRINT_DARK = 0.015
#: of a printed step so much may be left when it is divided out: blur and sharpening are guessed
PRINT_RESIDUE = 0.35
#: so far round a target its blurred print still shows, in sigmas
_ROUND = 3.0
#: a sheet's cut edge lies this near to where its print says, mm
_CUT_MM = 0.8
#: shares of ink that differ by less are the same print
_SAME_INK = 0.02


def print_divisor(lighting: Lighting, plan: Plan) -> Divisor:
    """The light of the print beside bare tint, as the photo shows it.

    Returns:
        from places (..., 2) mm, mat frame, to that light (..., 3), 1 on bare tint; and where the
        print is not known (...), as `ink_at` says it.
    """
    sigma = plan.cell * plan.blur

    def divisor(points: Array) -> tuple[Array, NDArray[np.bool_]]:
        white, black, doubtful = ink_at(plan.stack, points, sigma)
        light = (
            (1 - white - black)[..., None]
            + white[..., None] * lighting.white
            + black[..., None] * lighting.black
        )
        return light, doubtful

    return divisor


def ink_at(stack: Stack, points: Array, sigma: float) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Share of white and of black print at places of the mat.

    Args:
        stack: the sheets as they lie on one another.
        points: (..., 2) mm, mat frame.
        sigma: mm, of the blur.

    Returns:
        white and black share (...); and where they are not known (...): a sheet ends there within
        its cut's slack, or one of several sheets that differ there may be on top.
    """
    flat = points.reshape(-1, 2)
    white, black = np.zeros(len(flat)), np.zeros(len(flat))
    doubtful = np.zeros(len(flat), dtype=bool)
    for here, orders in stack.orders(flat, _CUT_MM):
        first, *others = (_ink_in_order(order, flat[here], sigma) for order in orders)
        white[here], black[here], doubtful[here] = first
        for other in others:
            differs = np.hypot(other[0] - first[0], other[1] - first[1]) > _SAME_INK
            doubtful[here] |= other[2] | differs
    shape = points.shape[:-1]
    return white.reshape(shape), black.reshape(shape), doubtful.reshape(shape)


def _ink_in_order(
    sheets: Sequence[PlacedPanel], flat: Array, sigma: float
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """The same at (N, 2) mm, of sheets of which each lies on those after it."""
    white, black = np.zeros(len(flat)), np.zeros(len(flat))
    doubtful = np.zeros(len(flat), dtype=bool)
    open_ = np.ones(len(flat), dtype=bool)  # no sheet yet lies here
    for sheet in sheets:
        panel = sheet.panel
        local = _on_sheet(sheet, flat)
        paper = Rect(0.0, 0.0, panel.width, panel.height)
        mine = open_ & _inside(paper.grown(_CUT_MM), local)
        if not mine.any():
            continue
        doubtful |= mine & ~_inside(paper.grown(-_CUT_MM), local)
        here = np.flatnonzero(mine & _inside(paper, local))
        open_[here] = False
        white[here], black[here] = panel_ink(panel, local[here], sigma)
    return white, black, doubtful


def panel_ink(panel: Panel, local: Array, sigma: float) -> tuple[Array, Array]:
    """Share of white and of black print (N,) at places (N, 2) mm on a panel; sigma: blur, mm."""
    white = 1.0 - _blurred(panel.tinted, local, sigma)
    black = np.zeros(len(local))
    for cluster in panel.clusters:
        near = np.flatnonzero(_inside(cluster.footprint().grown(_ROUND * sigma), local))
        if len(near):
            white[near], black[near] = _shares(cluster, local[near], sigma)
    return white, black


def _inside(rect: Rect, at: Array) -> NDArray[np.bool_]:
    return np.asarray(
        (at[:, 0] > rect.x0) & (at[:, 0] < rect.x1) & (at[:, 1] > rect.y0) & (at[:, 1] < rect.y1)
    )


def _on_sheet(sheet: PlacedPanel, points: Array) -> Array:
    """(N, 2) mm, mat frame, to (N, 2) designed mm on the sheet."""
    back = sheet.mat_from_panel.inverse()
    lying = back.apply(np.column_stack([points, np.zeros(len(points))]))[:, :2]
    scaled: Array = lying / np.array([sheet.scale.x, sheet.scale.y])
    return scaled


def _shares(cluster: Cluster, at: Array, sigma: float) -> tuple[Array, Array]:
    """White and black share at (N, 2) mm on the sheet: black lies on white, and never overlaps."""
    covered, black = np.zeros(len(at)), np.zeros(len(at))
    ink = list(cluster.ink())
    # squares lie in rows and columns: the same few edges bound them all
    across = _steps(at[:, 0], {x for rect, _ in ink for x in (rect.x0, rect.x1)}, sigma)
    up = _steps(at[:, 1], {y for rect, _ in ink for y in (rect.y0, rect.y1)}, sigma)
    for rect, kind in ink:
        share = 0.25 * (across[rect.x0] - across[rect.x1]) * (up[rect.y0] - up[rect.y1])
        if kind is Ink.WHITE:
            covered += share
        else:
            black += share
    black = np.minimum(black, 1.0)
    return np.clip(np.minimum(covered, 1.0) - black, 0.0, 1.0), black


def _blurred(rect: Rect, at: Array, sigma: float) -> Array:
    across = _steps(at[:, 0], {rect.x0, rect.x1}, sigma)
    up = _steps(at[:, 1], {rect.y0, rect.y1}, sigma)
    share: Array = 0.25 * (across[rect.x0] - across[rect.x1]) * (up[rect.y0] - up[rect.y1])
    return share


def _steps(at: Array, edges: set[float], sigma: float) -> dict[float, Array]:
    """From each edge to (N,) -1 well before it, 1 well behind it, blurred."""
    k = 1 / (np.sqrt(2.0) * sigma)
    return {edge: erf(k * (at - edge)) for edge in edges}
