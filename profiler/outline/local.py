"""Small things that stand above or below the edge they are part of: an end button, a saddle.

Heights are straight lines with gentle rises, one for each part. Where three photos or more run
apart just as one other height would make them, that height is the place's own, and the outline is
put where the lines of sight meet. Two photos can always be explained so; they are left alone.

Where something is known to stand out, its height is its own whatever the photos say: they are asked
for it, and what they cannot tell of it stays in the doubt. So with a tuner button: turned as it may
be, one of its edges lies above its middle and the other one below.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Array = NDArray[np.float64]

#: along the arc, points; how far such a thing lies from the part's height, mm
_OVER_POINTS, _STANDS_MM = 3.0, 8.0
#: how far the edge of a turned tuner button lies from the height of its middle, and how far at
#: most, mm; buttons are 12 to 20 broad (common practice, no source)
_TURNED_MM, _MOST_TURNED_MM = 6.0, 10.0
#: how far its place is from where the merged outline has it, mm: what no photo shows well is not
#: told at all
_SHIFTS_MM = 3.0
#: squared distances in sigmas that have to be explained, and the share of them that may be left
_LEAST_TO_EXPLAIN, _MOST_LEFT = 8.0, 0.25
_ONE_PHOTO, _LEAST_PHOTOS = 0.5, 2.5
#: lines of sight that are less apart than this, mm outwards for each mm up, are as good as one; and
#: nothing small stands further than so many times the usual from its part's height
_LEAST_APART, _FURTHEST = 0.03, 2.0


def local_shift(
    apart: Array,
    by_height: Array,
    own: Array,
    fair: NDArray[np.bool_],
    stands_out: NDArray[np.bool_] | None = None,
    turned: NDArray[np.bool_] | None = None,
) -> tuple[Array, Array]:
    """How far the merged outline moves out where the photos tell of another height.

    Args:
        apart: (K, M) mm, how far each photo's edge lies outside the merged outline.
        by_height: (K, M) mm outwards for each mm that the edge is lifted.
        own: (K, M) mm, what each photo's edge is uncertain by.
        fair: (K, M) where a photo sees the place and was measured well.
        stands_out: (M,) where something with a height of its own is known to be.
        turned: (M,) on tuner buttons.

    Returns:
        (M,) mm outwards, and (M,) mm its standard uncertainty; nought where nothing is told.
    """

    def along(values: Array) -> Array:
        summed: Array = gaussian_filter1d(values, _OVER_POINTS, axis=-1, mode="wrap").sum(axis=0)
        return summed

    nowhere = np.zeros(apart.shape[1], dtype=bool)
    stands_out = nowhere if stands_out is None else stands_out
    turned = nowhere if turned is None else turned
    strays = np.where(turned, _TURNED_MM, _STANDS_MM)
    weight = np.where(fair, 1 / own**2, 0.0)
    total = np.maximum(along(weight), 1e-9)
    tied, lever = along(weight * by_height), along(weight * by_height**2) + 1 / strays**2
    right, pulled = along(weight * apart), along(-weight * by_height * apart)
    before = along(weight * apart**2) - right**2 / total
    # apart = shift - by_height * height, for the two unknown
    determinant = (total + 1 / _SHIFTS_MM**2) * lever - tied**2
    shift = (lever * right + tied * pulled) / determinant
    height = (tied * right + (total + 1 / _SHIFTS_MM**2) * pulled) / determinant
    after = along(weight * apart**2) - shift * right - height * pulled
    seen = along(fair.astype(np.float64))
    told = (seen > _LEAST_PHOTOS) & (before > _LEAST_TO_EXPLAIN)
    told &= after < _MOST_LEFT * before
    told &= _three_ways(by_height, fair) & (np.abs(height) < _FURTHEST * _STANDS_MM)
    # and a bite out of a button, as deep as it may be, is no height
    told |= stands_out | (turned & (seen > _ONE_PHOTO) & (np.abs(height) < _MOST_TURNED_MM))
    share = np.minimum(1.5 * gaussian_filter1d(told.astype(np.float64), 1.5, mode="wrap"), 1.0)
    return share * shift, share * np.sqrt(lever / determinant)


def _three_ways(by_height: Array, fair: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(M,) where three photos at least look along different lines: two can always be explained."""
    lines = np.sort(np.where(fair, by_height, np.inf), axis=0)
    with np.errstate(invalid="ignore"):
        gaps = np.diff(lines, axis=0)
    return np.asarray(((gaps > _LEAST_APART) & (gaps < np.inf)).sum(axis=0) >= 2)
