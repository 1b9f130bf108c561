"""What the known print should look like behind an instrument that is seen from the side.

The photo is laid onto the upright plane through the instrument's centreline: a grid of mm along the
centreline and up from the bench. Behind each cell stands an upright sheet, or the mat lies there;
both are known prints, so the same tests that tell an instrument from the mat under it tell it from
what is behind it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.light import remap_linear
from profiler.scene.record import PlacedPanel
from profiler.silhouette.ground import (
    STRIP,
    TARGET,
    TINT,
    WHITE,
    Image,
    Lighting,
    Plan,
    pixel_grid,
    robust_surface,
    surface,
)
from profiler.silhouette.inked import panel_ink
from profiler.silhouette.mask import Silhouette, departure
from profiler.silhouette.pieces import disc, filled, main_thing
from profiler.target.panel import Panel, Rect

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: the plane's cells are at least so large, photo px
_CELL_PX = 1.6
_MOST_CELLS = 2_500_000
#: cells round a print's edge that may show either side of it
_SLACK_CELLS = 2
#: a gap between what is seen against the mat and against the upright sheet: the foot, mm
_FOOT_MM = 7.0
#: small pieces this near belong to the instrument: a tuner behind a bright shaft, mm
_OWN_PIECE_MM = 10.0
#: smaller pieces are no things, mm²
_LEAST_PIECE_MM2 = 8.0
#: fewer cells of bare tint than this tell no light
_LEAST_TINT_CELLS = 400


@dataclass(frozen=True)
class Backdrop:
    """A side photo on the upright plane through the centreline.

    Attributes:
        plan: its 'mat frame' is this plane: x mm along the centreline, y mm up from the bench.
        camera: the side camera, with this plane as its z = 0.
        on_mat: (H, W) the mat is behind, not an upright sheet.
        lighting: of what is behind.
    """

    plan: Plan
    camera: Camera
    on_mat: Mask
    lighting: Lighting

    @property
    def known(self) -> Mask:
        """(H, W) what is behind is a known print."""
        return (self.plan.printed > 0) & self.plan.seen

    def known_at(self, points: Array) -> Mask:
        """(..., ) the same at places (..., 2) mm of the plane."""
        return np.asarray(self.plan.at(self.known.astype(np.uint8), points) > 0)


def plane_of(frame: Frame2D) -> Pose:
    """mat_from_plane of the upright plane through the centreline."""
    ex = np.append(frame.turned(np.array([[1.0, 0.0]]))[0], 0.0)
    up = np.array([0.0, 0.0, 1.0])
    origin = np.append(frame.to_mat(np.zeros((1, 2)))[0], 0.0)
    return Pose(np.column_stack([ex, up, np.cross(ex, up)]), origin)


def lay_upright(
    photo: NDArray[np.uint8],
    camera: Camera,
    frame: Frame2D,
    standing: Sequence[PlacedPanel],
    lying: Sequence[PlacedPanel],
    along: tuple[float, float],
    up: tuple[float, float],
) -> Backdrop | None:
    """Lay a side photo onto the plane through the centreline.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        frame: the instrument's on the mat.
        standing, lying: upright sheets and the mat's.
        along, up: mm, from and to, of the part of the plane that is wanted.

    Returns:
        None where too little bare tint is seen behind to know its light.
    """
    mat_from_plane = plane_of(frame)
    own = Camera(camera.lens, camera.camera_from_mat.after(mat_from_plane))
    low = np.array([along[0], up[0]])
    ends = own.project(np.array([(sum(along) / 2 + d, sum(up) / 2, 0.0) for d in (-5.0, 5.0)]))
    cell = _CELL_PX * 10.0 / float(np.hypot(*(ends[1] - ends[0])))
    size = np.array([along[1] - along[0], up[1] - up[0]])
    cell = max(cell, float(np.sqrt(size[0] * size[1] / _MOST_CELLS)))
    columns, rows = (int(np.ceil(v / cell)) + 1 for v in size)
    pixels = pixel_grid(own, low, cell, columns, rows)
    h, w = photo.shape[:2]
    seen = (pixels >= 1).all(axis=-1) & (pixels <= np.array([w - 2, h - 2])).all(axis=-1)
    light = remap_linear(photo, pixels)
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), 0.5), dtype=np.float32)
    x, y = np.meshgrid(low[0] + np.arange(columns) * cell, low[1] + np.arange(rows) * cell)
    cells = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    printed, white, black, on_mat = _behind(
        mat_from_plane.apply(cells), camera.centre, standing, lying, cell
    )
    shape = (rows, columns)
    plan = Plan(
        light,
        _with_slack(printed.reshape(shape)),
        white.reshape(shape).astype(np.float32),
        black.reshape(shape).astype(np.float32),
        np.asarray(seen),
        low,
        cell,
    )
    lighting = _lighting(plan, on_mat.reshape(shape))
    if lighting is None:
        return None
    return Backdrop(plan, own, on_mat.reshape(shape), lighting)


def _behind(
    points: Array,
    centre: Array,
    standing: Sequence[PlacedPanel],
    lying: Sequence[PlacedPanel],
    cell: float,
) -> tuple[NDArray[np.uint8], Array, Array, Mask]:
    """What print the rays through points (N, 3) meet: its bits, white, black share; the mat's."""
    n = len(points)
    printed = np.zeros(n, dtype=np.uint8)
    white, black, on_mat = np.zeros(n), np.zeros(n), np.zeros(n, dtype=bool)
    rays = points - centre
    nearest = np.full(n, np.inf)
    free = np.ones(n, dtype=bool)
    for panel in standing:
        far, local = _meets(panel, centre, rays)
        # what stands hides the mat behind it, also beside its sheets
        nearest = np.minimum(nearest, far)
        inside = free & np.isfinite(far) & _within(panel.panel, local)
        at = np.flatnonzero(inside)
        printed[at], white[at], black[at] = _print_of(panel.panel, local[at], far[at] * cell)
        free[at] = False
    for panel in lying:
        far, local = _meets(panel, centre, rays)
        inside = free & (far < nearest) & _within(panel.panel, local)
        at = np.flatnonzero(inside)
        # seen flatly the blur is long one way: between both
        steep = np.abs(rays[at, 2]) / np.linalg.norm(rays[at], axis=1)
        sigma = far[at] * cell / np.sqrt(np.maximum(steep, 0.02))
        printed[at], white[at], black[at] = _print_of(panel.panel, local[at], sigma)
        free[at] = False
        on_mat[at] = True
    return printed, white, black, on_mat


