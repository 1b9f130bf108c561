"""Is this photo good enough to measure, and what would make it better: told before measuring.

The same steps as measuring, as far as the silhouette. What is found is kept in the memory, so that
measuring afterwards only has the rest to do. A glance does the same to a reduced picture, in a part
of the time: all but how sharp the photo is can be told from it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.sharpness import anything_sharp
from profiler.errors import OutlineError, ProfilerError, SceneError
from profiler.jobs.exposure import PhotoHopeless, check_exposure, exposure_findings
from profiler.jobs.photo import Photo, open_photo
from profiler.jobs.photo_errors import PhotoError
from profiler.pipeline.check_ground import covered_points, shadow_points
from profiler.pipeline.check_points import (
    Point,
    Weight,
    frame_points,
    light_points,
    refused,
    scene_points,
    smeared,
    stand_of,
)
from profiler.pipeline.check_side import side_points
from profiler.pipeline.job import JobWishes, prepare
from profiler.pipeline.measure import MeasureRequest, causes_of, solved
from profiler.pipeline.memory import Memory
from profiler.pipeline.scene import Blurred, FromTheSide, NoMat, TooFewTargets
from profiler.pipeline.seeing import see_silhouette
from profiler.scene.priors import lens_prior_from_exif
from profiler.scene.single import of_photo
from profiler.target.mat import MatDesign

__all__ = ["Check", "Point", "Weight", "check_photo", "glance"]

Progress = Callable[[str, float], None]

#: a glance sees no more than this, px of the longer side: with fewer, small cards are not read
GLANCE_PX = 1600
_NAME = "the photo"


@dataclass(frozen=True)
class Check:
    """What was seen; None where it did not come to that.

    Attributes:
        points: in the order in which they were looked at.
        targets, cards: of the mat and on the instrument, that were seen.
        tilt_deg, height_mm: of the camera.
        phone, width, height, orientation: of the photo.
        from_side: it was looked at as a view from the side.
    """

    points: tuple[Point, ...]
    targets: int | None = None
    cards: int | None = None
    tilt_deg: float | None = None
    height_mm: float | None = None
    phone: str = ""
    width: int | None = None
    height: int | None = None
    orientation: int = 1
    from_side: bool = False

    @property
    def ok(self) -> bool:
        """Whether it can be measured."""
        return all(p.weight is not Weight.STOP for p in self.points)


def check_photo(
    wishes: JobWishes,
    progress: Progress = lambda _words, _share: None,
    memory: Memory | None = None,
    from_side: bool = False,
) -> Check:
    """Look at the first photo of a job as far as measuring would before it traces the edge.

    A photo from the side is known by the sheets that stand in it, or by `from_side`. Nothing is
    raised that the user can put right: it is a point of the check.
    """
    memory = memory or Memory()
    try:
        made = prepare(wishes, progress, memory)
    except PhotoHopeless as error:
        photo = open_photo(wishes.photos[0], allow_crop=wishes.accept_crop)
        return Check(
            (refused(error, error.finding.message),),
            phone=photo.phone,
            width=photo.width,
            height=photo.height,
            orientation=photo.orientation,
        )
    except PhotoError as error:
        return Check((Point("photo", Weight.STOP, _bare(error, wishes.photos[0])),))
    except ProfilerError as error:
        return Check((Point("mat", Weight.STOP, _bare(error, wishes.photos[0])),))
    photo = made.request.photos[0]
    check = Check(
        light_points(made.findings),
        phone=photo.phone,
        width=photo.width,
        height=photo.height,
        orientation=photo.orientation,
    )
    check = replace(check, from_side=from_side)
    return _looked_at(check, made.request, 1.0, progress, memory)


def glance(
    pixels: NDArray[np.uint8],
    design: MatDesign | None,
    finer: float | None,
    from_side: bool = False,
) -> Check:
    """Look at a reduced picture of a scene that may become a photo, or has become one.

    Args:
        pixels: (H, W, 3) 8 bit BGR, upright; made smaller where it is larger than a glance needs.
        design: the mat; None to recognise it.
        finer: px of the photo itself for one px of the picture; None where there is no photo yet.
        from_side: it is meant to be a view from the side.
    """
    shrink = GLANCE_PX / max(pixels.shape[:2])
    if shrink < 1:
        small = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
        pixels = np.asarray(small, dtype=np.uint8)
        finer = None if finer is None else finer / shrink
    height, width = pixels.shape[:2]
    gray = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    photo = Photo(Path(_NAME), hashlib.sha256(pixels.tobytes()).hexdigest(), pixels)
    try:
        check_exposure(photo.path, gray)
    except PhotoHopeless as error:
        return Check((refused(error, error.finding.message),), width=width, height=height)
    request = MeasureRequest((photo,), lens_prior_from_exif(width, height), design)
    check = Check(light_points(exposure_findings(gray)), width=width, height=height)
    check = replace(check, from_side=from_side)
    return _looked_at(check, request, finer, lambda _words, _share: None, Memory())


def _looked_at(
    check: Check,
    request: MeasureRequest,
    finer: float | None,
    progress: Progress,
    memory: Memory,
) -> Check:
    photo = request.photos[0]
    if check.from_side:
        return _from_side(check, photo)
    try:
        progress("looking for mat and cards", 0.1)
        scene, design = solved(request, memory)
    except FromTheSide:
        return _from_side(check, photo)
    except Blurred as error:
        seen = Point("mat", Weight.GOOD, "The mat is seen.")
        return _with(check, seen, refused(error, _bare(error, photo.path)))
    except (NoMat, TooFewTargets) as error:
        gray = cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY)
        if not anything_sharp(np.asarray(gray, dtype=np.uint8)):
            return _with(check, smeared())
        return _with(check, refused(error, _bare(error, photo.path)))
    except (SceneError, OutlineError) as error:
        return _with(check, refused(error, _bare(error, photo.path)))
    stand = stand_of(scene)
    check = replace(
        _with(check, *scene_points(stand, finer)),
        targets=stand.targets,
        cards=stand.cards,
        tilt_deg=stand.tilt_deg,
        height_mm=stand.height_mm,
    )
    if finer == 1.0:
        check = _with(check, Point("sharp", Weight.GOOD, "The photo is sharp."))
    try:
        progress("looking for the instrument", 0.6)
        own, causes = of_photo(scene, 0), causes_of(request)
        plan, lighting, found = see_silhouette(
            photo.pixels, photo.name, own, (), memory, causes, closely=finer == 1.0
        )
    except OutlineError as error:
        return _with(check, refused(error, _bare(error, photo.path)))
    shadow: tuple[Point, ...] = ()
    if lit := [p for p in check.points if (p.what, p.weight) == ("light", Weight.GOOD)]:
        # in too little or too much light a shadow cannot be told from the instrument's colour
        shadow = shadow_points(own, plan, lighting, found, photo.orientation)
    if shadow:
        check = replace(check, points=tuple(p for p in check.points if p not in lit))
    covered = covered_points(own, design, plan, found)
    return _with(check, *shadow, *covered, *frame_points(found, crumbs=finer == 1.0))


def _from_side(check: Check, photo: Photo) -> Check:
    gray = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    return _with(replace(check, from_side=True), *side_points(gray))


def _bare(error: ProfilerError, path: Path) -> str:
    """The sentence without the photo's name; who looks knows which photo it is."""
    text = str(error)
    for name in (str(path), path.name):
        text = text.removeprefix(f"{name}: ").replace(name, "the photo")
    return text[:1].upper() + text[1:]


def _with(check: Check, *points: Point) -> Check:
    return replace(check, points=(*check.points, *points))
