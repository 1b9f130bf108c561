"""Where needles end, to a fraction of a pixel, in linear light.

In each needle's own profile every clear step of the light near the silhouette's edge may be its
tip; a printed edge beside it or a gleam on it makes one too. Which step it is is decided for all
needles together: their ends run on smoothly, but where the wood begins they do not, so a bend
costs no more than a certain amount (the best chain by Viterbi's recursion, 1967). All needles
being about as long, a step that has its counterpart at the needle's other end is believed more.

A silhouette may take a white seam in the needles' shadow for a part of them. All needles of a gauge
look alike at the same distance along them, being one material under one light: so an end is sought
too where a needle stops looking like the others.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette.level import Level

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Choice = tuple[Array, Array]

#: a tip is sought so far inside and outside the silhouette's edge, mm: the silhouette fills in
#: what is narrower than a needle or two
_INWARD, _OUTWARD = 2.6, 2.4
#: change of linear light per mm that a tip makes at least
_LEAST_STEP = 0.03
#: a step counts if it is this strong beside the profile's strongest
_LEAST_SHARE = 0.25
#: steps that are looked at in each profile
_MOST = 8
#: costs: of a printed edge, of each step outside, per mm from where the silhouette ends, of
#: weakness, of having no counterpart at the other end
_PRINTED, _OUTSIDE, _AWAY, _WEAK, _LONELY = 1.2, 0.35, 0.35, 0.8, 1.6
#: what the other end says where it lies beside a print
_BESIDE_PRINT = 0.3
#: of saying nothing
_NOTHING = 4.5
#: light is smoothed along the needles by this, mm
_BLUR_MM = 0.12
#: needle and ground are looked at from so far off an end to so far, mm; they are told apart where
#: they differ by this many times what each varies by
_CLEAR_MM, _ABOUT_MM, _TOLD_APART = 1.0, 4.0, 3.0
#: a needle has stopped where its light differs from the others' by this many times what theirs
#: differ among each other, and by this factor at least, over this length, mm
_UNLIKE, _LEAST_FACTOR, _OVER_MM = 5.0, 1.6, 0.8
#: cost of a bend between neighbours per mm, the most of it, and of one that is not known
_BEND, _MOST_BEND, _UNKNOWN_BEND = 1.6, 1.5, 0.8
#: needles are as long as each other within this, mm; so many of them must be
_LENGTH_MM, _LEAST_ALIKE = 0.6, 0.4


@dataclass(frozen=True)
class _Side:
    """One end of the row, turned so that outside is up.

    Attributes:
        slope: (H, K) step of light per mm in each needle's profile.
        printed: (H, K) whether the print below changes there.
        last: (K,) row at which the silhouette ends, -1 where it is not met.
        stops: (K,) row at which a needle stops looking like the others, -1 where it does not.
    """

    slope: Array
    printed: NDArray[np.bool_]
    last: Index
    stops: Index

    def ends(self, k: int) -> list[int]:
        """Rows near which needle k may end."""
        found = [int(self.last[k])]
        return found if self.stops[k] < 0 else [*found, int(self.stops[k])]


def rough_ends(level: Level, up: bool) -> Array:
    """(W,) mm along v of the strongest step in each column near the silhouette's end; NaN for none.

    Args:
        up: the upper end, else the lower one.
    """
    side = _side(level, level.light, level.ink, level.mask, up)
    offsets = np.arange(-round(_INWARD / level.cell), round(_OUTWARD / level.cell) + 1)
    window = np.clip(side.last[None, :] + offsets[:, None], 2, len(side.slope) - 3)
    columns = np.arange(side.slope.shape[1])
    printed = side.printed[window, columns] & (offsets > 1)[:, None]
    strength = np.where(printed, 0.0, side.slope[window, columns])
    at = np.argmax(strength, axis=0)
    row = window[at, columns]
    found = (side.last >= 0) & (strength[at, columns] > _LEAST_STEP)
    return np.where(found, _to_v(level, _refined(side.slope, row, columns), up), np.nan)


def trace_tips(level: Level, places: Array, core: float) -> tuple[Array, Array]:
    """(K,) mm along v where each needle ends above and below, NaN where that cannot be told.

    Args:
        level: laid flat at the needles' height, v along the needles.
        places: (K,) mm, u of the needles' middles.
        core: mm on each side of a middle that are averaged.
    """
    u = level.u()
    columns = [np.flatnonzero(np.abs(u - place) <= core) for place in places]
    light = np.stack([level.light[:, c].mean(axis=1) for c in columns], axis=1)
    ink = np.stack([level.ink[:, c].any(axis=1) for c in columns], axis=1)
    mask = np.stack([level.mask[:, c].mean(axis=1) >= 0.5 for c in columns], axis=1)
    alike = _alike(light, mask, level.cell)
    sides = [_side(level, light, ink, mask, up, alike) for up in (True, False)]
    sides = _coloured(sides, light, level.cell)
    count = len(places)
    rows = [
        _best_chain([_choice(s, k, s.ends(k), level.cell) for k in range(count)], level.cell)
        for s in sides
    ]
    # each end's row is counted outwards, so that their sum is the same for all needles
    length = _usual(rows[0] + rows[1], _LENGTH_MM / level.cell)
    if length is not None:
        choices = []
        for one, other in (sides, sides[::-1]):
            mirrored = [
                one.ends(k) + [round(length - row) for row in other.ends(k) if row >= 0]
                for k in range(count)
            ]
            choices.append([_choice(one, k, mirrored[k], level.cell) for k in range(count)])
        rows = [
            _best_chain(
                [
                    _believed(
                        mine,
                        length - theirs[0],
                        _LENGTH_MM / level.cell,
                        1.0 if plain else _BESIDE_PRINT,
                    )
                    for mine, theirs, plain in zip(
                        choices[i], choices[1 - i], _plain(sides[1 - i], level.cell), strict=True
                    )
                ],
                level.cell,
            )
            for i in (0, 1)
        ]
        clear = [_plain(s, level.cell, r) for s, r in zip(sides, rows, strict=True)]
        rows = list(_agreed(rows, clear, length, _LENGTH_MM / level.cell))
    return _to_v(level, rows[0], True), _to_v(level, rows[1], False)


def _side(
    level: Level,
    light: NDArray[np.float32],
    ink: NDArray[np.bool_],
    mask: NDArray[np.bool_],
    up: bool,
    alike: NDArray[np.bool_] | None = None,
) -> _Side:
    if not up:
        light, ink, mask = light[::-1], ink[::-1], mask[::-1]
        alike = None if alike is None else alike[::-1]
    last = mask.shape[0] - 1 - np.argmax(mask[::-1], axis=0)
    last = np.where(mask.any(axis=0), last, -1)
    if alike is None:
        return _Side(_steep(light, level.cell), ink, last, np.full(len(last), -1))
    return _Side(_steep(light, level.cell), ink, last, _stops(alike, last, level.cell))


def _coloured(sides: list[_Side], light: NDArray[np.float32], cell: float) -> list[_Side]:
    """The same with steps from needle to ground by colour, if that tells them apart better than
    how light they are: pale needles over a pale tint. One way for the whole gauge, being one
    material: steps are held against each other."""
    found = [
        _leaving(turned, s.printed, np.where(s.stops >= 0, s.stops, s.last), cell)
        for s, turned in zip(sides, (light, light[::-1]), strict=True)
    ]
    told = [v for _, by_colour in found for v in by_colour]
    if not told or float(np.median(told)) <= 1.0:
        return sides
    return [replace(s, slope=slope) for s, (slope, _) in zip(sides, found, strict=True)]


def _steep(light: NDArray[np.float32], cell: float) -> Array:
    """(H, K) change of light per mm along the needles."""
    soft = gaussian_filter1d(light, _BLUR_MM / cell, axis=0, order=1, mode="nearest")
    steep: Array = np.linalg.norm(soft, axis=2).astype(np.float64) / cell
    return steep


def _leaving(
    light: NDArray[np.float32], ink: NDArray[np.bool_], ends: Index, cell: float
) -> tuple[Array, list[float]]:
    """(H, K) change of light per mm, outside being up, as far as it leads from needle to ground,
    and how much better each needle is told from the ground so than by how light it is.

    A needle's own light and that of the ground beyond its end are known from about its end. What
    tells the two apart best, given how much each varies by itself (the ground by the needles'
    shadow: all colours alike), is Fisher's direction (1936). Changes along it count as much as the
    whole step from one to the other does in light; where it does not tell them apart, any change.
    """
    steep = _steep(light, cell)
    log = np.log(np.maximum(light.astype(np.float64), 2e-3))
    change = gaussian_filter1d(log, _BLUR_MM / cell, axis=0, order=1, mode="nearest") / cell
    near, far = round(_CLEAR_MM / cell), round(_ABOUT_MM / cell)
    within: list[Array] = []
    plain: list[Array] = []
    means: dict[int, tuple[Array, Array, float]] = {}
    for k, end in enumerate(ends):
        inner = np.arange(max(end - far, 0), max(end - near, 0))
        outer = np.arange(end + near, min(end + far, len(log)))
        outer = outer[~ink[outer, k]]
        if end < 0 or len(inner) < near or len(outer) < near:
            continue
        needle, ground = (np.median(log[rows, k], axis=0) for rows in (inner, outer))
        within += [log[inner, k] - needle, log[outer, k] - ground]
        step = np.exp(needle) - np.exp(ground)
        size = float(np.linalg.norm(step))
        along = step / max(size, 1e-9)
        plain += [
            (light[inner, k] - np.exp(needle)) @ along,
            (light[outer, k] - np.exp(ground)) @ along,
        ]
        means[k] = (needle, ground, size)
    if not means:
        return steep, []
    strays = np.vstack(within)
    # single cells far off are gleams and prints
    strays = strays[np.abs(strays).max(axis=1) < 4 * max(float(np.std(strays)), 1e-3)]
    spread = np.cov(strays.T) + 1e-5 * np.eye(3)
    noise = 1.4826 * float(np.median(np.abs(np.concatenate(plain)))) + 1e-6
    apart = {k: needle - ground for k, (needle, ground, _) in means.items()}
    found = {k: np.linalg.solve(spread, a) for k, a in apart.items()}
    squared = {k: float(found[k] @ apart[k]) for k in means}
    told = [np.sqrt(max(squared[k], 0.0)) / (step / noise) for k, (_, _, step) in means.items()]
    for k, (_, _, step) in means.items():
        if squared[k] > _TOLD_APART**2:
            steep[:, k] = np.maximum(-(change[:, k] @ found[k]), 0.0) * step / squared[k]
    return steep, [float(v) for v in told]


def _alike(light: NDArray[np.float32], mask: NDArray[np.bool_], cell: float) -> NDArray[np.bool_]:
    """(H, K) where a needle's light is that of the others at the same place along them.

    Where fewer than a quarter of the needles are, nothing can be said, and all is alike.
    """
    log = np.log(np.maximum(light, 1e-3)).astype(np.float64)
    log = gaussian_filter1d(log, _OVER_MM / 2 / cell, axis=0)
    inside = np.where(mask[..., None], log, np.nan)
    enough = mask.mean(axis=1) > 0.25
    alike = np.ones(mask.shape, dtype=bool)
    if not enough.any():
        return alike
    usual = np.nanmedian(inside[enough], axis=1)
    off = np.abs(log[enough] - usual[:, None, :])
    spread = 1.4826 * np.nanmedian(np.where(mask[enough][..., None], off, np.nan))
    alike[enough] = off.max(axis=2) < max(_UNLIKE * float(spread), float(np.log(_LEAST_FACTOR)))
    return alike


def _stops(alike: NDArray[np.bool_], last: Index, cell: float) -> Index:
    """(K,) row, outside being up, from which on a needle is unlike the others as far as the
    silhouette's end; -1 where that is nearer than a tip is sought anyway."""
    stops = np.full(len(last), -1)
    for k, end in enumerate(last):
        like = np.flatnonzero(alike[: max(int(end), 0), k])
        if len(like) and end - like[-1] > _INWARD / 2 / cell:
            stops[k] = like[-1]
    return stops


