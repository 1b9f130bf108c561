"""What the known print should look like at each place of the mat.

The mat is laid flat again as a plan picture: a regular grid of mat millimetres, resampled from the
photo in linear light. On the same grid stands what was printed there. Where the targets are seen,
the tint round them shows the light; a smooth gain over the mat follows from that.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import reduce
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy

from profiler.optics.camera import Camera
from profiler.optics.light import to_linear
from profiler.scene.record import PlacedPanel, Scene
from profiler.silhouette.stack import Area, Stack
from profiler.target.panel import Cluster, Ink, Rect

Array = NDArray[np.float64]
Image = NDArray[np.float32]
Value = TypeVar("Value", bound=np.generic)
#: rectangles of ink, (K, 4, 2) mm in the mat frame, and the ink of each
Inked = tuple[Array, list[Ink]]

#: bits of `Plan.printed`; 0 is 'no mat here'
TINT, WHITE, TARGET, STRIP = 1, 2, 4, 8
#: and there a target is thought to be whose sheet was not measured: its absence says nothing
UNSURE = 16
#: black ink's light beside the tint's where no black is seen
_BLACK = 0.05
#: the plan never has more cells than this
_MOST_CELLS = 3_000_000
#: the targets' ink is drawn this much finer than the plan; both inks' cells are counted in a byte
_FINER = 3
#: prints may lie this far from where they are, mm
_INK_SLACK_MM = 0.7
#: the same on a sheet that lies where its neighbours put it: people tape to a few millimetres
_PRESUMED_SLACK_MM = 4.0


@dataclass(frozen=True)
class Plan:
    """A photo laid flat on the mat plane.

    Attributes:
        light: (H, W, 3) linear light, BGR; NaN-free, black outside the photo.
        printed: (H, W) what may be printed within a print's slack of each cell, as bits.
        white, black: (H, W) share of each cell that a target's white or black covers.
        seen: (H, W) whether the cell is inside the photo.
        origin: (2,) mm, mat frame, of the centre of cell (0, 0); row 0 is the lowest y.
        cell: mm.
        blur: cells, sigma of the photo's own blur.
        stack: the sheets of which `printed` tells.
    """

    light: Image
    printed: NDArray[np.uint8]
    white: Image
    black: Image
    seen: NDArray[np.bool_]
    origin: Array
    cell: float
    blur: float = 0.6
    stack: Stack = field(default_factory=Stack)

    def to_mat(self, cells: Array) -> Array:
        """(N, 2) column, row to (N, 2) mm, mat frame."""
        mapped: Array = self.origin + cells * self.cell
        return mapped

    def to_cells(self, points: Array) -> Array:
        """(N, 2) mm, mat frame, to (N, 2) column, row."""
        mapped: Array = (points - self.origin) / self.cell
        return mapped

    def at(self, layer: NDArray[Value], points: Array) -> NDArray[Value]:
        """What a layer (H, W, …) of this plan holds at points (..., 2) mm, mat frame: (..., …)."""
        cells = np.rint(self.to_cells(points)).astype(int)
        h, w = layer.shape[:2]
        return np.asarray(layer[np.clip(cells[..., 1], 0, h - 1), np.clip(cells[..., 0], 0, w - 1)])


def lay_flat(photo: NDArray[np.uint8], camera: Camera, sheets: Sequence[PlacedPanel]) -> Plan:
    """Resample the photo onto the mat plane, sheets taken to lie in their usual order.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        sheets: solved; only what they cover is laid flat.
    """
    corners = np.concatenate([s.corners for s in sheets])[:, :2]
    low, high = corners.min(axis=0), corners.max(axis=0)
    # photo pixels per mm in the middle of the mat
    middle = np.append((low + high) / 2, 0.0)
    ends = camera.project(middle + np.array([(0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (0.0, 10.0, 0.0)]))
    px_per_mm = float(np.mean(np.hypot(*(ends[1:] - ends[0]).T))) / 10
    # half the photo's resolution averages the noise of four pixels and is fine enough to decide
    # what is ground; where the edge lies is measured in the photo itself
    half = px_per_mm > 1.6
    cell = (2.0 if half else 1.0) / px_per_mm
    size = high - low
    cell = max(cell, float(np.sqrt(size[0] * size[1] / _MOST_CELLS)))
    columns, rows = (int(np.ceil(v / cell)) + 1 for v in size)
    # what was seen does not ask what is printed: each takes a core
    with ThreadPoolExecutor(max_workers=1) as beside:
        resampled = beside.submit(_resampled, photo, camera, low, cell, (rows, columns), half)
        targets = inked(sheets)
        stack = Stack(tuple(sheets))
        printed = printed_bits(stack, targets, low, cell, (rows, columns))
        white, black = coverage(targets, low, cell, (rows, columns))
        light, seen = resampled.result()
    return Plan(light, printed, white, black, seen, low, cell, stack=stack)


def _resampled(
    photo: NDArray[np.uint8],
    camera: Camera,
    low: Array,
    cell: float,
    shape: tuple[int, int],
    half: bool,
) -> tuple[Image, NDArray[np.bool_]]:
    """(H, W, 3) linear light of each cell, from the photo at half its size or at its own, and
    (H, W) which cells are inside the photo."""
    pixels = pixel_grid(camera, low, cell, shape[1], shape[0])
    picture = photo
    if half:
        smaller = cv2.resize(photo, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        picture = np.asarray(smaller, dtype=np.uint8)
        pixels = (pixels - np.float32(0.5)) / np.float32(2.0)
    h, w = picture.shape[:2]
    x, y = pixels[..., 0], pixels[..., 1]
    light = cv2.remap(
        to_linear(picture), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0
    )
    seen = (x >= 1) & (y >= 1) & (x <= w - 2) & (y <= h - 2)
    return np.asarray(light, dtype=np.float32), seen


def pixel_grid(camera: Camera, low: Array, cell: float, columns: int, rows: int) -> Image:
    """(rows, columns, 2) px of each cell. The lens is smooth: every eighth cell is projected."""
    step = 8
    xs = np.arange(0, columns + step, step)
    ys = np.arange(0, rows + step, step)
    gx, gy = np.meshgrid(low[0] + xs * cell, low[1] + ys * cell)
    points = np.column_stack([gx.ravel(), gy.ravel(), np.zeros(gx.size)])
    coarse = camera.project(points).reshape(len(ys), len(xs), 2).astype(np.float32)
    x, y = np.meshgrid(
        np.arange(columns, dtype=np.float32) / step, np.arange(rows, dtype=np.float32) / step
    )
    return np.asarray(cv2.remap(coarse, x, y, cv2.INTER_LINEAR), dtype=np.float32)


def _corners(rect: Rect) -> Array:
    return np.array(
        [(rect.x0, rect.y0), (rect.x1, rect.y0), (rect.x1, rect.y1), (rect.x0, rect.y1)]
    )


def _fill(
    mask: NDArray[np.uint8], shapes: Array, low: Array, cell: float, values: Sequence[int]
) -> None:
    """Draw shapes (K, 4, 2) mm, mat frame, onto a layer whose first cell lies at `low`."""
    # cv2 draws with four fractional bits
    cells = np.rint((shapes - low) / cell * 16).astype(np.int32)
    for corners, value in zip(cells, values, strict=True):
        cv2.fillConvexPoly(mask, corners, value, cv2.LINE_8, shift=4)


def _placed(sheet: PlacedPanel, rects: Sequence[Rect]) -> Array:
    """(K, 4, 2) mm, mat frame: the corners of rectangles of a sheet, all in one step."""
    if not rects:
        return np.zeros((0, 4, 2))
    ends = np.array([(rect.x0, rect.y0, rect.x1, rect.y1) for rect in rects])
    local = ends[:, [0, 1, 2, 1, 2, 3, 0, 3]].reshape(-1, 2)
    return sheet.to_mat(local)[:, :2].reshape(-1, 4, 2)


def draw_sheet(layer: NDArray[np.uint8], sheet: PlacedPanel, low: Array, cell: float) -> None:
    """Draw a sheet's paper, tint and scale as bits onto a layer whose first cell lies at `low`."""
    panel = sheet.panel
    paper = Rect(0, 0, panel.width, panel.height)
    areas = _placed(sheet, (paper, panel.tinted, panel.plain))
    _fill(layer, areas, low, cell, (WHITE, TINT | WHITE | STRIP, TINT))


