"""Where the middle of a neck's face is, seen from its back alone.

A gauge follows the flanks up to some way below the face. Chords between the flanks at one height
have their middle below the face's middle only on a neck that is the same on both sides; on one that
is askew their middles go aside as they go down, and are followed up to where the straight sides
begin: there the two flanks stand square below the face's edges, and the chord is the face's width.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: the face's straight sides are about so high (common practice, no source), mm, and as much as
#: this more or less
_SIDES_MM = (2.0, 5.0, 8.0)
#: middles go aside by this power of how far they lie below the sides: straight on, or flanks that
#: leave the sides smoothly (a guess, weighed by what the flanks show)
_POWERS = (1.0, 1.5, 2.0)
#: this part of what is seen of the flanks' height is looked at, from its top, at so many heights
_PART, _HEIGHTS = 0.6, 25
#: middles are known this well, standard, mm, and so many of them are independent (guesses)
_KNOWN_MM, _INDEPENDENT = 0.05, 6
#: the middle between the flanks lies off that between the needles beside the edges by this part of
#: how far those stand apart: the mean of two that lie anywhere between them, 1 / √24
U_BETWEEN = 0.2
#: necks are askew where the flanks end by about so much, standard, mm (a guess)
_ASKEW_MM = 0.3
#: the middle of a chord is out by what its two flanks are, standard, mm (a guess)
_FLANK_MM = 0.08


def highest_chord(curve: Array) -> float:
    """u of the middle of the highest chord between the flanks of a back, (N, 2) mm in its frame."""
    return float(_middles(curve, np.array([_top(curve)]))[0])


def face_middle(curve: Array, face: float, between: float, wide: float) -> tuple[float, float]:
    """u of the face's middle and its standard uncertainty, mm.

    The mean of three that know nothing of each other, each weighed by what it is worth: where the
    needles part that touched the sides and those that did not, the highest chord, and the chords
    followed up to the sides.

    Args:
        curve: (N, 2) mm, back frame, from flank to flank.
        face: v of the face.
        between: u of the middle between the needles beside the edges; the middle lies within half
            of `wide` of it.
    """
    followed, open_still = _followed_up(curve, face)
    values = np.array([between, highest_chord(curve), followed])
    u = np.array([U_BETWEEN * wide, _ASKEW_MM, np.hypot(open_still, _FLANK_MM)])
    weight = 1 / u**2
    middle = float(weight @ values / weight.sum())
    inside = float(np.clip(middle, between - wide / 2, between + wide / 2))
    return inside, float(1 / np.sqrt(weight.sum()))


def _followed_up(curve: Array, face: float) -> tuple[float, float]:
    """u of the chords' middle where the sides begin, and by how much ways to follow it differ."""
    top, low = _top(curve), float(curve[:, 1].min())
    levels = np.linspace(top - _PART * (top - low), top, _HEIGHTS)
    middles = _middles(curve, levels)
    found, against = [], []
    for side in _SIDES_MM:
        below = np.maximum(face - side - levels, 0.0)
        for power in _POWERS:
            fit = np.column_stack([np.ones(_HEIGHTS), below**power])
            best, *_ = np.linalg.lstsq(fit, middles, rcond=None)
            off = float(np.mean((middles - fit @ best) ** 2)) / _KNOWN_MM**2
            found.append(float(best[0]))
            against.append(_INDEPENDENT * off / 2)
    weight = np.exp(min(against) - np.array(against))
    weight /= weight.sum()
    middle = float(weight @ np.array(found))
    return middle, float(np.sqrt(weight @ (np.array(found) - middle) ** 2))


def _top(curve: Array) -> float:
    """The highest level that both flanks reach."""
    deepest = int(np.argmin(curve[:, 1]))
    return float(min(curve[: deepest + 1, 1].max(), curve[deepest:, 1].max()))


def _middles(curve: Array, levels: Array) -> Array:
    """(N,) u of the middles of the chords at (N,) levels."""
    deepest = int(np.argmin(curve[:, 1]))
    sides = (curve[: deepest + 1][::-1], curve[deepest:])
    ends = [np.interp(levels, np.maximum.accumulate(s[:, 1]), s[:, 0]) for s in sides]
    return np.asarray((ends[0] + ends[1]) / 2)