def _choice(side: _Side, k: int, centres: list[int], cell: float) -> Choice:
    """Rows that may be the tip of one needle, outermost first, NaN for none of them; and costs.

    Args:
        centres: rows near which it is sought.
    """
    height = len(side.slope)
    wanted = np.zeros(height, dtype=bool)
    for centre in centres:
        if centre >= 0:
            low = centre - round(_INWARD / cell)
            wanted[max(low, 0) : max(centre + round(_OUTWARD / cell) + 1, 0)] = True
    wanted[:2] = wanted[-2:] = False
    if not wanted.any():
        return np.array([np.nan]), np.array([0.0])
    s = side.slope[:, k]
    # a printed edge beside it must not make a tip look weak
    plain = wanted & ~side.printed[:, k]
    strongest = float(s[plain if plain.any() else wanted].max())
    peak = wanted.copy()
    peak[1:-1] &= (s[1:-1] >= s[:-2]) & (s[1:-1] > s[2:])
    peak &= s > max(_LEAST_STEP, _LEAST_SHARE * strongest)
    at = np.flatnonzero(peak)
    at = np.sort(at[np.argsort(s[at])[::-1][:_MOST]])[::-1]
    known = np.array([c for c in centres if c >= 0])
    away = np.abs(at[:, None] - known[None, :]).min(axis=1) if len(at) else np.zeros(0)
    cost = (
        _WEAK * (1 - np.minimum(s[at] / max(strongest, 1e-9), 1.0))
        + _AWAY * away * cell
        + _PRINTED * side.printed[at, k]
        + _OUTSIDE * np.arange(len(at))
    )
    place = _refined(side.slope, at, np.full(len(at), k))
    return np.append(place, np.nan), np.append(cost, _NOTHING)


