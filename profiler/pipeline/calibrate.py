"""Photos of a mat or board to a lens record: find the points, solve, judge."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from profiler import __version__
from profiler.errors import RequestError, SceneError
from profiler.jobs.lenses import LensRecord
from profiler.jobs.photo import check_same_phone
from profiler.optics.lens import Lens
from profiler.pipeline.lens_solve import (
    NOT_HELD,
    calibration_prior,
    lens_covariance,
    phone_allowance,
    seen_from_front,
    shared_lens,
    solve_lens,
)
from profiler.pipeline.lens_verdict import Coverage, Judgement, coverage_of, judge
from profiler.pipeline.lens_views import LeftOut, Target, View, recognised_target, view_photo

Array = NDArray[np.float64]

#: one photo cannot tell the lens from its own distance
FEWEST_VIEWS = 2
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
    prior = calibration_prior(photo, target, [v.seen for v in views])
    views, behind = seen_from_front(views, target, prior)
    left_out = [*left_out, *behind]
    if len(views) < FEWEST_VIEWS:
        raise SceneError(_too_few(len(views), left_out))
    observations = [v.seen for v in views]
    scene = solve_lens(prior, target, observations, allowance=phone_allowance(prior.lens))
    lens = shared_lens(scene)
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


def _check_sane(lens: Lens) -> None:
    inside = 0 < lens.cx < lens.width and 0 < lens.cy < lens.height
    long_side = max(lens.width, lens.height)
    if not (inside and 0.3 * long_side < lens.f < 15 * long_side):
        raise SceneError(NOT_HELD)


def _too_few(used: int, left_out: Sequence[LeftOut]) -> str:
    by_reason: dict[str, list[str]] = {}
    for photo in left_out:
        by_reason.setdefault(photo.reason, []).append(photo.name)
    reasons = "; ".join(f"{', '.join(names)}: {why}" for why, names in by_reason.items())
    many = "None of the photos" if used == 0 else "Only one photo"
    return f"{many} can be used, and a lens needs at least {FEWEST_VIEWS}, better 8 to 12." + (
        f" Left out: {reasons}." if reasons else ""
    )
