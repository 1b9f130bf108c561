"""What can be believed of a lens before anything was measured: numbers in, a prior out."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from profiler.optics.lens import Lens
from profiler.scene.record import LensPrior

Array = NDArray[np.float64]

#: diagonal of a 36 x 24 mm frame, to which 35 mm equivalents refer (CIPA DCG-001), mm
DIAGONAL_35_MM = 43.267
#: main cameras of phones lie at 23 to 29 mm equivalent; the wide prior's middle
WIDE_F35_MM = 26.0
WIDE_U = 0.25
#: a lens shorter than this is a phone's ultra-wide one, whose equivalents are 12 to 17 mm. Longer
#: ones tell nothing: 6 mm is a long lens on an old phone and the main one on a new phone.
ULTRA_WIDE_BELOW_MM, ULTRA_WIDE_F35_MM = 2.9, 14.0
#: makers round from the diagonal or from the width, and before or after they correct the picture's
#: distortion; relative
CONVENTION_U = 0.03
#: a phone's lens, and how near a mat may be photographed from: they bound what focus does, mm
PHONE_FOCAL_MM, NEAR_MM = 5.0, 1000.0
#: stabilisation and assembly move the optical centre by about a hundredth of the frame's diagonal
CENTRE_U = 0.01
#: how far k1, k2, k3 may each move a point in the corner of the frame, as a part of its distance
#: from the centre. Corrected photos stay below 0.01 in sum; uncorrected ones have terms of this
#: size that partly cancel.
CORNER_U = (0.06, 0.08, 0.06)
#: p1 and p2 of phone lenses
TANGENTIAL_U = 0.001
#: photos of this shape show the whole sensor of a phone
FULL_FRAME_SHAPE = 4 / 3


def focus_stretch(focal_mm: float, distance_mm: float) -> float:
    """How much longer the lens gets, relative, when it moves to focus at a distance (thin lens).

    The image lies at v with 1/f = 1/d + 1/v, so v/f - 1 = f / (d - f).
    """
    return focal_mm / (distance_mm - focal_mm)


#: focusing at 1 m instead of infinity lengthens a phone's lens by 0.5 %; relative
FOCUS_U = focus_stretch(PHONE_FOCAL_MM, NEAR_MM)


def lens_prior_from_exif(
    width: int,
    height: int,
    f35: float | None = None,
    focal_mm: float | None = None,
    pixels_per_mm: float | None = None,
) -> LensPrior:
    """The lens as far as the photo's own notes tell it.

    The first of these that is there decides: the focal length with the pixels per millimetre of
    sensor; the focal length as a 35 mm equivalent; a very short focal length; nothing. A phone's
    focal length alone tells little, since its sensor's size is not noted and grows with the lens.

    Args:
        width: photo width, px, sensor orientation.
        height: photo height, px.
        f35: EXIF FocalLengthIn35mmFilm, mm; 0 or None where it is missing.
        focal_mm: EXIF FocalLength, mm.
        pixels_per_mm: EXIF FocalPlaneXResolution turned into pixels per millimetre, for a photo of
            this very size.

    Returns:
        The prior. The aspect is held at 1, since sensors have square pixels.
    """
    diagonal = math.hypot(width, height)
    if focal_mm and pixels_per_mm and 0.2 < focal_mm * pixels_per_mm / diagonal < 20:
        f = focal_mm * pixels_per_mm
        relative = math.hypot(CONVENTION_U, FOCUS_U)
        source = f"EXIF: focal length {focal_mm:g} mm and sensor resolution"
    elif f35 and 8 <= f35 <= 800:
        f = f35 * diagonal / DIAGONAL_35_MM
        # A cropped shape (16:9) may carry the equivalent of the uncropped 4:3 frame.
        long_side = max(width, height)
        crop = math.hypot(1, 1 / FULL_FRAME_SHAPE) * long_side / diagonal - 1
        relative = math.sqrt(
            (0.5 / math.sqrt(3) / f35) ** 2 + CONVENTION_U**2 + FOCUS_U**2 + (crop / 2) ** 2
        )
        source = f"EXIF: {f35:g} mm equivalent focal length"
    elif focal_mm and 0.8 < focal_mm < ULTRA_WIDE_BELOW_MM:
        f = ULTRA_WIDE_F35_MM * diagonal / DIAGONAL_35_MM
        relative = WIDE_U
        source = f"EXIF: focal length {focal_mm:g} mm, taken for an ultra-wide lens"
    else:
        f = WIDE_F35_MM * diagonal / DIAGONAL_35_MM
        relative = WIDE_U
        source = f"no EXIF focal length: {WIDE_F35_MM:g} mm equivalent, give or take a quarter"

    lens = Lens(width, height, f, (width - 1) / 2, (height - 1) / 2)
    return LensPrior(lens, _sigma(lens, relative * f), source)


def _sigma(lens: Lens, u_f: float) -> Array:
    """(9,) standard uncertainties in the order of `LENS_TERMS` for a lens of unknown distortion."""
    diagonal = math.hypot(lens.width, lens.height)
    corner2 = (diagonal / 2 / lens.f) ** 2
    k1, k2, k3 = (u / corner2**power for power, u in enumerate(CORNER_U, start=1))
    # A long lens has a narrow corner: without a limit its higher terms would be free to explode.
    k1, k2, k3 = min(k1, 0.5), min(k2, 2.0), min(k3, 5.0)
    centre = CENTRE_U * diagonal
    return np.array([u_f, 0.0, centre, centre, k1, k2, TANGENTIAL_U, TANGENTIAL_U, k3])
