"""A needle's end to a fraction of a pixel: the step from its light to the mat's, fitted.

Near its end a needle's profile is its own light up to the end, and the mat's light from there, both
blurred as the photo is. Where the end is best is sought by least squares, each of the two lights
being free to be somewhat brighter or darker than it was expected; a print's edge beside the end is
in the mat's expected light, and so does not draw the end to it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from profiler.silhouette.needle_or_mat import Looks

Array = NDArray[np.float64]

#: the profile is fitted so far on each side, the end may move so far, mm
_REACH_MM, _MOVE_MM = 1.1, 0.6
#: steps in which it is moved, of a cell
_STEP = 0.25
#: lights may differ from what was expected by this part, standard (a guess)
_GAIN = 0.3
#: worse than this, mm, is not seen
_WORST_MM = 0.35


def steps_at(
    looks: Looks, rows: Array, up: bool, cell: float, blur: float
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """(K,) rows of the ends, outside being up, (K,) their standard uncertainty in rows, and
    (K,) whether they were seen.

    Args:
        looks: of needles and mat.
        rows: (K,) about where they are, outside being up; NaN where nobody knows.
        up: the upper ends, else the lower ones.
        cell: mm.
        blur: mm, sigma of the photo's blur.
    """
    seen, needle, mat = (
        np.exp(v if up else v[::-1]) for v in (looks.seen, looks.needle, looks.mat)
    )
    whiten = _whitener(seen, needle, mat, rows, cell)
    seen, needle, mat = (v @ whiten for v in (seen, needle, mat))
    reach, move = round(_REACH_MM / cell), round(_MOVE_MM / cell)
    offsets = np.arange(-reach - move, reach + move + 1)
    moves = np.arange(-move, move + _STEP / 2, _STEP)
    # (moves, offsets): share of the mat at each row for an end at each move
    share = ndtr((offsets[None, :] + 0.5 - moves[:, None]) / max(blur / cell, 0.3))
    fine, sigma = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    clear = np.zeros(len(rows), dtype=bool)
    height = len(seen)
    for k in np.flatnonzero(np.isfinite(rows)):
        at = round(float(rows[k])) + offsets
        inside = (at >= 0) & (at < height)
        at = np.clip(at, 0, height - 1)
        y = seen[at, k]
        a = (1 - share)[..., None] * needle[at, k][None]  # (moves, offsets, 3)
        b = share[..., None] * mat[at, k][None]
        weight = inside.astype(np.float64)[None, :, None]
        aa, ab, bb = ((p * q * weight).sum(axis=(1, 2)) for p, q in ((a, a), (a, b), (b, b)))
        ay, by = ((p * y[None] * weight).sum(axis=(1, 2)) for p in (a, b))
        # gains are about one
        ridge = 1 / (_GAIN**2 * looks.worth)
        aa, bb, ay, by = aa + ridge, bb + ridge, ay + ridge, by + ridge
        det = aa * bb - ab**2
        ga, gb = (ay * bb - by * ab) / det, (by * aa - ay * ab) / det
        left = y[None] - ga[:, None, None] * a - gb[:, None, None] * b
        sse = (left**2 * weight).sum(axis=(1, 2))
        sse += ridge * ((ga - 1) ** 2 + (gb - 1) ** 2)
        best = int(np.argmin(sse))
        if best in (0, len(moves) - 1):
            continue
        h = min(best, len(moves) - 1 - best, max(round(0.15 / cell / _STEP), 2))
        local = slice(best - h, best + h + 1)
        c2, c1, _ = np.polyfit(moves[local] - moves[best], sse[local], 2)
        if c2 <= 0:
            continue
        shift = float(np.clip(-c1 / (2 * c2), -h * _STEP, h * _STEP))
        freedom = max(float(sse[best]) / max(3.0 * inside.sum(), 1.0), 1.0)
        fine[k] = rows[k] + moves[best] + shift
        sigma[k] = np.sqrt(freedom / (c2 * looks.worth))
        clear[k] = sigma[k] * cell < _WORST_MM
    return fine, sigma, clear


def _whitener(seen: Array, needle: Array, mat: Array, rows: Array, cell: float) -> Array:
    """(3, 3) that makes the strays of light from what was expected one in all directions."""
    near, far = round(_MOVE_MM / cell), round(4 * _REACH_MM / cell)
    strays = []
    for k in np.flatnonzero(np.isfinite(rows)):
        at = round(float(rows[k]))
        inner, outer = slice(max(at - far, 0), max(at - near, 0)), slice(at + near, at + far)
        strays.append(seen[inner, k] - needle[inner, k])
        strays.append(seen[outer, k] - mat[outer, k])
    stray = np.vstack(strays)
    size = np.linalg.norm(stray, axis=1)
    stray = stray[size <= 3 * float(np.median(size))]
    spread = stray.T @ stray / len(stray)
    values, vectors = np.linalg.eigh(spread)
    floor = 1e-3 * float(values.max())
    out: Array = vectors @ np.diag(1 / np.sqrt(values + floor)) @ vectors.T
    return out
