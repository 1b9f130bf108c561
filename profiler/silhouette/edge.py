"""Where the silhouette's edge lies in the photo, to a fraction of a pixel, in linear light."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.geometry.curves import evenly_spaced, outward_normals
from profiler.optics.camera import Camera
from profiler.optics.light import sample_linear
from profiler.silhouette.agreed import agrees, at_corners, going_on
from profiler.silhouette.bridge import (
    carried_across,
    cuts_off_more_than_ground,
    filled_notches,
    fills_bare_ground,
    without_slivers,
)
from profiler.silhouette.fine import FineBorder, outer_contour
from profiler.silhouette.ground import TARGET, TINT, Plan
from profiler.silhouette.inked import PRINT_DARK, PRINT_RESIDUE, Divisor
from profiler.silhouette.limb import REACH_PX, past_the_rounding
from profiler.silhouette.mask import Silhouette
from profiler.silhouette.peaks import (
    DARK,
    LEAST_LIGHT,
    LEAST_PROPORTION,
    OUTERMOST_HUE,
    STEP_PX,
    clear_peaks,
    peak_offsets,
    shadow_ends,
    steepness,
    steepness_and_hue,
)

Array = NDArray[np.float64]

#: distance of the points along the edge, mm on the mat
SPACING_MM = 1.0
#: how far from the rough contour the edge is sought, mm
_REACH_MM = (2.6, 1.4)
#: a rounded edge turns dark before it ends: all round, the outline may lie so far inside, mm
ROUNDED_MM = 0.15
#: an edge measured this near to a bridge confirms it, mm
_SAME_MM = 0.35
#: an edge on print that nothing confirms may be that of the print beside it, a white button's on a
#: white check: standard uncertainty, mm
_ALONE_ON_PRINT_MM = 0.8
#: what is looked at beyond the reach where a peak may lie at its end
_SPARE_STEPS = 3
#: on print the edge is sought no further from the rough contour, mm, nor from a closely laid one
_REACH_ON_PRINT_MM, _REACH_CLOSELY_MM = 1.2, 0.5


@dataclass(frozen=True)
class Edge:
    """The closed silhouette, anticlockwise seen from above.

    Attributes:
        pixels: (N, 2) px, where the edge is seen.
        on_mat: (N, 2) mm, mat frame: where those rays meet the mat plane.
        measured: (N,) False where the edge was carried over from its neighbours or drawn.
        sigma: (N,) mm on the mat plane, standard uncertainty across the edge.
        drawn: (N,) True where a person drew it by hand; None where nobody drew anything.
        plain: (N,) True where nothing is printed on the ground beside it; None where not known.
    """

    pixels: Array
    on_mat: Array
    measured: NDArray[np.bool_]
    sigma: Array
    drawn: NDArray[np.bool_] | None = None
    plain: NDArray[np.bool_] | None = None


def trace_edge(
    photo: NDArray[np.uint8],
    camera: Camera,
    plan: Plan,
    silhouette: Silhouette,
    divisor: Divisor,
    fine: FineBorder | None = None,
) -> Edge:
    """Refine the silhouette's contour to where the light changes most.

    The peak of the light's slope across the edge is used and not a threshold: a shadow's slow
    gradient beside the edge moves a threshold but not the peak.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        plan: the photo laid flat.
        silhouette: found on it.
        divisor: the light of the print, to divide it out.
        fine: the silhouette's border, where it was laid anew more closely.
    """
    rough = plan.to_mat(_contour(silhouette.mask)) if fine is None else fine.contour
    curve = evenly_spaced(without_slivers(rough), SPACING_MM)
    closely = _looked_at_closely(plan, fine, curve)
    for reach in _REACH_MM:
        normals = outward_normals(curve, 2.5)
        offsets, found = _edge_offsets(photo, camera, curve, normals, reach, plan, divisor, closely)
        clear = _clear_of_print(plan, curve, normals)
        peaks = curve + offsets[:, None] * normals
        # beside print what lies in one line may be the print's own
        agreed = found & agrees(offsets)
        agreed = going_on(peaks, agreed, found & clear)
        agreed |= at_corners(peaks, agreed, found & clear)
        moved = np.where(agreed[:, None], peaks, curve)
        # white binding on white paper shows its inner edge only: across a print a smooth stretch
        # is carried on. Where the edge turns, as round a tuner button, it is measured
        bridged, carried = carried_across(moved, agreed & clear)
        cut_off = ((curve - bridged) * normals).sum(axis=1)
        kept = cuts_off_more_than_ground(
            photo, camera, curve, normals, np.where(carried, cut_off, 0.0), divisor
        )
        kept |= fills_bare_ground(photo, camera, curve, bridged, carried, divisor)
        bridged = np.where(kept[:, None], moved, bridged)
        carried &= ~kept
        measured = agreed & (clear | ~carried | (np.hypot(*(moved - bridged).T) < _SAME_MM))
        curve = bridged
    curve = _past_roundings(photo, camera, curve, measured & clear)
    curve, filled = filled_notches(
        curve, _on_white(plan, curve), plan.at(plan.printed, curve) != TINT
    )
    measured &= ~filled
    pixels = camera.project(np.column_stack([curve, np.zeros(len(curve))]))
    px_mm = plan.cell / 2
    sigma = np.where(measured, 0.3 * px_mm, 1.0 * px_mm) + np.where(clear, 0.0, 0.3 * px_mm)
    sigma = np.where((clear | carried) & ~filled, sigma, np.hypot(sigma, _ALONE_ON_PRINT_MM))
    return Edge(pixels, curve, measured, sigma, plain=clear)


def _past_roundings(
    photo: NDArray[np.uint8], camera: Camera, curve: Array, told: NDArray[np.bool_]
) -> Array:
    """The curve (N, 2) mm, moved out to where a face that bends away really ends, where it is
    `told` (N,) where the light changes most."""
    normals = outward_normals(curve, 2.5)
    steps = round(REACH_PX / STEP_PX)
    t, profile = _profiles(photo, camera, curve, normals, 0.0, steps, "wrap")
    out = past_the_rounding(profile, STEP_PX, told) * (t[1] - t[0]) / STEP_PX
    moved: Array = curve + out[:, None] * normals
    return moved


def snap_to_edge(
    photo: NDArray[np.uint8],
    camera: Camera,
    plan: Plan,
    curve: Array,
    stretch: NDArray[np.bool_],
    divisor: Divisor,
) -> tuple[Array, NDArray[np.bool_]]:
    """A part of a curve moved to where the light changes most, as `trace_edge` does for the whole.

    Args:
        photo, camera, plan: as there.
        curve: (N, 2) mm, mat frame, closed, anticlockwise, points about `SPACING_MM` apart.
        stretch: (N,) the points that may move.
        divisor: as there.

    Returns:
        the curve, and (N,) which points of the stretch have found an edge.
    """
    for reach in _REACH_MM:
        normals = outward_normals(curve, 2.5)
        offsets, found = _edge_offsets(
            photo, camera, curve, normals, reach, plan, divisor, np.zeros(len(curve), dtype=bool)
        )
        clear = _clear_of_print(plan, curve, normals)
        agreed = found & clear & stretch & agrees(np.where(stretch, offsets, 0.0))
        curve = curve + np.where(agreed, offsets, 0.0)[:, None] * normals
    return curve, agreed


def strongest_step(
    photo: NDArray[np.uint8], camera: Camera, curve: Array, normals: Array, reach: float
) -> tuple[Array, NDArray[np.bool_]]:
    """(N,) mm outward from points (N, 2) mm, mat plane, to where the light changes most within
    so many mm, and whether it changes there at all. The curve need not be closed."""
    # peaks are told by what is beside them: a little further is looked at
    t, profile = _profiles(photo, camera, curve, normals, reach, _SPARE_STEPS, "nearest")
    slope, by_proportion = steepness(profile), steepness(np.log(profile + DARK))
    is_peak = clear_peaks(slope, LEAST_LIGHT) | clear_peaks(by_proportion, LEAST_PROPORTION)
    is_peak &= np.abs(t) <= reach
    peak = np.argmax(np.where(is_peak, slope, -1.0), axis=1)
    return peak_offsets(slope, peak, t), np.asarray(is_peak.any(axis=1))


def across(camera: Camera, places: Array, normals: Array) -> tuple[Array, Array, float]:
    """Places (N, 2) mm in px (N, 2), px for one mm along each normal (N, 2), its usual length.

    Over a few mm the photo is as good as affine.
    """
    n = len(places)
    ends = np.column_stack([np.vstack([places, places + normals]), np.zeros(2 * n)])
    pixels = camera.project(ends)
    per_mm = pixels[n:] - pixels[:n]
    return pixels[:n], per_mm, float(np.median(np.hypot(*per_mm.T)))


def _looked_at_closely(plan: Plan, fine: FineBorder | None, curve: Array) -> NDArray[np.bool_]:
    """(N,) whether the border was laid pixel by pixel at points (N, 2) mm."""
    if fine is None:
        return np.zeros(len(curve), dtype=bool)
    return plan.at(fine.closely, curve)


def _clear_of_print(plan: Plan, curve: Array, normals: Array) -> NDArray[np.bool_]:
    """(N,) whether only bare tint is printed at each point (N, 2) mm and just outside it."""
    both = np.stack([curve, curve + normals * 1.2])
    return np.asarray((plan.at(plan.printed, both) == TINT).all(axis=0))


def _on_white(plan: Plan, curve: Array) -> NDArray[np.bool_]:
    """(N,) whether white, and no target, is printed at each point (N, 2) mm."""
    printed = plan.at(plan.printed, curve)
    return np.asarray((printed & TARGET == 0) & (printed != TINT) & (printed > 0))


def _contour(mask: NDArray[np.bool_]) -> Array:
    """(N, 2) column, row: the mask's outer contour, anticlockwise with rows counted upwards."""
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.0)
    return outer_contour(np.asarray(soft, dtype=np.float32))