def _meets(panel: PlacedPanel, centre: Array, rays: Array) -> tuple[Array, Array]:
    """Where rays meet a panel's plane: share of their length (inf: never), and panel mm."""
    back = panel.mat_from_panel.inverse()
    start = back.apply(centre[None])[0]
    along = rays @ back.rotation.T
    with np.errstate(divide="ignore", invalid="ignore"):
        far = np.where(along[:, 2] < -1e-9, -start[2] / along[:, 2], np.inf)
        far = np.where(far > 0, far, np.inf)
        local = (start + np.where(np.isfinite(far), far, 0.0)[:, None] * along)[:, :2]
    return far, local / np.array([panel.scale.x, panel.scale.y])


def _within(panel: Panel, local: Array) -> Mask:
    return _in(Rect(0.0, 0.0, panel.width, panel.height), local)


def _in(rect: Rect, local: Array) -> Mask:
    x, y = local[:, 0], local[:, 1]
    return np.asarray((x > rect.x0) & (x < rect.x1) & (y > rect.y0) & (y < rect.y1))


def _print_of(panel: Panel, local: Array, sigma: Array) -> tuple[NDArray[np.uint8], Array, Array]:
    bits = np.where(_in(panel.tinted, local), TINT | WHITE | STRIP, WHITE).astype(np.uint8)
    bits[_in(panel.plain, local)] = TINT
    typical = float(np.median(sigma)) if len(sigma) else 1.0
    white, black = panel_ink(panel, local, 0.6 * typical)
    bits[((white > 0.02) & (bits == TINT)) | (black > 0.02)] |= TARGET
    return bits, white, black