def inked(sheets: Sequence[PlacedPanel]) -> Inked:
    """(K, 4, 2) mm, mat frame: every rectangle of the targets, in the order of printing; inks."""
    inks = [[pair for c in sheet.panel.clusters for pair in c.ink()] for sheet in sheets]
    shapes = [
        _placed(sheet, [rect for rect, _ in pairs])
        for sheet, pairs in zip(sheets, inks, strict=True)
    ]
    return np.concatenate(shapes), [ink for pairs in inks for _, ink in pairs]


def coverage(
    targets: Inked, low: Array, cell: float, shape: tuple[int, int]
) -> tuple[Image, Image]:
    """Share of each cell covered by the targets' white and black: drawn finer, then averaged."""
    fine = cell / _FINER
    corner = low - (cell - fine) / 2  # the centre of the first fine cell
    drawn = np.zeros((shape[0] * _FINER, shape[1] * _FINER), dtype=np.uint8)
    shapes, inks = targets
    # both inks are counted in one go: white in the lower half of each byte, black in the upper one
    _fill(drawn, shapes, corner, fine, [1 if ink is Ink.WHITE else 16 for ink in inks])
    rows = reduce(np.add, (drawn[k::_FINER] for k in range(_FINER)))
    counts = reduce(np.add, (rows[:, k::_FINER] for k in range(_FINER)))
    each = np.float32(1 / _FINER**2)
    return (counts & 15) * each, (counts >> 4) * each