def _plain(side: _Side, cell: float, rows: Array | None = None) -> NDArray[np.bool_]:
    """(K,) whether nothing is printed where an end is, or where the silhouette ends."""
    at = np.where(side.last >= 0, side.last, 0).astype(np.float64) if rows is None else rows
    inward, outward = round(0.6 / cell), round(1.5 / cell)
    plain = np.zeros(len(at), dtype=bool)
    for k, row in enumerate(at):
        if np.isfinite(row):
            low = max(int(row) - inward, 0)
            plain[k] = not side.printed[low : int(row) + outward, k].any()
    return plain


def _believed(mine: Choice, counterparts: Array, within: float, weight: float) -> Choice:
    """A choice whose steps cost more where the needle's other end shows no counterpart; `weight`
    is how well that end can be seen."""
    rows, cost = mine
    known = counterparts[np.isfinite(counterparts)]
    if not len(known):
        return mine
    off = np.abs(rows[:, None] - known[None, :]).min(axis=1)
    lonely = np.where(np.isnan(rows), 0.0, np.clip(off / within - 0.3, 0.0, 1.0))
    return rows, cost + weight * _LONELY * lonely


def _agreed(
    rows: list[Array], clear: list[NDArray[np.bool_]], length: float, within: float
) -> tuple[Array, Array]:
    """Both ends of each needle; where they contradict each other by the one that has no print
    beside it, or else by the one that its neighbours bear out. An end that was not seen follows
    from the other."""
    first, second = rows[0].copy(), length - rows[1]
    for k in np.flatnonzero(~(np.abs(first - second) <= within)):
        told = [float(v) for v in (first[k], second[k]) if np.isfinite(v)]
        if len(told) == 2 and clear[0][k] != clear[1][k]:
            told = told[:1] if clear[0][k] else told[1:]
        beside = np.concatenate([first[max(k - 2, 0) : k], first[k + 1 : k + 3]])
        beside = beside[np.isfinite(beside)]
        if not told or not len(beside):
            continue
        low, high = float(beside.min()), float(beside.max())
        away = [max(low - v, v - high, 0.0) for v in told]
        first[k] = second[k] = told[int(np.argmin(away))]
    return first, length - second


