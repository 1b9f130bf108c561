"""Where the ground begins beside a face that bends away, told by two colours mixed in linear light.

A rounded edge turns from the light: its shade changes over the whole rounding, and the steepest
change may lie mm before its end. Its colour stays, and the ground's as well, in whatever shade.
Blur mixes the two in linear light (as a pixel mixes what it covers, see "linear unmixing" in remote
sensing): half of the mixture is the ground's where the edge is, however bright the rounding is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Array = NDArray[np.float64]

# What follows are guesses, tried on rendered photos.
#: the face's colour is taken so far inside the steepest change, the ground's so far outside, px
_FACE_PX, _GROUND_PX = (-4.0, -2.0), (3.0, 7.0)
#: the edge lies no further from the steepest change, px: inward it is not sought, for light that
#: the mat throws on a rounding gives that the mat's colour; and what is less is noise
_INWARD_PX, _OUTWARD_PX, _LEAST_PX = -1.5, 6.0, 0.3
#: further in than this a shadow's slope, told outside, is not carried on, px
_SLOPES_TO_PX = 0.3
#: neighbours along the edge are averaged over so many points, of which so many must be told
_OVER_POINTS, _LEAST_TOLD = 2.5, 0.3
#: colours less apart than this, degrees between their directions, tell nothing
_LEAST_APART_DEG = 16.0
#: ground whose light changes by more than this share a px is no even ground
_STEEPEST_SHADOW = 0.06
#: what is weighed as even as this linear light's noise
_DARK = 0.02
#: a profile so long on either side of the steepest change is looked at, px
REACH_PX = 8.0


def past_the_rounding(
    profile: NDArray[np.float32], step_px: float, told: NDArray[np.bool_]
) -> Array:
    """(N,) px outward from the steepest change to where the ground begins; 0 where it begins there
    or the colours do not tell.

    Args:
        profile: (N, T, 3) linear light across a closed edge's points, outward, the steepest change
            in the middle, `REACH_PX` at least to either side.
        step_px: px between places of a profile.
        told: (N,) points where there is such a change.
    """
    count = profile.shape[1]
    places = (np.arange(count) - count // 2) * step_px
    light, sure = _averaged(profile.astype(np.float64), told)
    face, ground = (
        light[:, (places >= a) & (places <= b)].mean(axis=1) for a, b in (_FACE_PX, _GROUND_PX)
    )
    weight = 1 / np.sqrt((face + ground) / 2 + _DARK)
    across, apart = _across(face * weight, ground * weight)
    share = ((light * weight[:, None]) * across[:, None]).sum(axis=2)
    ends, slope = _half_way(share, places)
    even = np.abs(slope) < _STEEPEST_SHADOW
    fine = told & (sure > _LEAST_TOLD) & (apart > np.radians(_LEAST_APART_DEG)) & even
    return np.where(fine & (ends > _LEAST_PX), ends, 0.0)


def _averaged(profile: Array, told: NDArray[np.bool_]) -> tuple[Array, Array]:
    """The profiles averaged with their neighbours', of those that are told; and what share is."""
    weight = gaussian_filter1d(told.astype(np.float64), _OVER_POINTS, mode="wrap")
    summed = gaussian_filter1d(
        np.where(told[:, None, None], profile, 0.0), _OVER_POINTS, axis=0, mode="wrap"
    )
    return summed / np.maximum(weight, 1e-3)[:, None, None], weight


def _across(face: Array, ground: Array) -> tuple[Array, Array]:
    """(N, 3) what is 0 times the face's colour in any shade and 1 times the ground's; and (N,) the
    angle between the two, rad."""
    face = face / np.maximum(np.linalg.norm(face, axis=1), 1e-9)[:, None]
    off = ground - (ground * face).sum(axis=1)[:, None] * face
    length = np.linalg.norm(off, axis=1)
    apart = np.arcsin(np.clip(length / np.maximum(np.linalg.norm(ground, axis=1), 1e-9), 0.0, 1.0))
    return off / np.maximum(length**2, 1e-12)[:, None], apart


def _half_way(share: Array, places: Array) -> tuple[Array, Array]:
    """(N,) px, the outermost place at which the ground's share (N, T) is half of what it is on the
    ground, nought where there is none within reach; and (N,) by how much that changes a px."""
    outside = (places >= _GROUND_PX[0]) & (places <= _GROUND_PX[1])
    middle = places[outside].mean()
    aside = places[outside] - middle
    slope = share[:, outside] @ aside / (aside @ aside)
    # a shadow's slope goes on to the edge, and is not known far within
    on = np.maximum(places, _SLOPES_TO_PX) - middle
    level = share[:, outside].mean(axis=1)[:, None] + slope[:, None] * on
    part = share / np.maximum(level, 0.2)
    near = np.flatnonzero((places >= _INWARD_PX) & (places <= _OUTWARD_PX))
    less = part[:, near] < 0.5
    last = near[-1] - np.argmax(less[:, ::-1], axis=1)
    rows = np.arange(len(share))
    here, next_ = part[rows, last], part[rows, np.minimum(last + 1, share.shape[1] - 1)]
    between = np.clip((0.5 - here) / np.maximum(next_ - here, 1e-6), 0.0, 1.0)
    found = less.any(axis=1) & (last < near[-1])
    return np.where(found, places[last] + between * (places[1] - places[0]), 0.0), slope