def printed_bits(
    stack: Stack, targets: Inked, low: Array, cell: float, shape: tuple[int, int]
) -> NDArray[np.uint8]:
    """`Plan.printed`, from a first cell at `low`."""
    sheets = stack.sheets
    slack = max(1, round(_INK_SLACK_MM / cell))
    kernel = np.ones((2 * slack + 1, 2 * slack + 1), dtype=np.uint8)
    printed = np.zeros(shape, dtype=np.uint8)
    # the last sheet first: each lies on top of its right and its upper neighbour
    for sheet in reversed(sheets):
        draw_sheet(printed, sheet, low, cell)
    for zone in stack.zones:
        there = Patch.of(zone.area, low, cell, shape)
        if there is not None:
            bits = reduce(np.bitwise_or, (there.drawn(sheets[top]) for top in zone.tops))
            printed[there.box][there.cells] = bits[there.cells]
    on_mat = printed > 0
    _allow_ends(printed, [s for s in sheets if not s.points], low, cell)
    for ink in (TINT, WHITE, STRIP):
        near = cv2.dilate(((printed & ink) > 0).astype(np.uint8), kernel) > 0
        printed[near & on_mat] |= ink
    target = np.zeros(shape, dtype=np.uint8)
    shapes, inks = targets
    _fill(target, shapes, low, cell, [1] * len(inks))
    printed[(cv2.dilate(target, kernel) > 0) & on_mat] |= TARGET
    unsure = np.zeros(printed.shape, dtype=np.uint8)
    for sheet in sheets:
        if not sheet.points:
            zones = [c.footprint().grown(_PRESUMED_SLACK_MM) for c in sheet.panel.clusters]
            _fill(unsure, _placed(sheet, zones), low, cell, [1] * len(zones))
    printed[(unsure > 0) & on_mat] |= UNSURE
    return printed


@dataclass(frozen=True)
class Patch:
    """The cells of a plan in an area.

    Attributes:
        box: rows and columns of the plan round it.
        cells: (h, w) which cells of the box lie in it.
        x, y: (h, w) mm, mat frame, of each cell's centre.
        cell: mm.
    """

    box: tuple[slice, slice]
    cells: NDArray[np.bool_]
    x: Array
    y: Array
    cell: float

    @classmethod
    def of(cls, area: Area, low: Array, cell: float, shape: tuple[int, int]) -> Patch | None:
        """None where the area, mm, mat frame, is not on the plan."""
        if area.is_empty:
            return None
        ends = (np.reshape(area.bounds, (2, 2)) - low) / cell
        first = np.maximum(np.floor(ends[0]).astype(int), 0)
        last = np.minimum(np.ceil(ends[1]).astype(int) + 1, shape[::-1])
        if (last - first < 1).any():
            return None
        x, y = np.meshgrid(*(low[k] + np.arange(first[k], last[k]) * cell for k in (0, 1)))
        box = (slice(int(first[1]), int(last[1])), slice(int(first[0]), int(last[0])))
        return cls(box, np.asarray(contains_xy(area, x, y)), x, y, cell)

    def drawn(self, sheet: PlacedPanel) -> NDArray[np.uint8]:
        """(h, w) what is printed on a sheet, as bits."""
        bits = np.zeros(self.cells.shape, dtype=np.uint8)
        draw_sheet(bits, sheet, np.array((self.x[0, 0], self.y[0, 0])), self.cell)
        return bits