def _usual(lengths: Array, within: float) -> float | None:
    """The length that most needles have; None where they differ."""
    known = np.sort(lengths[np.isfinite(lengths)])
    if len(known) < 8:
        return None
    alike = np.searchsorted(known, known + within, side="right") - np.arange(len(known))
    start = int(np.argmax(alike))
    if alike[start] < _LEAST_ALIKE * len(lengths):
        return None
    return float(np.median(known[start : start + int(alike[start])]))


def _refined(slope: Array, row: Index, column: Index) -> Array:
    """Rows of peaks with the vertex of the parabola through each and its neighbours."""
    a, b, c = (slope[row + d, column] for d in (-1, 0, 1))
    bend = a - 2 * b + c
    shift = np.where(np.abs(bend) > 1e-12, 0.5 * (a - c) / np.where(bend == 0, 1.0, bend), 0.0)
    refined: Array = row + np.clip(shift, -0.5, 0.5)
    return refined


def _to_v(level: Level, rows: Array, up: bool) -> Array:
    values: Array = level.corner[1] + (rows if up else len(level.v()) - 1 - rows) * level.cell
    return values


def _best_chain(choices: list[Choice], cell: float) -> Array:
    """(K,) the rows of the chain that costs least: of each needle's choice, and of each bend."""
    total = choices[0][1][:, None] + choices[1][1][None, :]  # of the last two choices
    back: list[Index] = []
    for (a, _), (b, _), (c, cost) in zip(choices, choices[1:], choices[2:], strict=False):
        bend = cell * np.abs(a[:, None, None] - 2 * b[None, :, None] + c[None, None, :])
        price = np.where(np.isnan(bend), _UNKNOWN_BEND, np.minimum(_BEND * bend, _MOST_BEND))
        whole = total[:, :, None] + price
        back.append(np.argmin(whole, axis=0))
        total = whole.min(axis=0) + cost[None, :]
    i, j = np.unravel_index(int(np.argmin(total)), total.shape)
    chosen = [int(j), int(i)]
    for step in reversed(back):
        chosen.append(int(step[chosen[-1], chosen[-2]]))
    return np.array([choices[k][0][i] for k, i in enumerate(reversed(chosen))])
