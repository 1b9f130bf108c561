"""A saddle's place to a few hundredths of a pixel: two blurred edges that cross, fitted to light.

An iterative refinement by gradients scatters by about a tenth of a pixel on a phone's grain; a
fit to every pixel of the four squares scatters by a third of that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.optics.light import to_linear

Array = NDArray[np.float64]

#: so much of each square is fitted, from the crossing outwards; what lies beyond the square
#: shines into its rim
_REACH = 0.78
_LARGEST_HALF_PX = 13
_ROUNDS = 7
#: a fit that ends further from its start than this has found something else, px
_FARTHEST_PX = 0.8
#: residual of the fit, of the step between black and white, above which it is no crossing
_MOST_RESIDUAL = 0.2
#: pixels of a developed picture share their noise with their neighbours
_SHARED_NOISE = 1.5
_BLUR_PX = (0.35, 3.0)


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
    h, w = gray.shape
    grid = np.arange(-half, half + 1)
    centre = np.clip(np.rint(guesses), half, np.array([w - half - 1, h - half - 1])).astype(int)
    dx, dy = (a.ravel() for a in np.meshgrid(grid, grid))
    seen = gray[centre[:, 1, None] + dy, centre[:, 0, None] + dx]  # (N, K)
    values = to_linear(seen).astype(np.float64)
    start = guesses - centre
    # which pixels lie on the four squares, in the check's own axes
    det = across[:, 0] * up[:, 1] - across[:, 1] * up[:, 0]
    x, y = dx - start[:, :1], dy - start[:, 1:]
    u = (x * up[:, 1, None] - y * up[:, 0, None]) / det[:, None]
    v = (y * across[:, 0, None] - x * across[:, 1, None]) / det[:, None]
    on = ((np.abs(u) < _REACH) & (np.abs(v) < _REACH)).astype(np.float64)
    bright, dark = _levels(values, on, u * v > 0), _levels(values, on, u * v < 0)

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
        normal = np.einsum("nik,njk->nij", rows, rows)
        right = np.einsum("nik,nk->ni", rows, residual)
        diagonal = np.maximum(np.einsum("nii->ni", normal), 1e-12)
        damped = normal + 1e-6 * diagonal[:, :, None] * np.eye(9)
        step = np.linalg.solve(damped, right[:, :, None])[:, :, 0]
        step[:, :2] = np.clip(step[:, :2], -0.5, 0.5)
        step[:, 2:4] = np.clip(step[:, 2:4], -0.1, 0.1)
        step[:, 4] = np.clip(step[:, 4], -0.3, 0.3)
        state = state + step
        state[:, 4] = np.clip(state[:, 4], *_BLUR_PX)
    residual, _ = _equations(values, on, dx, dy, state, turned, half)
    freedom = np.maximum(on.sum(axis=1) - 9, 1)
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
        & (on.sum(axis=1) > 24)
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
    """Residual (N, K) and derivatives (N, 9, K) of the model by its terms."""
    # late: a photo is opened before this is needed, and it loads beside that
    from scipy.special import erf

    cx, cy, edge_up, edge_across, blur, base, step, gx, gy = state.T[:, :, None]
    x, y = dx - cx, dy - cy
    # distance to the right of the upright edge and above the level one
    d1 = turned * (x * np.sin(edge_up) - y * np.cos(edge_up))
    d2 = turned * (y * np.cos(edge_across) - x * np.sin(edge_across))
    e1, e2 = erf(d1 / (np.sqrt(2) * blur)), erf(d2 / (np.sqrt(2) * blur))
    k = np.sqrt(2 / np.pi) / blur
    p1, p2 = k * np.exp(-((d1 / blur) ** 2) / 2), k * np.exp(-((d2 / blur) ** 2) / 2)
    flat = base + step * e1 * e2
    gain = 1 + (gx * x + gy * y) / half
    by_d1, by_d2 = step * p1 * e2 * gain, step * e1 * p2 * gain
    rows = np.stack(
        [
            turned * (-by_d1 * np.sin(edge_up) + by_d2 * np.sin(edge_across)),
            turned * (by_d1 * np.cos(edge_up) - by_d2 * np.cos(edge_across)),
            turned * by_d1 * (x * np.cos(edge_up) + y * np.sin(edge_up)),
            -turned * by_d2 * (y * np.sin(edge_across) + x * np.cos(edge_across)),
            -(by_d1 * d1 + by_d2 * d2) / blur,
            np.broadcast_to(gain, x.shape),
            e1 * e2 * gain,
            flat * x / half,
            flat * y / half,
        ],
        axis=1,
    )
    return (values - flat * gain) * on, rows * on[:, None, :]
