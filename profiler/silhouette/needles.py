"""A contour gauge's needles: which way they run, how far apart they are, where each one ends."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from profiler.optics.camera import Camera
from profiler.silhouette.beneath import mat_beneath
from profiler.silhouette.ground import Lighting, Plan
from profiler.silhouette.level import Level, lay_level, turned
from profiler.silhouette.mask import Silhouette
from profiler.silhouette.needle_or_mat import Looks, looks
from profiler.silhouette.needle_sides import standing_by_sides
from profiler.silhouette.rough_ends import rough_ends
from profiler.silhouette.tips import Ends, trace_tips

Array = NDArray[np.float64]

#: pitches that are sold, with room on both sides, mm (0.8 to 1.3 are usual)
PITCHES = (0.5, 2.2)
#: the needles' line in the spectrum stands out from its surroundings by this at least
_LEAST_LINE = 5.0
#: a line at twice the period is the needles' own if it is this part as high (a guess)
_SHARE_OF_DOUBLE = 0.3
#: cell of the picture in which the needles' direction is sought, and of that for the tips, mm
_COARSE, _FINE = 0.15, 0.08
#: part of the pitch on each side of a needle's middle over which its tip is averaged
_CORE = 0.22
#: a photo's blur, sigma, px (phones sharpen to about this)
_BLUR_PX = 0.6
#: places that move by less than this part of the pitch stay
_SAME_PLACE = 0.05
#: needles are about so long on each side of their middle, mm; a lean below this is none, rad
_SIDE_MM, _STRAIGHT = 45.0, 0.0003


@dataclass(frozen=True)
class Needles:
    """A row of needles as seen.

    Attributes:
        angle: rad, from the mat's x to the direction across the needles.
        pitch: mm.
        told_apart: whether single needles are seen; else `pitch` is only where the edge is taken.
        places: (K,) mm across, of the needles' middles, from left to right with the tips up.
        upper, lower: (K, 2) px where the ends of each needle are seen.
        upper_found, lower_found: (K,) whether an end was seen.
        upper_v, lower_v: (K,) mm along the needles at `height`; NaN where not found.
        sigma: mm, standard uncertainty of an end along its needle, from how far ends scatter.
        height: mm above the mat that the row was laid flat at.
    """

    angle: float
    pitch: float
    told_apart: bool
    places: Array
    upper: Array
    lower: Array
    upper_found: NDArray[np.bool_]
    lower_found: NDArray[np.bool_]
    upper_v: Array
    lower_v: Array
    sigma: float
    height: float

    def to_mat(self) -> Array:
        """(N, 2) mm, mat frame: every end that was found."""
        ends = [
            np.column_stack([self.places, v])[np.isfinite(v)] for v in (self.upper_v, self.lower_v)
        ]
        return turned(np.vstack(ends), self.angle)


def find_needles(
    photo: NDArray[np.uint8],
    camera: Camera,
    plan: Plan,
    lighting: Lighting,
    silhouette: Silhouette,
    height: float,
    pitch: float | None = None,
) -> Needles | None:
    """Needles in a silhouette, None where nothing in it looks like a row of them.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        plan: the photo laid flat.
        lighting: of the mat.
        silhouette: found on it.
        height: of the needles' middle above the mat, mm.
        pitch: mm, None to find it.
    """
    rough = lay_level(photo, camera, plan, silhouette.mask, 0.0, height, _COARSE)
    line = _direction(rough, pitch)
    if line is None:
        return None
    angle, found_pitch, strength = line
    told = strength > _LEAST_LINE
    if not told and pitch is None:
        return None
    fine = lay_level(photo, camera, plan, silhouette.mask, angle, height, _FINE)
    phase = _phase(fine, [rough_ends(fine, up) for up in (True, False)], found_pitch)
    u = fine.u()
    inside = fine.mask.any(axis=0)
    first, last = u[inside][0], u[inside][-1]
    start = phase + np.ceil((first - phase) / found_pitch - 0.2) * found_pitch
    places = np.arange(start, last + 0.2 * found_pitch, found_pitch)
    # a bar that is longer than the row ends in columns without needles: the row is what is long
    column = np.clip(np.rint((places - u[0]) / fine.cell).astype(np.intp), 0, len(u) - 1)
    reach = fine.mask.sum(axis=0)[column]
    row = _longest(reach > 0.7 * float(np.median(reach[reach > 0])))
    places = places[row]
    if len(places) < 12:
        return None
    moved = np.zeros(2)
    for turn in range(5):
        seen = _ends(fine, camera, plan, lighting, places, found_pitch)
        if seen is None:
            return None
        look, ends = seen
        stand = standing_by_sides(fine, places, found_pitch, look, ends, moved)
        if stand is None or turn == 4:
            break
        if max(np.abs(stand.shift).max(), _SIDE_MM * abs(stand.tilt)) < _SAME_PLACE * found_pitch:
            break
        moved = stand.moved
        middle = float(fine.v()[fine.mask.any(axis=1)].mean())
        on_mat = turned(
            np.column_stack([places + stand.shift, np.full(len(places), middle)]), angle
        )
        angle -= stand.tilt
        places = turned(on_mat, -angle)[:, 0]
        if abs(stand.tilt) > _STRAIGHT:
            fine = lay_level(photo, camera, plan, silhouette.mask, angle, height, _FINE)
    upper_v, lower_v = ends[0].v, ends[1].v
    pixels = [
        camera.project(
            np.column_stack(
                [turned(np.column_stack([places, v]), angle), np.full(len(places), height)]
            )
        )
        for v in (upper_v, lower_v)
    ]
    return Needles(
        angle,
        found_pitch,
        told,
        places,
        pixels[0],
        pixels[1],
        np.isfinite(upper_v),
        np.isfinite(lower_v),
        upper_v,
        lower_v,
        _scatter(upper_v, lower_v),
        height,
    )


def _ends(
    level: Level, camera: Camera, plan: Plan, lighting: Lighting, places: Array, pitch: float
) -> tuple[Looks, tuple[Ends, Ends]] | None:
    """Looks, upper and lower ends of the needles at `places`, None where they do not stand out."""
    core = max(_CORE * pitch, 0.6 * level.cell)
    u, v = level.u(), level.v()
    columns = [np.flatnonzero(np.abs(u - place) <= core) for place in places]
    light = np.stack([level.light[:, c].mean(axis=1) for c in columns], axis=1)
    inside = np.stack([level.mask[:, c].mean(axis=1) >= 0.5 for c in columns], axis=1)
    grid = np.stack(np.broadcast_arrays(places[None, :], v[:, None]), axis=-1)
    on_mat = level.to_mat(grid.reshape(-1, 2)).reshape(grid.shape)
    beneath = mat_beneath(camera, plan, lighting, on_mat, level.height)
    middle = np.append(on_mat[inside].mean(axis=0), level.height)
    ends = camera.project(np.stack([middle, middle + np.array([1.0, 0.0, 0.0])]))
    px = 1.0 / float(np.hypot(*(ends[1] - ends[0])))
    blur = _BLUR_PX * px
    look = looks(light.astype(np.float64), beneath, inside, level.cell, blur)
    if look is None:
        return None
    return look, trace_tips(look, inside, float(v[0]), level.cell, blur)


def _direction(level: Level, pitch: float | None) -> tuple[float, float, float] | None:
    """Angle across the needles, pitch, and how their line stands out of the spectrum.

    Bar and needles are square to each other: the strongest direction but for quarter turns is
    that of both (the fourth harmonic of the gradient's direction); which of the two is across the
    needles shows in the spectrum of the light summed up along it.
    """
    inner = (
        cv2.erode(level.mask.astype(np.uint8), np.ones((int(4 / level.cell),) * 2, np.uint8)) > 0
    )
    if inner.sum() * level.cell**2 < 200.0:
        return None
    log = np.log(level.light.mean(axis=2) + 0.01)
    log = np.asarray(log - cv2.GaussianBlur(log, (0, 0), 2.0 / level.cell), dtype=np.float32)
    soft = cv2.GaussianBlur(log, (0, 0), 0.25 / level.cell)
    du, dv = cv2.Sobel(soft, cv2.CV_32F, 1, 0)[inner], cv2.Sobel(soft, cv2.CV_32F, 0, 1)[inner]
    size = np.hypot(du, dv)
    size = np.minimum(size, np.percentile(size, 97))
    square = float(np.angle((size**2 * np.exp(4j * np.arctan2(dv, du))).sum())) / 4
    rows, columns = np.nonzero(inner)
    places = np.column_stack([columns, rows]).astype(np.float64) * level.cell
    values = np.asarray(np.clip(log[inner], -0.5, 0.5), dtype=np.float64)
    band = PITCHES if pitch is None else (0.93 * pitch, 1.07 * pitch)
    best = (0.0, 0.0, 0.0, 0.0)
    for step, reach, starts in (
        (0.3, 1.8, (square, square + np.pi / 2)),
        (0.06, 0.3, ()),
        (0.012, 0.06, ()),
    ):
        for start in starts or (best[1],):
            for turn in np.radians(np.arange(-reach, reach + 1e-9, step)):
                peak, period, strength = _line(places, values, start + turn, band)
                best = max(best, (peak, float(start + turn), period, strength))
    if best[0] <= 0:
        return None
    peak, angle, period, strength = best
    # a gleam down a needle's middle is a second line to each: then the pitch is twice as long
    if pitch is None and 2 * period < PITCHES[1]:
        double = _line(places, values, angle, (1.97 * period, 2.03 * period))
        if double[0] > _SHARE_OF_DOUBLE * peak and double[2] > 2 * _LEAST_LINE:
            return angle, double[1], double[2]
    return angle, period, strength


def _line(
    places: Array, values: Array, angle: float, band: tuple[float, float]
) -> tuple[float, float, float]:
    """Height of the spectrum's highest line in a band of periods, its period, and how many times
    as high as the band's usual it is."""
    bin_mm = 0.1
    across = places @ np.array([np.cos(angle), np.sin(angle)])
    index = np.rint((across - across.min()) / bin_mm).astype(np.intp)
    count = np.bincount(index)
    sums = np.bincount(index, weights=values)
    sums = np.where(count > 0.15 * count.max(), sums / np.maximum(count, 1), 0.0)
    spectrum = np.abs(np.fft.rfft(sums, 8 * len(sums)))
    frequency = np.fft.rfftfreq(8 * len(sums), bin_mm)
    wide = (frequency > 1 / PITCHES[1]) & (frequency < 1 / PITCHES[0])
    narrow = (frequency > 1 / band[1]) & (frequency < 1 / band[0])
    usual = float(np.median(spectrum[wide]))
    at = int(np.argmax(np.where(narrow, spectrum, 0.0)))
    if usual <= 0 or frequency[at] <= 0:
        return 0.0, 1.0, 0.0
    return float(spectrum[at]), float(1 / frequency[at]), float(spectrum[at]) / usual


def _phase(level: Level, edges: list[Array], pitch: float) -> float:
    """mm: u of the middle of a needle. Tips stand out where the needles are, gaps do not."""
    u = level.u()
    total = 0j
    for edge, sign in zip(edges, (1.0, -1.0), strict=True):
        known = np.isfinite(edge)
        if known.sum() < 20:
            continue
        filled = np.interp(u, u[known], edge[known]) * sign
        usual = median_filter(filled, size=2 * round(1.5 * pitch / level.cell) + 1)
        stands = np.clip(filled - usual, -0.4, 0.4)
        total += (stands[known] * np.exp(2j * np.pi * u[known] / pitch)).sum()
    # stands ~ cos(2π (u - phase) / pitch)
    return float(np.angle(total)) / (2 * np.pi) * pitch


def _longest(good: NDArray[np.bool_]) -> slice:
    """The longest run of True that is broken by no more than two at a time."""
    at = np.flatnonzero(good)
    if not len(at):
        return slice(0, 0)
    breaks = np.flatnonzero(np.diff(at) > 3)
    starts = np.concatenate([[0], breaks + 1])
    ends = np.concatenate([breaks, [len(at) - 1]])
    best = int(np.argmax(ends - starts))
    return slice(int(at[starts[best]]), int(at[ends[best]]) + 1)


def _scatter(*rows: Array) -> float:
    """mm: how far tips stray from the line between their neighbours, robustly."""
    strays = []
    for row in rows:
        middle = row[1:-1] - (row[:-2] + row[2:]) / 2
        strays.append(middle[np.isfinite(middle)])
    stray = np.concatenate(strays)
    if len(stray) < 5:
        return 0.2
    # a second difference of independent errors has sqrt(1.5) times their sigma
    return float(1.4826 * np.median(np.abs(stray)) / np.sqrt(1.5))
