"""From the tips of a contour gauge's needles to the back that they touched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from profiler.errors import OutlineError, RequestError
from profiler.instrument.askew import U_BETWEEN, highest_chord
from profiler.instrument.misread import misread
from profiler.instrument.traced import SeenBack

Array = NDArray[np.float64]

TIPS = ("round", "flat", "sharp")
#: a hollow is at least so deep, and so many needles wide, mm
_LEAST_HOLLOW_MM, _LEAST_NEEDLES = 3.0, 12
#: a needle that was moved stands back from those that were not by this at least; by more where
#: those that lie far out stand so far back, but no more than that, mm
_MOVED_MM, _MOVED_MOST_MM = 0.5, 2.5
#: ends of unmoved needles lie within this, mm
_LEVEL_MM = 0.5
#: needles nearly touch each other: thickness over pitch
_THICK = 0.93
#: ends may rise again by this for all the noise in them, mm
_WAVER_MM = 0.1
#: doubt for each needle that the curve was carried across, from the nearest that was seen, mm
_PER_NEEDLE_MM = 0.25
#: where many ends were not seen or misread those that are left are worse than they look: standard,
#: for the part of the needles that is gone, mm (a guess)
_DOUBT_MM = 1.5
#: a tip's edge in the photo, standard, besides what tips scatter by, mm
_EDGE_MM = 0.04


class NoHollow(OutlineError):
    """Needles, but no profile in them."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: the gauge's needles are seen, but no hollow in their tips. Press it square"
            " to the neck's back until the needles beside the neck stand past it, and lay it on the"
            " mat without shifting them."
        )