def _allow_ends(
    printed: NDArray[np.uint8], presumed: Sequence[PlacedPanel], low: Array, cell: float
) -> None:
    """Where a sheet of which nothing was measured ends may be tint or paper, within its slack."""
    if not presumed:
        return
    ends = np.zeros(printed.shape, dtype=np.uint8)
    for sheet in presumed:
        panel = sheet.panel
        paper = _placed(sheet, (Rect(0, 0, panel.width, panel.height), panel.plain))
        corners = np.rint((paper - low) / cell * 16).astype(np.int32)
        wide = max(1, round(2 * _PRESUMED_SLACK_MM / cell))
        cv2.polylines(ends, list(corners), True, 1, wide, cv2.LINE_8, shift=4)
    near = (ends > 0) & (printed > 0)
    printed[near] |= TINT | WHITE


def print_light(plan: Plan, white: float, black: float) -> Image:
    """(H, W) light of the targets' print beside bare tint, in one colour.

    Args:
        plan: the photo laid flat.
        white, black: white paper's and black ink's light over tint's, in that colour.
    """
    bare = 1.0 - plan.white - plan.black
    share = bare + plan.white * np.float32(white) + plan.black * np.float32(black)
    # the photo is blurred, and so is the print then
    return np.asarray(cv2.GaussianBlur(share, (0, 0), plan.blur), dtype=np.float32)


@dataclass(frozen=True)
class Lighting:
    """How the ground is lit, as seen at the targets.

    Attributes:
        lit: (H, W, 3) linear light that bare tint shows at each cell without any shadow.
        white, black: (3,) white paper's and black ink's light over tint's.
    """

    lit: Image
    white: NDArray[np.float32]
    black: NDArray[np.float32]


def light_of(plan: Plan, scene: Scene) -> Lighting | None:
    """Read the light from the tint round every target that is seen.

    Returns:
        None where fewer than four targets show tint.
    """
    places, tints, whites, blacks = [], [], [], []
    bare_tint, full_white = plan.printed == TINT, plan.white > 0.99
    full_black = plan.black > 0.99
    for sheet, cluster in visible_clusters(scene):
        box = cluster.footprint()
        tint = _median_in(plan, bare_tint, sheet, box.grown(7.0), 40)
        white = _median_in(plan, full_white, sheet, box, 8)
        black = _median_in(plan, full_black, sheet, box, 8)
        if tint is None:
            continue
        places.append(sheet.to_mat(np.array([(cluster.x, cluster.y)]))[0, :2])
        tints.append(tint)
        if white is not None:
            whites.append(white / tint)
        if black is not None:
            blacks.append(black / tint)
    if len(places) < 4:
        return None
    h, w = plan.printed.shape
    where = plan.to_cells(np.array(places)) / (w, h)
    log_tint = np.log(np.maximum(np.array(tints), 1e-4))
    # beyond the outermost targets the light is carried on as it is there
    low, high = where.min(axis=0), where.max(axis=0)
    grid_x, grid_y = np.meshgrid(
        np.clip(np.linspace(0, 1, 33), low[0], high[0]),
        np.clip(np.linspace(0, 1, 33), low[1], high[1]),
    )
    coarse = np.empty((33, 33, 3), dtype=np.float32)
    # brightness may bend over the mat, colour only drifts
    level = log_tint.mean(axis=1)
    smooth_level = robust_surface(where, level, 6 if len(places) >= 12 else 3, shaded=True)
    for channel in range(3):
        drift = robust_surface(where, log_tint[:, channel] - level, 3 if len(places) >= 8 else 1)
        coarse[..., channel] = np.exp(
            surface(smooth_level, grid_x, grid_y) + surface(drift, grid_x, grid_y)
        )
    lit = cv2.resize(coarse, (w, h), interpolation=cv2.INTER_LINEAR)
    white_ratio = np.median(np.array(whites), axis=0) if whites else np.ones(3)
    black_ratio = np.median(np.array(blacks), axis=0) if blacks else np.full(3, _BLACK)
    return Lighting(
        np.asarray(lit, dtype=np.float32),
        np.asarray(white_ratio, dtype=np.float32),
        np.asarray(black_ratio, dtype=np.float32),
    )


