"""One lens, one pose per photo, and where the print's pieces lie: from points to a solved scene."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.errors import SceneError
from profiler.jobs.lenses import STABILISATION_U
from profiler.jobs.photo import Photo
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.pipeline.lens_views import LeftOut, Target, View
from profiler.scene.priors import PHONE_FOCAL_MM, focus_stretch, lens_prior_from_exif
from profiler.scene.record import LensPrior, Scene
from profiler.scene.solve import NO_ALLOWANCE, PanelStart, SceneProblem, solve_scene
from profiler.scene.start import plane_pose

Array = NDArray[np.float64]

#: distortion and optical centre may lie this much further out than for a single photo: here the
#: photos are to decide, and the belief only keeps unseen corners from running away
LOOSER = 3.0
#: focal lengths of photos taken between half a metre and a metre differ by this, relative
REFOCUS_U = (focus_stretch(PHONE_FOCAL_MM, 500.0) - focus_stretch(PHONE_FOCAL_MM, 1000.0)) / 2
BEHIND = "it shows the print as if from behind; a mirrored or edited photo cannot be used"
NOT_HELD = (
    "The photos do not hold the lens: no sensible focal length fits them. Take 8 to 12 photos from"
    " different sides, tilted by 30 to 45°, and check the sizes given for the print."
)


def calibration_prior(
    photo: Photo, target: Target, observations: Sequence[Observations]
) -> LensPrior:
    """Where a calibration starts, and the little that is believed beforehand.

    The focal length is free; it starts where the print's own perspective puts it (Zhang 2000,
    as OpenCV does it), or at EXIF's value if that makes no sense.
    """
    width, height = photo.width, photo.height
    exif = lens_prior_from_exif(width, height, photo.focal35_mm)
    objects = [
        np.column_stack([target.flat(o), np.zeros(len(o))]).astype(np.float32) for o in observations
    ]
    images = [o.pixels.astype(np.float32) for o in observations]
    guess = np.asarray(cv2.initCameraMatrix2D(objects, images, (width, height), 1.0))
    f = float(guess[0, 0])
    if not 0.3 * max(width, height) < f < 15 * max(width, height):
        f = exif.lens.f
    sigma = exif.sigma * LOOSER
    sigma[LENS_TERMS.index("f")] = np.inf
    return LensPrior(replace(exif.lens, f=f), sigma, "calibration")


def phone_allowance(lens: Lens) -> Array:
    """(3,) px: how much f, cx, cy of one photo may differ from the lens that all share.

    Phones refocus and stabilise between photos. Without this, a made-up phone that does so was
    found with stated uncertainties 5 to 30 times too small.
    """
    shift = STABILISATION_U * math.hypot(lens.width, lens.height)
    return np.array([REFOCUS_U * lens.f, shift, shift])


def shared_lens(scene: Scene) -> Lens:
    """The lens that the photos have in common: each photo's own differences average out."""
    vectors = np.array([camera.lens.vector for camera in scene.cameras])
    return scene.cameras[0].lens.with_vector(vectors.mean(axis=0))


def solve_lens(
    prior: LensPrior,
    target: Target,
    observations: Sequence[Observations],
    robust: bool = True,
    allowance: Array = NO_ALLOWANCE,
) -> Scene:
    """One lens, one pose per photo, and the places of the print's pieces.

    Args:
        prior: the belief; infinite sigma frees a term, 0 holds it.
        target: what was photographed.
        observations: one per photo.
        robust: seek outliers and set them aside.
        allowance: (3,) px, standard uncertainty of each photo's own f, cx, cy about the lens's.

    Raises:
        SceneError: a photo shows the print from behind, or the equations have no solution.
    """
    counts = np.bincount(
        np.concatenate([o.panel for o in observations]), minlength=len(target.panels)
    )
    # the piece with the most points carries the frame
    anchor = int(counts.argmax())
    kept = [i for i in range(len(counts)) if counts[i] > 0]
    number = {old: new for new, old in enumerate(kept)}
    panels = [
        PanelStart(
            target.panels[i],
            Pose(np.eye(3), np.array([*target.origins[i], 0.0])),
            "fixed" if i == anchor else "sheet",
        )
        for i in kept
    ]
    renumbered = [
        replace(o, panel=np.array([number[int(i)] for i in o.panel], dtype=np.intp))
        for o in observations
    ]
    poses = []
    for o in observations:
        pose = plane_pose(prior.lens, target.flat(o), o.pixels)
        if pose is None:
            raise SceneError(f"One of the photos cannot be used: {BEHIND}.")
        poses.append(pose)
    try:
        return solve_scene(
            SceneProblem(prior, renumbered, panels, poses, target.scale, allowance=allowance),
            robust=robust,
            lens_source="photo",
        )
    except np.linalg.LinAlgError as error:
        raise SceneError(NOT_HELD) from error


def seen_from_front(
    views: Sequence[View], target: Target, prior: LensPrior
) -> tuple[list[View], list[LeftOut]]:
    """The photos that show the print's face, and those that cannot."""
    front: list[View] = []
    behind: list[LeftOut] = []
    for v in views:
        if plane_pose(prior.lens, target.flat(v.seen), v.seen.pixels) is None:
            behind.append(LeftOut(v.photo.name, BEHIND))
        else:
            front.append(v)
    return front, behind


def lens_covariance(scene: Scene) -> Array:
    """(9, 9) of the lens terms in the order of `LENS_TERMS`; zero rows where a term was held."""
    where = [
        scene.parameters.index(f"lens {t}") if f"lens {t}" in scene.parameters else -1
        for t in LENS_TERMS
    ]
    solved = [i for i, column in enumerate(where) if column >= 0]
    columns = [where[i] for i in solved]
    covariance = np.zeros((len(LENS_TERMS), len(LENS_TERMS)))
    covariance[np.ix_(solved, solved)] = scene.covariance[np.ix_(columns, columns)]
    return covariance
