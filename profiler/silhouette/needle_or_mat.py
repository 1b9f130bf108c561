"""Needle or mat? What each cell along each needle's axis speaks for, in nats.

All needles of a gauge look alike at the same distance along them, being one material under one
light: that is their look. The mat's look is known from its print, but for shade, which takes all
colours alike, is deep where the needles begin and fades with the distance from them; neighbours
show it. What both vary by is seen where there is no doubt which of them is seen. A cell that is
like neither speaks for neither.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette.beneath import Beneath

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: nearer to an end than this nothing is sure, farther off than this it is another place, mm
_NEAR_MM, _FAR_MM = 0.7, 6.0
#: the needles' look is smooth over this along them, mm
_SMOOTH_MM = 0.8
#: shade is learned from so many needles on each side
_NEIGHBOURS = 6
#: part of all cells that may be something else: a gleam, dirt
_OTHER = 0.05
#: light below this part of the tint's is the photo's noise and stray light
_FLOOR = 0.015
#: shade's own standard uncertainty beside a place where it is seen, as a logarithm (a guess)
_SHADE = 0.25
#: of the mat, the part that is shaded quite otherwise than it is beside it, and how much deeper
#: than it is seen to be, as a logarithm: close to a needle (a guess)
_ODDLY_SHADED, _DEEPER = 0.25, 0.7
#: colour's own standard uncertainty in deep shade, as a logarithm: paper beside it lights it (a
#: guess)
_TINGE = 0.06


@dataclass(frozen=True)
class Looks:
    """What needles and mat look like, along each needle: (H, K) cells.

    Attributes:
        seen: (H, K, 3) log light.
        needle: (H, K, 3) log light that a needle would have there.
        mat: (H, K, 3) log light that the mat would have there, with its shade, of the ink that
            goes best with what is seen.
        for_mat: (H, K) nats by which the cell speaks for the mat and against a needle, as if
            it were one of many independent ones; see `worth`.
        worth: part of a nat that a cell is worth, cells being alike to their neighbours.
    """

    seen: Array
    needle: Array
    mat: Array
    for_mat: Array
    worth: float


def log_light(light: Array, floor: Array | float) -> Array:
    """Logarithm of light over a floor that keeps noise in the dark from counting."""
    out: Array = np.log(np.maximum(light, 0.0) + floor)
    return out


def looks(
    light: Array, beneath: Beneath, inside: NDArray[np.bool_], cell: float, blur: float
) -> Looks | None:
    """Looks of needles and mat from where it is clear which of them is seen.

    Args:
        light: (H, K, 3) linear, along each needle.
        beneath: bare mat there, (H, K).
        inside: (H, K) what is thought to be needle.
        cell: mm.
        blur: mm, of the photo, sigma: over this neighbouring cells tell the same.

    Returns:
        None where needles or mat are nowhere seen for sure.
    """
    floor = _FLOOR * np.median(beneath.light[..., 0, :], axis=(0, 1))
    seen = log_light(light, floor)
    bare = log_light(beneath.light, floor)  # (H, K, ink, 3)
    away = _from_edge(inside, cell)  # mm, above zero outside
    sure_needle = away < -_NEAR_MM
    sure_mat = (away > _NEAR_MM) & (away < _FAR_MM) & beneath.known
    if sure_needle.sum() < 200 or sure_mat.sum() < 200:
        return None
    needle = _needle_look(seen, sure_needle, cell)
    needle = needle + _shining_through(seen - needle, beneath, sure_needle)
    stray = (seen - needle)[sure_needle]
    spread_needle = _spread(stray)
    # the length of one independent value in what is blurred by a bell curve
    worth = cell / (2 * np.sqrt(np.pi) * blur)
    # each ink without shade; the shade is what is missing of the likeliest ink's light
    off = seen[:, :, None, :] - bare
    chance = np.log(beneath.chance)
    gray = off.mean(axis=3)
    colour = off - gray[..., None]
    fit = chance - 0.5 * ((colour / 0.08) ** 2).sum(axis=3) - 0.5 * (np.maximum(gray, 0) / 0.1) ** 2
    fit -= 0.5 * (gray / 1.0) ** 2
    ink = np.argmax(fit, axis=2)
    shade = np.take_along_axis(gray, ink[..., None], axis=2)[..., 0]
    shade = _shade(np.where(sure_mat, shade, np.nan), away, cell)
    deepest = _DEEPER - float(np.percentile(shade[sure_mat], 5))
    off = off - shade[:, :, None, None]
    chosen = np.take_along_axis(off, ink[..., None, None], axis=2)[:, :, 0, :]
    spread_mat = _spread(chosen[sure_mat]) + _SHADE**2 * np.ones((3, 3)) * 0.5
    each = chance + np.logaddexp(
        np.log1p(-_ODDLY_SHADED) + _normal(off, spread_mat),
        np.log(_ODDLY_SHADED) + _in_any_shade(seen[:, :, None, :] - bare, spread_mat, deepest),
    )
    best = np.argmax(each, axis=2)
    mat = np.take_along_axis(bare, best[..., None, None], axis=2)[:, :, 0, :] + shade[..., None]
    for_mat = np.logaddexp.reduce(each, axis=2)
    for_needle = _normal(seen - needle, spread_needle)
    # something else: any light at all, over a few stops of it and a stop of each colour
    other = np.log(_OTHER / 4.0)
    main = np.log1p(-_OTHER)
    balance = np.logaddexp(for_mat + main, other) - np.logaddexp(for_needle + main, other)
    balance[~beneath.known] = 0.0
    return Looks(seen, needle, mat, balance, float(min(worth, 1.0)))


def _from_edge(inside: NDArray[np.bool_], cell: float) -> Array:
    """(H, K) mm from where a needle ends, above zero outside; along the needle."""
    height = inside.shape[0]
    rows = np.arange(height)[:, None]
    any_in = inside.any(axis=0)
    first = np.where(any_in, np.argmax(inside, axis=0), height)
    last = np.where(any_in, height - 1 - np.argmax(inside[::-1], axis=0), -1)
    away: Array = np.maximum(first - rows, rows - last) * cell
    away[:, ~any_in] = np.nan
    return np.nan_to_num(away, nan=1e6)


def _needle_look(seen: Array, sure: NDArray[np.bool_], cell: float) -> Array:
    """(H, K, 3): the usual light of the needles at each row, and each needle's own gain."""
    rows = np.where(sure[..., None], seen, np.nan)
    enough = sure.sum(axis=1) >= max(0.1 * sure.shape[1], 5)
    usual = np.full((len(seen), 3), np.nan)
    usual[enough] = np.nanmedian(rows[enough], axis=1)
    at = np.flatnonzero(enough)
    for c in range(3):
        usual[:, c] = np.interp(np.arange(len(seen)), at, usual[at, c])
    usual = gaussian_filter1d(usual, _SMOOTH_MM / cell, axis=0, mode="nearest")
    with np.errstate(all="ignore"):
        own = np.array(
            [
                np.median((seen[:, k] - usual)[s], axis=0)
                if (s := sure[:, k]).sum() > 20
                else [0.0] * 3
                for k in range(seen.shape[1])
            ]
        )
    out: Array = usual[:, None, :] + own[None]
    return out


