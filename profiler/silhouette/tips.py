"""Where needles end, to a fraction of a pixel, in linear light.

In each needle's own profile every clear step of the light near the silhouette's edge may be its
tip; a printed edge beside it or a gleam on it makes one too. Which step it is is decided for all
needles together: their ends run on smoothly, but where the wood begins they do not, so a bend costs
no more than a certain amount (the best chain by Viterbi's recursion, 1967).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette.level import Level

Array = NDArray[np.float64]

#: a tip is sought so far inside and outside the silhouette's edge, mm: the silhouette fills in
#: what is narrower than a needle or two
_INWARD, _OUTWARD = 2.6, 2.4
#: change of linear light per mm that a tip makes at least
_LEAST_STEP = 0.03
#: a step counts if it is this strong beside the profile's strongest
_LEAST_SHARE = 0.25
#: steps that are looked at in each profile
_MOST = 6
#: costs: of a printed edge, of each step outside, per mm from the silhouette's edge, of weakness
_PRINTED, _OUTSIDE, _AWAY, _WEAK = 1.2, 0.35, 0.35, 0.8
#: of saying nothing
_NOTHING = 4.5
#: cost of a bend between neighbours per mm, the most of it, and of one that is not known
_BEND, _MOST_BEND, _UNKNOWN_BEND = 1.6, 1.5, 0.8


def rough_ends(level: Level, up: bool) -> Array:
    """(W,) mm along v of the strongest step in each column near the silhouette's end; NaN for none.

    Args:
        up: the upper end, else the lower one.
    """
    slope, printed, last = _slopes(level, level.light, level.ink, level.mask, up)
    window, rows = _window(level, last, slope.shape[0])
    columns = np.arange(slope.shape[1])
    strength = np.where(printed[window, columns] & (rows > 1)[:, None], 0.0, slope[window, columns])
    at = np.argmax(strength, axis=0)
    row = window[at, columns]
    found = level.mask.any(axis=0) & (strength[at, columns] > _LEAST_STEP)
    place = _refined(slope, row, columns)
    return np.where(found, _to_v(level, place, up), np.nan)


def trace_tips(level: Level, places: Array, core: float, up: bool) -> Array:
    """(K,) mm along v where each needle ends, NaN where that cannot be told.

    Args:
        level: laid flat at the needles' height, v along the needles.
        places: (K,) mm, u of the needles' middles.
        core: mm on each side of a middle that are averaged.
        up: the upper ends, else the lower ones.
    """
    u = level.u()
    columns = [np.flatnonzero(np.abs(u - place) <= core) for place in places]
    columns = [
        c if len(c) else np.array([np.argmin(np.abs(u - p))])
        for c, p in zip(columns, places, strict=True)
    ]
    light = np.stack([level.light[:, c].mean(axis=1) for c in columns], axis=1)
    ink = np.stack([level.ink[:, c].any(axis=1) for c in columns], axis=1)
    mask = np.stack([level.mask[:, c].mean(axis=1) >= 0.5 for c in columns], axis=1)
    slope, printed, last = _slopes(level, light, ink, mask, up)
    window, rows = _window(level, last, slope.shape[0])
    choices: list[tuple[Array, Array]] = []
    for k in range(len(places)):
        if not mask[:, k].any():
            choices.append((np.array([np.nan]), np.array([0.0])))
            continue
        s = slope[window[:, k], k]
        peak = (s >= slope[window[:, k] - 1, k]) & (s > slope[window[:, k] + 1, k])
        peak &= s > max(_LEAST_STEP, _LEAST_SHARE * float(s.max()))
        at = np.flatnonzero(peak)
        at = np.sort(at[np.argsort(s[at])[::-1][:_MOST]])[::-1]  # outermost first
        where = window[at, k]
        place = _refined(slope, where, np.full(len(at), k))
        cost = (
            _WEAK * (1 - s[at] / max(float(s.max()), 1e-9))
            + _AWAY * np.abs(rows[at]) * level.cell
            + _PRINTED * (printed[where, k] & (rows[at] > 1))
            + _OUTSIDE * np.arange(len(at))
        )
        choices.append((np.append(_to_v(level, place, up), np.nan), np.append(cost, _NOTHING)))
    return _best_chain(choices)


def _slopes(
    level: Level,
    light: NDArray[np.float32],
    ink: NDArray[np.bool_],
    mask: NDArray[np.bool_],
    up: bool,
) -> tuple[Array, NDArray[np.bool_], NDArray[np.intp]]:
    """Steps per mm along v, printed edges, and the silhouette's last row; upside down for the
    lower ends, so that outside is always up."""
    if not up:
        light, ink, mask = light[::-1], ink[::-1], mask[::-1]
    soft = gaussian_filter1d(light, 0.12 / level.cell, axis=0, order=1, mode="nearest")
    steep: Array = np.linalg.norm(soft, axis=2).astype(np.float64) / level.cell
    last = mask.shape[0] - 1 - np.argmax(mask[::-1], axis=0)
    return steep, ink, last


def _window(
    level: Level, last: NDArray[np.intp], rows: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows that are looked at in each column, and how far outside the silhouette they are."""
    offsets = np.arange(-round(_INWARD / level.cell), round(_OUTWARD / level.cell) + 1)
    return np.clip(last[None, :] + offsets[:, None], 2, rows - 3), offsets


def _refined(slope: Array, row: NDArray[np.intp], column: NDArray[np.intp]) -> Array:
    """Rows of peaks with the vertex of the parabola through each and its neighbours."""
    a, b, c = (slope[row + d, column] for d in (-1, 0, 1))
    bend = a - 2 * b + c
    shift = np.where(np.abs(bend) > 1e-12, 0.5 * (a - c) / np.where(bend == 0, 1.0, bend), 0.0)
    refined: Array = row + np.clip(shift, -0.5, 0.5)
    return refined


def _to_v(level: Level, rows: Array, up: bool) -> Array:
    values: Array = level.corner[1] + (rows if up else len(level.v()) - 1 - rows) * level.cell
    return values


def _best_chain(choices: list[tuple[Array, Array]]) -> Array:
    """(K,) the places of the chain that costs least: of each needle's choice, and of each bend."""
    total = choices[0][1][:, None] + choices[1][1][None, :]  # of the last two choices
    back: list[NDArray[np.intp]] = []
    for (a, _), (b, _), (c, cost) in zip(choices, choices[1:], choices[2:], strict=False):
        bend = np.abs(a[:, None, None] - 2 * b[None, :, None] + c[None, None, :])
        price = np.where(np.isnan(bend), _UNKNOWN_BEND, np.minimum(_BEND * bend, _MOST_BEND))
        whole = total[:, :, None] + price
        back.append(np.argmin(whole, axis=0))
        total = whole.min(axis=0) + cost[None, :]
    i, j = np.unravel_index(int(np.argmin(total)), total.shape)
    chosen = [int(j), int(i)]
    for step in reversed(back):
        chosen.append(int(step[chosen[-1], chosen[-2]]))
    return np.array([choices[k][0][i] for k, i in enumerate(reversed(chosen))])