def _edge_offsets(
    photo: NDArray[np.uint8],
    camera: Camera,
    curve: Array,
    normals: Array,
    reach: float,
    plan: Plan,
    divisor: Divisor,
    closely: NDArray[np.bool_],
) -> tuple[Array, NDArray[np.bool_]]:
    """(N,) mm outward from the curve to the edge, and whether a clear edge was found; `closely`
    (N,) says where the curve was laid pixel by pixel."""
    t, profile = _profiles(photo, camera, curve, normals, reach, 0, "wrap")
    half = len(t) // 2
    # the outermost clear step: behind a binding there is a second one. Steps count by light, by
    # proportion and by hue: a white binding on a dark body is little by proportion, a black binding
    # in a shadow is little by light, and a dark brown edge in a shadow is little by both
    profiles_mm = curve[:, None, :] + t[None, :, None] * normals[:, None, :]
    slope = steepness(profile)
    by_proportion, by_hue, brighter = steepness_and_hue(np.log(profile + DARK))
    # a print is known well enough to be divided out: what lies on it shows a step both in the
    # photo and in what is left
    on_print = plan.at(plan.printed, profiles_mm) != TINT
    rows = np.flatnonzero(on_print.any(axis=1))
    doubtful = np.zeros(slope.shape, dtype=bool)
    if len(rows):
        print_, doubtful[rows] = divisor(profiles_mm[rows])
        left = ((profile[rows] + PRINT_DARK) / (print_ + PRINT_DARK)).astype(np.float32)
        lit = np.median(left, axis=1, keepdims=True)
        own = steepness((print_ * lit).astype(np.float32))
        slope[rows] = np.minimum(slope[rows], steepness(left) - PRINT_RESIDUE * own)
        own = steepness(np.log(print_ + PRINT_DARK).astype(np.float32))
        proportion, hue, brighter[rows] = steepness_and_hue(np.log(left + DARK))
        by_proportion[rows] = np.minimum(by_proportion[rows], proportion - PRINT_RESIDUE * own)
        by_hue[rows] = np.minimum(by_hue[rows], hue - PRINT_RESIDUE * own)
        # beside print the rough contour was laid with care, or pixel by pixel
        reach_mm = np.where(closely[rows], _REACH_CLOSELY_MM, _REACH_ON_PRINT_MM)
        doubtful[rows] |= np.abs(t) > reach_mm[:, None]
    is_peak = clear_peaks(slope, LEAST_LIGHT) | clear_peaks(by_proportion, LEAST_PROPORTION)
    is_peak |= clear_peaks(by_hue, LEAST_PROPORTION, OUTERMOST_HUE)
    is_peak &= ~doubtful & ~shadow_ends(slope, by_proportion, by_hue, brighter)
    found = is_peak.any(axis=1)
    last = slope.shape[1] - 1 - np.argmax(is_peak[:, ::-1], axis=1)
    last = np.where(found, last, half)
    # where it lies: in linear light, where blur is symmetric
    rows = np.arange(len(curve))
    near = np.clip(last[:, None] + np.arange(-3, 4), 1, slope.shape[1] - 2)
    peak = near[rows, np.argmax(slope[rows[:, None], near], axis=1)]
    return peak_offsets(slope, peak, t), np.asarray(found)


def _profiles(
    photo: NDArray[np.uint8],
    camera: Camera,
    curve: Array,
    normals: Array,
    reach: float,
    spare: int,
    mode: str,
) -> tuple[Array, NDArray[np.float32]]:
    """(T,) mm outward and the (N, T, 3) linear light there, within a reach and some steps more.

    Neighbours along the edge share their noise; mode 'wrap' where it is closed, else 'nearest'.
    """
    pixels, per_mm, px_per_mm = across(camera, curve, normals)
    step = STEP_PX / px_per_mm
    half = int(np.ceil(reach / step)) + spare
    t: Array = np.arange(-half, half + 1, dtype=np.float64) * step
    profile = sample_linear(photo, pixels[:, None, :] + t[None, :, None] * per_mm[:, None, :])
    soft: NDArray[np.float32] = gaussian_filter1d(profile, 0.7, axis=0, mode=mode)
    return t, soft