def _shining_through(stray: Array, beneath: Beneath, sure: NDArray[np.bool_]) -> Array:
    """(H, K, 3) log light that the print below adds between the needles to how they look."""
    expected = (beneath.chance[..., None] * beneath.light).sum(axis=2)
    usual = np.median(beneath.light[:, :, 0], axis=(0, 1))
    added = expected / usual
    added = added - np.median(added[sure], axis=0)
    x, y = added[sure], stray[sure]
    weight = np.ones(len(x))
    share = 0.0
    for _ in range(6):
        w = weight[:, None]
        share = float((w * x * y).sum() / max(float((w * x * x).sum()), 1e-9))
        off = np.linalg.norm(y - share * x, axis=1)
        weight = 1 / (1 + (off / (2 * max(float(np.median(off)), 1e-3))) ** 2)
    out: Array = max(share, 0.0) * added
    return out


def _shade(shade: Array, away: Array, cell: float) -> Array:
    """(H, K) shade as neighbours show it at the same distance from their ends.

    Args:
        shade: (H, K) log, NaN where it is not known.
        away: (H, K) mm from the needle's end.
    """
    step = 0.4
    bins = np.arange(_NEAR_MM, _FAR_MM + step, step)
    which = np.clip(np.digitize(away, bins) - 1, 0, len(bins) - 1)
    count = shade.shape[1]
    usual = float(np.nanmedian(shade))
    out = np.empty_like(shade)
    upper = np.arange(shade.shape[0])[:, None] > shade.shape[0] / 2
    for end in (upper, ~upper):
        found = np.full((len(bins), count), np.nan)
        known = end & np.isfinite(shade)
        for b in range(len(bins)):
            chosen = (which == b) & known
            rows = np.flatnonzero(chosen.any(axis=1))
            if not len(rows):
                continue
            part = slice(int(rows[0]), int(rows[-1]) + 1)
            here = np.where(chosen[part], shade[part], np.nan)
            filled = chosen[part].any(axis=0)
            found[b, filled] = np.nanmedian(here[:, filled], axis=0)
        smooth = np.full_like(found, usual)
        aside = np.pad(found, ((0, 0), (_NEIGHBOURS, _NEIGHBOURS)), constant_values=np.nan)
        near = sliding_window_view(aside, 2 * _NEIGHBOURS + 1, axis=1)
        enough = np.isfinite(near).sum(axis=2) >= 3
        if enough.any():
            smooth[enough] = np.nanmedian(near[enough], axis=1)
        smooth = gaussian_filter1d(smooth, 1.0, axis=0, mode="nearest")
        # the shade begins where the needle does
        values = np.take_along_axis(smooth, which, axis=0)
        mask = np.broadcast_to(end, shade.shape)
        out[mask] = values[mask]
    return np.asarray(np.clip(out, -3.0, 0.3))