class GaugeTooNarrow(OutlineError):
    """The hollow runs out of the row of needles."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: the hollow reaches the end of the gauge, so the neck's edge is not in it."
            " Press the gauge on with its middle, or use a wider one."
        )


@dataclass(frozen=True)
class Tips:
    """The ends of a row of needles, lifted to their height.

    Attributes:
        at: (K,) mm across the needles, evenly spaced.
        upper, lower: (K,) mm along the needles, NaN where an end was not seen.
        pitch: mm.
        sigma: mm, standard, by which ends scatter along the needles.
        px: mm, one pixel of the photo there.
        scale_u: relative standard uncertainty of all lengths (height, print, lens).
    """

    at: Array
    upper: Array
    lower: Array
    pitch: float
    sigma: float
    px: float
    scale_u: float


def tips_named(word: str) -> str:
    """'round', 'flat' or 'sharp'.

    Raises:
        RequestError: another word.
    """
    if word not in TIPS:
        raise RequestError(f"--tips {word}: known are {', '.join(TIPS)}.")
    return word


def back_from_tips(tips: Tips, shape: str, flush: bool, photo: str) -> SeenBack:
    """The back that the needles touched.

    The tips that touched the wood form a hollow towards the bar; all needles being as long, the
    same curve stands out at their other ends, which are not used. A round tip touches where the
    wood's slope says, not at its top: the tips' curve is set off by their radius.

    Args:
        tips: of both ends.
        shape: of `TIPS`.
        flush: the needles beside the neck were stopped level with the face.
        photo: for messages.

    Raises:
        NoHollow, GaugeTooNarrow: see there.
    """
    at, along, upside_down = _hollow_up(tips, photo)
    base = _unmoved(along)
    back = base - along
    deepest = int(np.nanargmax(back))
    moved = np.where(np.isnan(back), True, back > _moved_by(back, tips.sigma))
    first = deepest
    while first > 0 and moved[first - 1]:
        first -= 1
    last = deepest
    while last < len(at) - 1 and moved[last + 1]:
        last += 1
    # where an end was not seen it is not known whether that needle was moved
    beside = (first - 1, last + 1)
    while np.isnan(back[first]):
        first += 1
    while np.isnan(back[last]):
        last -= 1
    if last - first + 1 < _LEAST_NEEDLES:
        raise NoHollow(photo)
    if beside[0] < 1 or beside[1] > len(at) - 2:
        raise GaugeTooNarrow(photo)
    run = slice(first, last + 1)
    ends = _falling(along[run], deepest - first)
    bad, bow = misread(at[run], ends, tips.pitch, tips.sigma)
    ends[bad] = np.nan
    seen = np.isfinite(ends)
    if seen.sum() < _LEAST_NEEDLES:
        raise NoHollow(photo)
    centres = np.column_stack([at[run][seen], ends[seen]])
    # between them the smooth bow carries the curve across
    between = slice(*(np.flatnonzero(seen)[[0, -1]] + (0, 1)))
    whole = np.column_stack([at[run], np.where(seen, ends, bow)])[between]
    radius = _THICK * tips.pitch / 2 if shape != "sharp" else 0.0
    curve, shift = _set_off(whole, radius, shape, max(tips.sigma, _EDGE_MM / 2))
    middle = curve.mean(axis=0)
    unseen = int((~seen).sum()) / len(seen)
    # half of what a wrong guess at the tips' form would do; lengths; places
    sigma = np.sqrt(
        tips.sigma**2
        + _EDGE_MM**2
        + (0.1 * tips.px) ** 2
        + (0.3 * shift) ** 2
        + (_DOUBT_MM * unseen) ** 2
        + _carried(curve[:, 0], centres[:, 0], tips.pitch) ** 2
        + (tips.scale_u * np.hypot(*(curve - middle).T)) ** 2
    )
    # the last needle that was moved overlaps the wood, the next one that was not does not; where
    # ends are gone there it is less sure which that is
    gone = int(np.flatnonzero(seen)[0] + len(seen) - 1 - np.flatnonzero(seen)[-1])
    left = (float(at[beside[0]]) + radius, float(at[first]) + radius)
    right = (float(at[last]) - radius, float(at[beside[1]]) - radius)
    wide = (left[1] - left[0] + right[1] - right[0]) / 2 + gone / 2 * tips.pitch
    half = (sum(right) - sum(left)) / 4
    parted = (sum(right) + sum(left)) / 4
    # the two flanks just below the edges are known far better
    middle_u = float(np.clip(highest_chord(curve), parted - wide / 2, parted + wide / 2))
    edges = (middle_u - half, middle_u + half)
    face = float(base) if flush else None
    return SeenBack(
        curve,
        sigma,
        edges,
        wide / float(np.sqrt(12)),
        wide * U_BETWEEN,
        face,
        float(np.hypot(max(tips.sigma, _EDGE_MM), 0.15)),
        "the gauge",
        upside_down,
        unseen,
        (parted, wide),
    )


def _hollow_up(tips: Tips, photo: str) -> tuple[Array, Array, bool]:
    """Across and along, turned so that the row whose tips form the hollow is up; whether turned."""
    for at, row, turned in (
        (tips.at, tips.upper, False),
        (-tips.at[::-1], -tips.lower[::-1], True),
    ):
        if np.isfinite(row).sum() < _LEAST_NEEDLES:
            continue
        back = _unmoved(row) - row
        enough = np.nansum(back > _LEAST_HOLLOW_MM) >= _LEAST_NEEDLES
        out = float(np.nanpercentile(-back, 98))
        if enough and float(np.nanmax(back)) > out:
            return at, row, turned
    raise NoHollow(photo)


def _unmoved(row: Array) -> float:
    """Where needles end that nothing touched: the level at which most of the outer ones do.

    Beside a print an end may be missed by millimetres, so it is the densest half millimetre.
    """
    known = row[np.isfinite(row)]
    n = max(len(known) // 5, 4)
    outer = np.sort(np.concatenate([known[:n], known[-n:]]))
    within = np.searchsorted(outer, outer + _LEVEL_MM, side="right") - np.arange(len(outer))
    start = int(np.argmax(within))
    return float(np.median(outer[start : start + int(within[start])]))


def _moved_by(back: Array, sigma: float) -> float:
    """How far a needle stands back that something touched, mm.

    Ends that nothing touched do not all lie on one level: some are read a millimetre off, beside
    a print. What happens to those far out may happen beside the neck.
    """
    n = max(len(back) // 5, 4)
    outer = np.concatenate([back[:n], back[-n:]])
    usual = float(np.nanpercentile(outer, 95)) + 3 * sigma if np.isfinite(outer).any() else 0.0
    return max(_MOVED_MM, 6 * sigma, min(usual, _MOVED_MOST_MM))


def _set_off(centres: Array, radius: float, shape: str, noise: float) -> tuple[Array, Array]:
    """(N, 2) the wood, and (N,) mm by how much it was moved across itself from the tips."""
    smooth = _within_noise(centres[:, 1], noise)
    curve = PchipInterpolator(centres[:, 0], smooth)
    even = np.linspace(centres[0, 0], centres[-1, 0], 12 * len(centres))
    path = np.column_stack([even, curve(even)])
    tangent = np.column_stack([np.ones(len(even)), curve.derivative()(even)])
    tangent /= np.hypot(*tangent.T)[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])  # towards the wood
    if shape == "round":
        wood = path - np.array([0.0, radius]) + radius * normal
    elif shape == "flat":
        # the corner towards the deepest place touches
        slope = tangent[:, 1] / np.maximum(tangent[:, 0], 1e-6)
        wood = path - np.column_stack([radius * np.tanh(slope / 0.15), np.zeros(len(path))])
    else:
        wood = path
    shift = np.abs(((wood - path) * normal).sum(axis=1))
    # where the wood is hollower than a tip, neighbouring tips cannot both touch it
    ahead = np.concatenate([[True], np.diff(np.maximum.accumulate(wood[:, 0])) > 1e-9])
    return wood[ahead], shift[ahead]


def _falling(row: Array, deepest: int) -> Array:
    """The ends with those left out that would make the back rise again on its way down.

    A gauge cannot show an undercut: from each edge the ends only fall towards the deepest place.
    The most of them that do are kept (longest falling chain), single wavers up to a tenth aside.
    """
    kept = row.copy()
    for side in (np.arange(deepest + 1), np.arange(len(row) - 1, deepest - 1, -1)):
        known = side[np.isfinite(row[side])]
        values = row[known]
        best = np.ones(len(known), dtype=np.intp)
        before = np.full(len(known), -1)
        for k in range(1, len(known)):
            fits = np.flatnonzero(values[:k] >= values[k] - _WAVER_MM)
            if len(fits):
                j = int(fits[np.argmax(best[fits])])
                best[k], before[k] = best[j] + 1, j
        chain = []
        k = int(np.argmax(best)) if len(known) else -1
        while k >= 0:
            chain.append(k)
            k = int(before[k])
        dropped = np.ones(len(known), dtype=bool)
        dropped[chain] = False
        kept[known[dropped]] = np.nan
    return kept


def _carried(u: Array, known: Array, pitch: float) -> Array:
    """(N,) mm: doubt where the curve was carried across needles whose ends were not seen."""
    after = np.clip(np.searchsorted(known, u), 1, len(known) - 1)
    gap = (known[after] - known[after - 1]) / pitch
    away = np.minimum(np.abs(u - known[after]), np.abs(u - known[after - 1])) / pitch
    doubt: Array = np.where(gap > 1.5, _PER_NEEDLE_MM * away, 0.0)
    return doubt


def _within_noise(values: Array, noise: float) -> Array:
    """The smoothest row (least third differences, Whittaker 1923) that stays within the noise of
    the values, root mean square: it is smoothed no more than that."""
    third = np.diff(np.eye(len(values)), n=3, axis=0)
    penalty = third.T @ third
    low, high = 1e-6, 1e4
    smooth = values
    for _ in range(40):
        weight = float(np.sqrt(low * high))
        smooth = np.asarray(
            np.linalg.solve(np.eye(len(values)) + weight * penalty, values), dtype=np.float64
        )
        if float(np.sqrt(np.mean((smooth - values) ** 2))) > noise:
            high = weight
        else:
            low = weight
    return np.asarray(smooth)
