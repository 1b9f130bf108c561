"""Photos of a mat or board to a lens record: find the points, solve, judge."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler import __version__
from profiler.errors import RequestError, SceneError
from profiler.jobs.lenses import LensRecord
from profiler.jobs.photo import Photo, check_same_phone
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.pipeline.lens_verdict import Coverage, Judgement, coverage_of, judge
from profiler.pipeline.lens_views import LeftOut, Target, View, recognised_target, view_photo
from profiler.scene.priors import lens_prior_from_exif
from profiler.scene.record import LensPrior, Observations, Scene
from profiler.scene.solve import PanelStart, SceneProblem, solve_scene
from profiler.scene.start import plane_pose

Array = NDArray[np.float64]

#: one photo cannot tell the lens from its own distance
FEWEST_VIEWS = 2
#: distortion and optical centre may lie this much further out than for a single photo: here the
#: photos are to decide, and the belief only keeps unseen corners from running away
LOOSER = 3.0
#: a photo's residual stands out if it is this many times the median photo's
STANDS_OUT = 3.0
#: and so does a photo that lost this part of its points
SET_ASIDE_PART = 0.2

#: what is being done, and the share of the whole that is done
Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Fit:
    """How one photo fits the solution.

    Attributes:
        name: of the file.
        points: seen; `set_aside` of them did not fit.
        rms: px, of the points that were used.
        tilt: between the camera's axis and the print's normal, degrees.
        blur: of the printed edges, px.
    """

    name: str
    points: int
    set_aside: int
    rms: float
    tilt: float
    blur: float


@dataclass(frozen=True)
class Calibration:
    """A solved lens and how far to trust it.

    Attributes:
        record: what is kept.
        covariance: (9, 9) of the lens terms; zero where held.
        fits: one per photo that was used.
        left_out: photos that were not.
    """

    record: LensRecord
    covariance: Array
    fits: tuple[Fit, ...]
    left_out: tuple[LeftOut, ...]
    coverage: Coverage
    judgement: Judgement


def calibrate(
    paths: Sequence[Path],
    target: Target | None,
    name: str = "",
    notes: str = "",
    progress: Progress = lambda _words, _share: None,
) -> Calibration:
    """Solve a phone's lens from photos of one flat print.

    Args:
        paths: the photos.
        target: what they show; None to recognise a mat of default size.
        name: for the record.
        notes: for the record.
        progress: told in words what is being done, and the share done so far.

    Raises:
        InputError: a file is no photo, or the photos are from several phones or of several sizes.
        SceneError: too few photos show the print, or they do not hold the lens.
    """
    if len(paths) < FEWEST_VIEWS:
        raise RequestError(
            "One photo cannot tell a lens from its own distance."
            " Give 8 to 12 photos of the print, each from another side and tilted."
        )
    if target is None:
        progress("recognising the mat", 0.0)
        target = recognised_target(paths)
    views: list[View] = []
    left_out: list[LeftOut] = []
    for i, path in enumerate(paths):
        progress(f"reading {path.name}", i / (len(paths) + 1))
        seen = view_photo(path, target)
        if isinstance(seen, LeftOut):
            left_out.append(seen)
        elif twin := next((v for v in views if v.photo.sha256 == seen.photo.sha256), None):
            left_out.append(LeftOut(path.name, f"it is the same photo as {twin.photo.name}"))
        else:
            views.append(seen)
    check_same_phone([v.photo for v in views])
    progress("solving the lens", len(paths) / (len(paths) + 1))
    return calibrate_views(views, left_out, target, name, notes)


def calibrate_views(
    views: Sequence[View],
    left_out: Sequence[LeftOut],
    target: Target,
    name: str = "",
    notes: str = "",
) -> Calibration:
    """The same from photos that were already looked at.

    Raises:
        SceneError: too few photos show the print, or they do not hold the lens.
    """
    if len(views) < FEWEST_VIEWS:
        raise SceneError(_too_few(len(views), left_out))
    photo = views[0].photo
    observations = [v.seen for v in views]
    prior = calibration_prior(photo, target, observations)
    scene = solve_lens(prior, target, observations)
    lens = scene.cameras[0].lens
    _check_sane(lens)
    covariance = lens_covariance(scene)

    fits, pixels, at = [], [], 0
    for view, camera in zip(views, scene.cameras, strict=True):
        part = slice(at, at + len(view.seen))
        at += len(view.seen)
        used = scene.used[part]
        residuals = scene.residuals[part][used]
        axis = camera.camera_from_mat.rotation[:, 2]
        fits.append(
            Fit(
                name=view.photo.name,
                points=len(view.seen),
                set_aside=int((~used).sum()),
                rms=float(np.sqrt((residuals**2).sum(axis=1).mean())) if used.any() else np.inf,
                tilt=float(np.degrees(np.arccos(np.clip(-axis[2], -1, 1)))),
                blur=view.blur,
            )
        )
        pixels.append(view.seen.pixels[used])
    coverage = coverage_of(np.concatenate(pixels), lens.width, lens.height)
    middle = float(np.median([f.rms for f in fits]))
    judgement = judge(
        lens,
        covariance,
        scene.rms,
        coverage,
        normals=np.array([c.camera_from_mat.rotation[:, 2] for c in scene.cameras]),
        set_aside=float((~scene.used).mean()),
        bad_photos=[
            f.name
            for f in fits
            if f.rms > max(STANDS_OUT * middle, 0.3) or f.set_aside > SET_ASIDE_PART * f.points
        ],
    )
    u = np.sqrt(np.diag(covariance))
    divisor = np.where(u > 0, u, 1.0)
    record = LensRecord(
        make=photo.make,
        model=photo.model,
        f35=photo.focal35_mm,
        lens=lens,
        u=u,
        rms_px=scene.rms,
        photos=len(views),
        points=int(scene.used.sum()),
        coverage=coverage.fraction,
        corners=sum(coverage.reached),
        correlation=covariance / np.outer(divisor, divisor),
        verdict=judgement.sentence,
        name=name or photo.phone,
        target=target.name,
        date=max(v.photo.datetime for v in views)[:10].replace(":", "-"),
        program=f"profiler {__version__}",
        sources=tuple((v.photo.name, v.photo.sha256) for v in views),
        notes=notes,
    )
    return Calibration(record, covariance, tuple(fits), tuple(left_out), coverage, judgement)


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


def solve_lens(
    prior: LensPrior, target: Target, observations: Sequence[Observations], robust: bool = True
) -> Scene:
    """One lens, one pose per photo, and the places of the print's pieces.

    Args:
        prior: the belief; infinite sigma frees a term, 0 holds it.
        target: what was photographed.
        observations: one per photo.
        robust: seek outliers and set them aside.

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
            raise SceneError(
                "One of the photos shows the print as if from behind: a mirrored photo, or a board"
                " whose rows and columns were swapped. Check the board's size, and leave edited"
                " photos out."
            )
        poses.append(pose)
    try:
        return solve_scene(
            SceneProblem(prior, renumbered, panels, poses, target.scale),
            robust=robust,
            lens_source="photo",
        )
    except np.linalg.LinAlgError as error:
        raise SceneError(_NOT_HELD) from error


_NOT_HELD = (
    "The photos do not hold the lens: no sensible focal length fits them. Take 8 to 12 photos from"
    " different sides, tilted by 30 to 45°, and check the sizes given for the print."
)


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


def _check_sane(lens: Lens) -> None:
    inside = 0 < lens.cx < lens.width and 0 < lens.cy < lens.height
    long_side = max(lens.width, lens.height)
    if not (inside and 0.3 * long_side < lens.f < 15 * long_side):
        raise SceneError(_NOT_HELD)


def _too_few(used: int, left_out: Sequence[LeftOut]) -> str:
    by_reason: dict[str, list[str]] = {}
    for photo in left_out:
        by_reason.setdefault(photo.reason, []).append(photo.name)
    reasons = "; ".join(f"{', '.join(names)}: {why}" for why, names in by_reason.items())
    many = "None of the photos" if used == 0 else "Only one photo"
    return f"{many} can be used, and a lens needs at least {FEWEST_VIEWS}, better 8 to 12." + (
        f" Left out: {reasons}." if reasons else ""
    )