def _in_any_shade(off: Array, spread: Array, deepest: float) -> Array:
    """(...) log density of (..., 3) strays whose common part may be any shade down to the
    deepest."""
    gray = off.mean(axis=-1)
    colour = off - gray[..., None]
    # two directions across gray
    basis = np.array([[1.0, -1.0, 0.0], [1.0, 1.0, -2.0]]) / np.sqrt([[2.0], [6.0]])
    plane = colour @ basis.T
    across = basis @ spread @ basis.T + _TINGE**2 * np.eye(2)
    inverse = np.linalg.inv(across)
    square = np.einsum("...i,ij,...j->...", plane, inverse, plane)
    density = -0.5 * (square + np.linalg.slogdet(across)[1] + 2 * np.log(2 * np.pi))
    beyond = np.maximum(gray - 0.1, 0.0) + np.maximum(-deepest - gray, 0.0)
    out: Array = density - np.log(np.sqrt(3.0) * deepest) - 0.5 * (beyond / 0.1) ** 2
    return out


def _spread(stray: Array) -> Array:
    """(3, 3) covariance about zero of most of (N, 3) strays."""
    size = np.linalg.norm(stray, axis=1)
    kept = stray[size <= 3.0 * max(float(np.median(size)), 1e-3)]
    out: Array = kept.T @ kept / max(len(kept), 1) + 4e-4 * np.eye(3)
    return out


def _normal(off: Array, spread: Array) -> Array:
    """(...) log density of (..., 3) strays."""
    inverse = np.linalg.inv(spread)
    _, size = np.linalg.slogdet(spread)
    square = np.einsum("...i,ij,...j->...", off, inverse, off)
    out: Array = -0.5 * (square + size + 3 * np.log(2 * np.pi))
    return out