def used_of(scene: Scene, photo: int) -> Counter[int]:
    """How many saddles of each target were used from a photo, by the tag's code."""
    seen = scene.observations[photo]
    start = sum(len(o) for o in scene.observations[:photo])
    return Counter(seen.code[scene.used[start : start + len(seen)]].tolist())


def visible_clusters(
    scene: Scene, photo: int = 0, least: int = 3
) -> list[tuple[PlacedPanel, Cluster]]:
    """Targets of the mat of which at least so many saddles were measured in a photo."""
    counts = used_of(scene, photo)
    return [
        (sheet, cluster)
        for sheet in scene.sheets
        for cluster in sheet.panel.clusters
        if counts[cluster.code] >= least
    ]


def uncovered_targets(plan: Plan, scene: Scene, photo: int = 0) -> NDArray[np.bool_]:
    """(H, W): the prints of targets of which every saddle was measured: nothing lies on them."""
    bare = np.zeros(plan.printed.shape, dtype=np.uint8)
    counts = used_of(scene, photo)
    for sheet, cluster in visible_clusters(scene, photo, least=1):
        if len(cluster.offsets) == counts[cluster.code]:
            prints = [rect.grown(_INK_SLACK_MM) for rect, _ in cluster.ink()]
            _fill(bare, _placed(sheet, prints), plan.origin, plan.cell, [1] * len(prints))
    return np.asarray(bare > 0)


def _median_in(
    plan: Plan, wanted: NDArray[np.bool_], sheet: PlacedPanel, box: Rect, least: int
) -> NDArray[np.float32] | None:
    """(3,) median light of the wanted cells in a box, or None."""
    cells = np.rint(plan.to_cells(sheet.to_mat(_corners(box))[:, :2])).astype(int)
    h, w = plan.printed.shape
    x0, y0 = np.maximum(cells.min(axis=0), 0)
    x1, y1 = np.minimum(cells.max(axis=0) + 1, (w, h))
    if x1 <= x0 or y1 <= y0:
        return None
    right = wanted[y0:y1, x0:x1] & plan.seen[y0:y1, x0:x1]
    if right.sum() < least:
        return None
    return np.asarray(np.median(plan.light[y0:y1, x0:x1][right], axis=0), dtype=np.float32)


def _terms(x: Array, y: Array, count: int) -> Array:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y][:count], axis=-1)


def robust_surface(where: Array, values: Array, count: int, shaded: bool = False) -> Array:
    """Polynomial coefficients over the unit square; targets in shadow lose their say.

    Args:
        where: (N, 2) places in the unit square.
        values: (N,) what is seen there.
        count: terms of the polynomial.
        shaded: whether the values are log light, which shadows can only lower: where the light is
            brighter than the surface it is mostly the surface that is wrong. A glare or a patch of
            sun on a target pulls it up a little: by no more than one of least absolute deviations.
    """
    design = _terms(where[:, 0], where[:, 1], count)
    weight = np.ones(len(values))
    coefficients = np.zeros(count)
    for _ in range(12):
        root = np.sqrt(weight)
        # a whisper of ridge: the targets may lie in a row
        gram = (design * root[:, None]).T @ (design * root[:, None]) + 1e-6 * np.eye(count)
        coefficients = np.asarray(np.linalg.solve(gram, design.T @ (weight * values)))
        left = values - design @ coefficients
        spread = max(1.4826 * float(np.median(np.abs(left))), 0.01)
        weight = 1 / (1 + (left / (2 * spread)) ** 2) ** 2
        if shaded:
            weight = np.where(left > 0, 1 / np.maximum(left / (2 * spread), 1.0), weight)
    return coefficients


def surface(coefficients: Array, x: Array, y: Array) -> Array:
    value: Array = _terms(x, y, len(coefficients)) @ coefficients
    return value
