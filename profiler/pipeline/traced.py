"""A section from a photo: of a contour gauge, or of a tracing, that lies on the mat."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from profiler.errors import OutlineError
from profiler.findings import Finding, Level
from profiler.instrument.record import Quantity
from profiler.instrument.sections import Section
from profiler.instrument.traced import Known, section_from_back
from profiler.jobs.beside import Readings, find_cards, find_mat, read_scale
from profiler.jobs.exposure import check_exposure, exposure_findings
from profiler.jobs.photo import Photo, open_photo
from profiler.pipeline.ground import ground_of
from profiler.pipeline.job import lens_of
from profiler.pipeline.laid import Laid, hidden_by_cards
from profiler.pipeline.measure import NoColour, has_colour
from profiler.pipeline.scene import NoRecord, look, recognise_mat, solve_photos
from profiler.pipeline.section import Place, Typed, sized
from profiler.scene.record import PrintScale, Scene
from profiler.silhouette.ground import uncovered_targets
from profiler.silhouette.mask import find_silhouette
from profiler.silhouette.parted import across_seams, second_thing

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class TracedWishes:
    """What the user asked for; lengths in mm.

    Attributes:
        photo: file.
        is_gauge: a contour gauge, else a tracing.
        width_typed: the place's width was typed.
        depth: of the neck, typed.
        from_head: the photo shows the profile as seen from the head.
        needle_height: of the needles' middle above the mat.
        tips: their form.
        pitch: of the needles, None to find it.
        flush: the needles beside the neck stand level with the face.
        mat, cards, lens: records asked for by name; None to look beside the photo.
        bars: readings of the mat's bar X and bar Y.
        accept_crop: take a cropped or zoomed photo too.
    """

    photo: Path
    is_gauge: bool
    width_typed: bool = False
    depth: Typed | None = None
    from_head: bool = False
    needle_height: Typed | None = None
    tips: str = "round"
    pitch: float | None = None
    flush: bool = False
    mat: Path | None = None
    cards: Path | None = None
    lens: Path | None = None
    bars: Readings = (None, None)
    accept_crop: bool = False


class NothingLies(OutlineError):
    """Nothing lies on the mat."""

    def __init__(self, photo: str, what: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: no {what} is seen: nothing lies on the mat that differs from it. Lay it in"
            " the middle of the mat, flat, in even light."
        )


class TwoThings(OutlineError):
    """More than one thing lies on the mat."""

    def __init__(self, photo: str, what: str, area: float) -> None:
        self.photo, self.area = photo, area
        super().__init__(
            f"{photo}: besides the {what} something of {area / 100:.0f} cm² lies on the mat, as a"
            f" second {what} would. One {what} a photo: take everything else away."
        )


class OverTheEdge(OutlineError):
    """It leaves the mat or the photo."""

    def __init__(self, photo: str, what: str, leaves_photo: bool) -> None:
        self.photo = photo
        where = "the border of the photo" if leaves_photo else "the mat's edge"
        super().__init__(
            f"{photo}: the {what} reaches {where}. Lay it in the middle, with mat in sight all"
            " round it."
        )


#: the least that counts as a gauge or a paper, and a second thing, mm²
_LEAST_MM2, _SECOND_MM2 = 250.0, 400.0


def section_from_photo(
    place: Place, wishes: TracedWishes, progress: Progress = lambda _words, _share: None
) -> Section:
    """Open the photo, solve it as for measuring, read the curve in it.

    Raises:
        ProfilerError: anything that the user can put right.
    """
    what = "gauge" if wishes.is_gauge else "tracing"
    progress("opening the photo", 0.0)
    photo = open_photo(wishes.photo, allow_crop=wishes.accept_crop)
    findings = _light(photo)
    if not has_colour(photo.pixels):
        raise NoColour(photo.name)
    progress("solving lens, camera and sheets", 0.15)
    laid = _lay(photo, wishes, what, findings)
    progress("following the curve", 0.7)
    if wishes.is_gauge:
        from profiler.pipeline.gauge import seen_back

        back, remarks = seen_back(
            laid, wishes.needle_height, wishes.tips, wishes.flush, wishes.pitch
        )
    else:
        from profiler.pipeline.tracing import traced_back

        back, remarks = traced_back(laid)
    depth: Quantity | None
    if wishes.flush and wishes.depth is None:
        depth = None  # the gauge itself shows the face
    else:
        place, depth, told = sized(place, wishes.depth)
        remarks = [*remarks, *told]
    return section_from_back(
        back,
        Known(
            place.name,
            place.x,
            place.width,
            wishes.width_typed,
            place.middle,
            depth,
            place.face_height,
            wishes.from_head,
            what,
            photo.name,
            photo.sha256,
        ),
        (*findings, *remarks),
    )


def _light(photo: Photo) -> list[Finding]:
    gray = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    check_exposure(photo.path, gray)
    return list(exposure_findings(gray))


def _lay(photo: Photo, wishes: TracedWishes, what: str, findings: list[Finding]) -> Laid:
    """Solve the scene and find what lies on the mat."""
    mat = find_mat(photo.path, wishes.mat, wishes.bars)
    cards = find_cards(photo.path, wishes.cards, (None, None))
    prior, _, _ = lens_of(photo, wishes.lens)
    view = look(photo.name, photo.pixels)
    design, scale = mat.design, mat.scale
    if design is None:
        design = recognise_mat(view)
        if design is None:
            raise NoRecord(photo.name)
        findings.append(
            Finding(
                201,
                Level.NOTE,
                f"No mat record: taken for the default mat on {design.paper.name}, recognised by"
                " its targets.",
            )
        )
        if wishes.bars != (None, None):
            scale = read_scale(design, wishes.bars)
    scale = scale or PrintScale()
    if not scale.read:
        findings.append(
            Finding(
                202,
                Level.DOUBT,
                "The mat's check bars were not read: the print may be out by a percent, and so may"
                " every length. Lay a steel rule on both bars and give --bar-x and --bar-y.",
            )
        )
    scene: Scene = solve_photos([view], design, prior, scale, cards.scale)
    plan, lighting = ground_of(photo.pixels, photo.name, scene, what)
    found = find_silhouette(plan, lighting, hidden_by_cards(scene), uncovered_targets(plan, scene))
    if found is None or found.mask.sum() * plan.cell**2 < _LEAST_MM2:
        raise NothingLies(photo.name, what)
    silhouette = across_seams(found, plan, _LEAST_MM2 / 2)
    second = second_thing(silhouette, plan, _SECOND_MM2)
    if second is not None:
        raise TwoThings(photo.name, what, second)
    if len(silhouette.touches_edge):
        raise OverTheEdge(photo.name, what, silhouette.leaves_photo)
    parted = silhouette is not found
    return Laid(
        photo.name, photo.pixels, scene, plan, lighting, silhouette, cards.thickness, parted
    )
