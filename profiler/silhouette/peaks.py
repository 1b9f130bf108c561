"""Steps of light along profiles across an edge, and which of them may be the edge's own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Array = NDArray[np.float64]

#: profiles across the edge are sampled this finely, px
STEP_PX = 0.4
#: a change per px below this is noise or shadow: linear light, and log light
LEAST_LIGHT, LEAST_PROPORTION = 0.006, 0.04
#: the outermost peak counts if it is this strong beside the strongest: of light or of proportion,
#: and of hue, which bounced light turns too
_OUTERMOST_SHARE, OUTERMOST_HUE = 0.35, 0.6
#: linear light below which proportions mean nothing
DARK = 0.02

# What follows of shadows are guesses, tried on rendered photos.
#: where the ground comes out of a shadow its hue changes by no more than this share of its light;
#: it does so softly: so many px away the change is more than this share of what it is there; and
#: by less than this share of the profile's strongest step, of light and of proportion
_SHADE_HUE, _SOFT_PX, _SOFT = 0.2, 2.0, 0.45
_ENDS_LIGHT, _ENDS_PROPORTION = 0.6, 0.5
#: or its hue changes by next to nothing, its light by less than a dark thing's would, log light per
#: px, and further in there is a step of hue that ends what has another colour
_PURE, _SLIGHT, _COLOURED = 0.08, 0.3, 0.1


def steepness(profile: NDArray[np.float32]) -> Array:
    """(N, T) change of colour per px along profiles (N, T, 3), blurred by one px."""
    return _length(_slopes(profile))


def steepness_and_hue(log_light: NDArray[np.float32]) -> tuple[Array, Array, Array]:
    """The same of log light; (N, T) the part of it that no shade explains: what all three channels
    share is left out; and (N, T) that share, by which it grows brighter."""
    slopes = _slopes(log_light)
    shared: NDArray[np.float32] = np.mean(slopes, axis=0)
    return _length(slopes), _length([slope - shared for slope in slopes]), shared.astype(np.float64)


def clear_peaks(steep: Array, least: float, share: float = _OUTERMOST_SHARE) -> NDArray[np.bool_]:
    """(N, T): local maxima that are no noise and strong beside the profile's strongest."""
    peaks = np.zeros(steep.shape, dtype=bool)
    peaks[:, 1:-1] = (steep[:, 1:-1] >= steep[:, :-2]) & (steep[:, 1:-1] > steep[:, 2:])
    strongest = steep[:, 2:-2].max(axis=1)
    peaks &= steep > np.maximum(share * strongest, least)[:, None]
    peaks[:, :2] = peaks[:, -2:] = False
    return peaks


def shadow_ends(light: Array, proportion: Array, hue: Array, brighter: Array) -> NDArray[np.bool_]:
    """(N, T) where nothing but the ground comes out of a shadow, outward along the profiles.

    Beside a dark edge its shadow on the mat may end within a millimetre or two. That is a step as
    well, and the outermost, but one of light alone.

    Args:
        light, proportion, hue: (N, T) change per px, of linear light, of log light, and of its hue.
        brighter: (N, T) by which log light grows outward.
    """
    strongest, most = (s[:, 2:-2].max(axis=1, keepdims=True) for s in (light, proportion))
    weak = (light < _ENDS_LIGHT * strongest) & (proportion < _ENDS_PROPORTION * most)
    away, at = round(_SOFT_PX / STEP_PX), np.arange(light.shape[1])
    before, behind = (light[:, np.clip(at + d, 0, at[-1])] for d in (-away, away))
    soft = np.minimum(before, behind) > _SOFT * light
    ends = weak & soft & (hue < _SHADE_HUE * proportion)
    coloured_within = np.maximum.accumulate(hue, axis=1) > _COLOURED
    ends |= (hue < _PURE * proportion) & (proportion < _SLIGHT) & coloured_within
    return np.asarray(ends & (brighter > 0))


def peak_offsets(slope: Array, peak: NDArray[np.intp], t: Array) -> Array:
    """(N,) mm from the profiles' middle to the top of the parabola through each peak; `t` (T,) mm
    are the profiles' places."""
    rows = np.arange(len(slope))
    peak = np.clip(peak, 1, slope.shape[1] - 2)
    shift = parabola_top(*(slope[rows, peak + d] for d in (-1, 0, 1)))
    half = len(t) // 2
    offsets: Array = (peak - half + shift) * t[half + 1]
    return offsets


def parabola_top(before: Array, at: Array, behind: Array) -> Array:
    """(N,) where the parabola through three neighbours has its top, from the middle one, no nearer
    to another."""
    bend = before - 2 * at + behind
    shift = np.where(
        np.abs(bend) > 1e-12, 0.5 * (before - behind) / np.where(bend == 0, 1, bend), 0.0
    )
    top: Array = np.clip(shift, -0.5, 0.5)
    return top


def _slopes(profile: NDArray[np.float32]) -> list[NDArray[np.float32]]:
    slope = gaussian_filter1d(profile, 1.0 / STEP_PX, axis=1, order=1, mode="nearest")
    return [slope[..., channel] for channel in range(3)]


def _length(slopes: Sequence[NDArray[np.float32]]) -> Array:
    b, g, r = (slope**2 for slope in slopes)
    steep: Array = np.sqrt(b + g + r).astype(np.float64) / STEP_PX
    return steep
