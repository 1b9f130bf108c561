"""A saddle's place to a few hundredths of a pixel: two blurred edges that cross, fitted to light.

An iterative refinement by gradients scatters by about a tenth of a pixel on a phone's grain; a
fit to every pixel of the four squares scatters by a third of that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.cores import on_cores
from profiler.optics.light import to_linear

Array = NDArray[np.float64]

#: so much of each square is fitted, from the crossing outwards; what lies beyond the square
#: shines into its rim
_REACH = 0.78
_LARGEST_HALF_PX = 13
_ROUNDS = 7
#: a step this small, px, leaves a tenth of itself: far below what paper and noise leave
_SETTLED_PX = 5e-4
#: a fit that ends further from its start than this has found something else, px
_FARTHEST_PX = 0.8
#: residual of the fit, of the step between black and white, above which it is no crossing
_MOST_RESIDUAL = 0.2
#: pixels of a developed picture share their noise with their neighbours
_SHARED_NOISE = 1.5
_BLUR_PX = (0.35, 3.0)
#: points fitted together: their windows fit into a processor's nearest memory
_AT_ONCE = 32


@dataclass(frozen=True)
class Crossings:
    """Attributes:
    pixels: (N, 2) px.
    sigma: (N,) px, standard uncertainty of one coordinate from the picture's own noise.
    sound: (N,) bool, False where the fit failed and `pixels` is the guess.
    """

    pixels: Array
    sigma: Array
    sound: NDArray[np.bool_]


def fit_crossings(gray: NDArray[np.uint8], guesses: Array, across: Array, up: Array) -> Crossings:
    """Fit the place where two black and two white squares meet.

    The model is gain (1 + g . d) times base + step E(d1 / s) E(d2 / s), E the error function: a
    check in an even blur under light that changes along the photo. Solved by Gauss and Newton
    for all points at once.

    Args:
        gray: (H, W), gamma-coded.
        guesses: (N, 2) px, within half a pixel or so.
        across: (N, 2) px, from a check's centre to its right edge.
        up: (N, 2) px, from a check's centre to its upper edge; white lies up right.
    """
    n = len(guesses)
    if n == 0:
        return Crossings(guesses.copy(), np.zeros(0), np.zeros(0, dtype=bool))
    reach = _REACH * np.abs(np.concatenate([across, up])).max(axis=1)
    # neighbouring squares lean against each other: the larger of both sides bounds the window
    half = int(np.clip(np.ceil(np.median(reach) * 1.2), 3, _LARGEST_HALF_PX))

    def fitted(first: int) -> Crossings:
        some = slice(first, first + _AT_ONCE)
        return _fitted(gray, guesses[some], across[some], up[some], half)

    # sums over so many pixels leave Python's lock: each core takes a part
    parts = on_cores(fitted, range(0, n, _AT_ONCE))
    return Crossings(
        np.concatenate([part.pixels for part in parts]),
        np.concatenate([part.sigma for part in parts]),
        np.concatenate([part.sound for part in parts]),
    )


def _fitted(
    gray: NDArray[np.uint8], guesses: Array, across: Array, up: Array, half: int
) -> Crossings:
    """`fit_crossings` of a few points, in windows of `half` px to each side."""
    n = len(guesses)
    h, w = gray.shape
    grid = np.arange(-half, half + 1)
    centre = np.clip(np.rint(guesses), half, np.array([w - half - 1, h - half - 1])).astype(int)
    start = guesses - centre
    # which pixels lie on the four squares, in the check's own axes
    det = across[:, 0] * up[:, 1] - across[:, 1] * up[:, 0]
    wide, high = (side.ravel() for side in np.meshgrid(grid, grid))
    x, y = wide - start[:, :1], high - start[:, 1:]
    u = (x * up[:, 1, None] - y * up[:, 0, None]) / det[:, None]
    v = (y * across[:, 0, None] - x * across[:, 1, None]) / det[:, None]
    inside = (np.abs(u) < _REACH) & (np.abs(v) < _REACH)
    # the others are left out of every sum: those that count are moved to the front
    count = inside.sum(axis=1)
    kept = np.argsort(~inside, axis=1, kind="stable")[:, : max(int(count.max()), 1)]  # (N, K)
    dx, dy = wide[kept], high[kept]
    on = (np.arange(kept.shape[1]) < count[:, None]).astype(np.float64)
    values = to_linear(gray[centre[:, 1, None] + dy, centre[:, 0, None] + dx]) * on
    lit = np.take_along_axis(u * v, kept, axis=1)
    bright, dark = _levels(values, on, lit > 0), _levels(values, on, lit < 0)

    state = np.column_stack(
        [
            start,
            np.arctan2(up[:, 1], up[:, 0]),  # direction of the edge between left and right
            np.arctan2(across[:, 1], across[:, 0]),
            np.full(n, 0.9),
            (bright + dark) / 2,
            (bright - dark) / 2,
            np.zeros((n, 2)),
        ]
    )
    turned = np.sign(det)[:, None]
    residual = np.zeros_like(values)
    normal = np.zeros((n, 9, 9))
    for _ in range(_ROUNDS):
        residual, rows = _equations(values, on, dx, dy, state, turned, half)
        normal = rows @ rows.swapaxes(1, 2)
        right = rows @ residual[:, :, None]
        diagonal = np.maximum(np.einsum("nii->ni", normal), 1e-12)
        damped = normal + 1e-6 * diagonal[:, :, None] * np.eye(9)
        step = np.linalg.solve(damped, right)[:, :, 0]
        step[:, :2] = np.clip(step[:, :2], -0.5, 0.5)
        step[:, 2:4] = np.clip(step[:, 2:4], -0.1, 0.1)
        step[:, 4] = np.clip(step[:, 4], -0.3, 0.3)
        state = state + step
        state[:, 4] = np.clip(state[:, 4], *_BLUR_PX)
        if np.abs(step[:, :2]).max() < _SETTLED_PX:
            break
    residual, _ = _equations(values, on, dx, dy, state, turned, half)
    freedom = np.maximum(count - 9, 1)
    noise = np.sqrt((residual**2).sum(axis=1) / freedom)
    inverse = np.linalg.inv(
        normal + 1e-9 * np.einsum("nii->ni", normal)[:, :, None] * np.eye(9) + 1e-12 * np.eye(9)
    )
    sigma = _SHARED_NOISE * noise * np.sqrt((inverse[:, 0, 0] + inverse[:, 1, 1]) / 2)
    moved = np.hypot(*(state[:, :2] - start).T)
    sound = (
        np.isfinite(state).all(axis=1)
        & (moved < _FARTHEST_PX)
        & (state[:, 6] > 0)
        & (noise < _MOST_RESIDUAL * 2 * np.abs(state[:, 6]))
        & (count > 24)
    )
    pixels = np.where(sound[:, None], centre + state[:, :2], guesses)
    return Crossings(pixels, sigma, sound)


def _levels(values: Array, on: Array, which: NDArray[np.bool_]) -> Array:
    weight = on * which
    level: Array = (values * weight).sum(axis=1) / np.maximum(weight.sum(axis=1), 1)
    return level


def _equations(
    values: Array,
    on: Array,
    dx: NDArray[np.intp],
    dy: NDArray[np.intp],
    state: Array,
    turned: Array,
    half: int,
) -> tuple[Array, Array]:
    """Residual (N, K) and derivatives (N, 9, K) of the model by its terms.

    `values` (N, K), `dx` and `dy` are of the pixels on the squares, where `on` is 1; the rest is 0.
    """
    cx, cy, edge_up, edge_across, blur, base, step, gx, gy = state.T[:, :, None]
    x, y = dx - cx, dy - cy
    sin_up, cos_up = turned * np.sin(edge_up), turned * np.cos(edge_up)
    sin_across, cos_across = turned * np.sin(edge_across), turned * np.cos(edge_across)
    # distance to the right of the upright edge and above the level one, in sigmas of the blur
    d1 = (x * sin_up - y * cos_up) / blur
    d2 = (y * cos_across - x * sin_across) / blur
    (e1, slope1), (e2, slope2) = blurred_step(d1), blurred_step(d2)
    k = np.sqrt(2 / np.pi) * step / blur
    gain = (1 + (gx * x + gy * y) / half) * on
    both = e1 * e2
    flat = base + step * both
    by_d1, by_d2 = k * slope1 * e2 * gain, k * slope2 * e1 * gain
    rows = np.empty((len(x), 9, x.shape[1]))
    rows[:, 0] = by_d2 * sin_across - by_d1 * sin_up
    rows[:, 1] = by_d1 * cos_up - by_d2 * cos_across
    rows[:, 2] = by_d1 * (x * cos_up + y * sin_up)
    rows[:, 3] = by_d2 * (y * sin_across + x * cos_across)
    rows[:, 3] *= -1
    rows[:, 4] = -(by_d1 * d1 + by_d2 * d2)
    rows[:, 5] = gain
    rows[:, 6] = both * gain
    by_slope = flat * on / half
    rows[:, 7] = by_slope * x
    rows[:, 8] = by_slope * y
    return values - flat * gain, rows


def blurred_step(d: Array) -> tuple[Array, Array]:
    """erf(d / sqrt 2), right to 1.5e-7, and exp(-d d / 2): a step of one sigma's blur, its slope.

    Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 7.1.26.
    """
    bell = np.exp(d * d * -0.5)
    t = 1 / (1 + (0.3275911 * np.sqrt(0.5)) * np.abs(d))
    series = 1.421413741 + t * (-1.453152027 + t * 1.061405429)
    series = t * (0.254829592 + t * (-0.284496736 + t * series))
    return np.copysign(1 - series * bell, d), bell