def _with_slack(printed: NDArray[np.uint8]) -> NDArray[np.uint8]:
    kernel = np.ones((2 * _SLACK_CELLS + 1,) * 2, dtype=np.uint8)
    known = printed > 0
    out = printed.copy()
    for bit in (TINT, WHITE, STRIP, TARGET):
        near = cv2.dilate(((printed & bit) > 0).astype(np.uint8), kernel) > 0
        out[near & known] |= bit
    # beside another panel either may show
    seam = cv2.dilate((~known).astype(np.uint8), kernel) > 0
    out[seam & known] |= WHITE | STRIP
    return out


def _lighting(plan: Plan, on_mat: Mask) -> Lighting | None:
    lit = np.ones((*plan.printed.shape, 3), dtype=np.float32)
    any_light = False
    h, w = plan.printed.shape
    for mine, terms in ((~on_mat, 6), (on_mat, 3)):
        tint = np.argwhere((plan.printed == TINT) & plan.seen & mine)
        if len(tint) < _LEAST_TINT_CELLS:
            continue
        any_light = any_light or not mine[0, 0]
        some = tint[:: max(1, len(tint) // 6000)]
        where = some[:, ::-1] / np.array([w, h])
        light = np.log(np.maximum(plan.light[some[:, 0], some[:, 1]], 1e-4)).astype(np.float64)
        level = light.mean(axis=1)
        ground = _alike(light - level[:, None], level)
        if ground.sum() < 100:
            continue
        smooth = robust_surface(where[ground], level[ground], terms)
        rows, columns = np.nonzero(mine)
        at = (columns / w, rows / h)
        for k in range(3):
            drift = robust_surface(where[ground], (light[:, k] - level)[ground], 3)
            lit[rows, columns, k] = np.exp(surface(smooth, *at) + surface(drift, *at))
    if not ((plan.printed > 0) & plan.seen).any() or float(lit.std()) == 0.0:
        return None
    white = _ratio(plan, lit, plan.white > 0.98, 1.0)
    black = _ratio(plan, lit, plan.black > 0.98, 0.05)
    return Lighting(lit, white, black)


def _alike(hue: Array, level: Array) -> Mask:
    """(N,) the samples whose colour is the commonest there is: paper, not the instrument."""
    bins = np.round(hue[:, [0, 2]] / 0.08).astype(int)
    _, inverse, counts = np.unique(bins, axis=0, return_inverse=True, return_counts=True)
    middle = np.median(hue[np.ravel(inverse) == int(np.argmax(counts))], axis=0)
    near = np.linalg.norm(hue - middle, axis=1) < 0.25
    bright = np.median(level[near]) if near.any() else 0.0
    return np.asarray(near & (level > bright - 0.8))


def _ratio(plan: Plan, lit: Image, which: Mask, otherwise: float) -> NDArray[np.float32]:
    which = which & plan.seen & ((plan.printed & TARGET) > 0)
    if which.sum() < 30:
        return np.full(3, otherwise, dtype=np.float32)
    ratio = plan.light[which] / np.maximum(lit[which], 1e-4)
    return np.asarray(np.median(ratio, axis=0), dtype=np.float32)


def standing_out(backdrop: Backdrop, floor: Callable[[Array], Array]) -> Silhouette | None:
    """What stands before the known prints: the largest thing, with its small pieces.

    Args:
        backdrop: the photo on the plane through the centreline.
        floor: from (N,) mm along the plane to the lowest that anything on the bench can show there:
            what is darker below is shadow.

    Returns:
        None where nothing does. `touches_edge` is empty: where the print behind ends, nothing can
        be said, and nothing is.
    """
    plan = backdrop.plan
    wrong = departure(plan, backdrop.lighting).astype(np.uint8)
    known = backdrop.known
    height, width = wrong.shape
    bottom = floor(plan.origin[0] + np.arange(width) * plan.cell)
    z = plan.origin[1] + np.arange(height) * plan.cell
    wrong[z[:, None] < bottom[None, :] - 0.5 * plan.cell] = 0
    seam = (plan.printed & (STRIP | WHITE)) > 0
    seam &= (plan.printed & TARGET) == 0
    thin = disc(1.2 / plan.cell)
    wrong = np.where(seam, cv2.morphologyEx(wrong, cv2.MORPH_OPEN, thin), wrong).astype(np.uint8)
    wrong = _over_the_foot(wrong > 0, known, plan.cell).astype(np.uint8)
    joined = np.asarray(cv2.morphologyEx(wrong, cv2.MORPH_CLOSE, disc(0.8 / plan.cell)), np.uint8)
    found = main_thing(joined, plan.cell, _OWN_PIECE_MM, _LEAST_PIECE_MM2)
    if found is None:
        return None
    body, pieces = found
    nowhere = np.zeros(body.shape, dtype=bool)
    apart = tuple(sorted((area for area, _ in pieces), reverse=True))
    return Silhouette(filled(body), apart, (), np.zeros((0, 2)), False, nowhere, nowhere, nowhere)


def _over_the_foot(wrong: Mask, known: Mask, cell: float) -> Mask:
    """What is seen both above and below the gap at the sheets' foot goes on through it."""
    reach = round(_FOOT_MM / cell)
    kernel = np.ones((reach, 1), dtype=np.uint8)
    w = wrong.astype(np.uint8)
    above = cv2.dilate(w, kernel, anchor=(0, 0)) > 0
    below = cv2.dilate(w, kernel, anchor=(0, reach - 1)) > 0
    return np.asarray(wrong | (~known & above & below))


def divisor_of(backdrop: Backdrop) -> Callable[[Array], tuple[Array, Mask]]:
    """The print's light beside bare tint at places (..., 2) of the plane, for `trace_edge`."""
    plan, lighting = backdrop.plan, backdrop.lighting
    share = [
        cv2.GaussianBlur(
            1 - plan.white - plan.black + plan.white * w + plan.black * b, (0, 0), plan.blur
        )
        for w, b in zip(lighting.white, lighting.black, strict=True)
    ]
    light = np.stack(share, axis=-1).astype(np.float32)
    unsure = ((plan.printed & STRIP) > 0) | (plan.printed == 0)

    def divisor(points: Array) -> tuple[Array, Mask]:
        cells = plan.to_cells(points.reshape(-1, 2))
        at = [np.clip(cells[:, k], 0, light.shape[1 - k] - 1) for k in (0, 1)]
        got = bilinear(at, light)
        doubtful = plan.at(unsure.astype(np.uint8), points) > 0
        return got.reshape(*points.shape[:-1], 3), np.asarray(doubtful)

    return divisor


def bilinear(at: Sequence[Array], light: Image) -> Array:
    """(N, 3) of a picture (H, W, 3) at columns and rows (N,) each, bilinear."""
    x, y = at
    i, j = (
        np.minimum(v.astype(np.intp), n - 2) for v, n in ((x, light.shape[1]), (y, light.shape[0]))
    )
    fx, fy = (x - i)[:, None], (y - j)[:, None]
    upper = light[j, i] * (1 - fx) + light[j, i + 1] * fx
    lower = light[j + 1, i] * (1 - fx) + light[j + 1, i + 1] * fx
    return np.asarray(upper * (1 - fy) + lower * fy, dtype=np.float64)
