"""One job from end to end: files named by the user in, the content of the job folder out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement
from profiler.jobs.beside import Readings, find_cards, find_mat, find_upright, read_scale
from profiler.jobs.exposure import check_exposure, exposure_findings
from profiler.jobs.lens_search import find_lens
from profiler.jobs.photo import Photo, check_same_phone, open_photo
from profiler.jobs.results import JobNotes, Record, measurement_record
from profiler.jobs.twice import Glimpse, check_all_differ, check_other_files, glimpse_of
from profiler.optics.lens import LENS_TERMS
from profiler.pipeline.measure import (
    DISAGREEMENT,
    NOT_TO_BE_RELIED_ON,
    MeasureRequest,
    MeasureResult,
    measure_photos,
)
from profiler.pipeline.memory import Memory
from profiler.pipeline.scene import look, recognise_mat
from profiler.scene.priors import lens_prior_from_exif
from profiler.scene.record import LensPrior, PrintScale
from profiler.silhouette.strokes import Stroke

if TYPE_CHECKING:
    from profiler.pipeline.side import SidePhoto

Progress = Callable[[str, float], None]

#: a crop moves the optical centre by up to about this part of a side: all but unknown
_CROPPED_CENTRE_U = 0.15


@dataclass(frozen=True)
class JobWishes:
    """What the user asked for; lengths in mm.

    Attributes:
        photos: at least one file; the outline is taken from all of them.
        mat, cards, lens: records asked for by name; None to look beside the photo.
        bars, card_bars: readings of bar X and bar Y.
        heights: part to height and its 95 % uncertainty, None where not typed.
        notes: for headings.
        accept_crop: take cropped or zoomed photos too.
        ignore: 'heights' and 'lens', to show what these corrections are worth.
        strokes: corrections of the edge by hand, px of the first photo.
        sides: photos from the side; one of them shows both ends of the instrument.
        upright: record of the row of sheets that stands in them; None to look beside them.
    """

    photos: tuple[Path, ...]
    mat: Path | None = None
    cards: Path | None = None
    lens: Path | None = None
    bars: Readings = (None, None)
    card_bars: Readings = (None, None)
    heights: Mapping[str, tuple[float, float | None]] = field(default_factory=dict)
    notes: JobNotes = field(default_factory=JobNotes)
    accept_crop: bool = False
    ignore: frozenset[str] = frozenset()
    strokes: tuple[Stroke, ...] = ()
    sides: tuple[Path, ...] = ()
    upright: Path | None = None


@dataclass(frozen=True)
class JobResult:
    """What came out.

    Attributes:
        measurement: with all findings.
        result: as the measuring gave it, for the pictures.
        photos: that were used, as opened.
        record: the content of `measurement.json`.
        used: a line for people on each record that was used or missed.
        sides: the photos from the side, as opened.
    """

    measurement: Measurement
    result: MeasureResult
    photos: tuple[Photo, ...]
    record: Record
    used: tuple[str, ...]
    sides: tuple[SidePhoto, ...] = ()


def run_job(
    wishes: JobWishes,
    progress: Progress = lambda _words, _share: None,
    memory: Memory | None = None,
) -> JobResult:
    """Open, find the records, measure.

    Args:
        wishes: see there.
        progress: told in words what is being done, and the share done so far.
        memory: of what was found in the same photos before.

    Raises:
        ProfilerError: anything that the user can put right; nothing has been written.
    """
    memory = memory or Memory()
    made = prepare(wishes, progress, memory)
    findings, found = list(made.findings), made.records
    result = measure_photos(
        made.request, lambda words, share: progress(words, 0.05 + 0.85 * share), memory
    )
    measurement = replace(
        result.measurement, findings=_worst_first((*result.measurement.findings, *findings))
    )
    record = measurement_record(
        measurement,
        result.scene,
        result.photos,
        wishes.notes,
        [path.name for path in found.values() if path is not None],
        made.request.card_thickness,
    )
    used = tuple(
        f"{name} record: {path}" if path else f"{name} record: none found"
        for name, path in found.items()
    )
    return JobResult(measurement, result, result.photos, record, used, made.request.sides)


@dataclass(frozen=True)
class Prepared:
    """A job whose photos and records are open.

    Attributes:
        request: for the measuring.
        findings: about photos and records.
        records: 'mat', 'cards' and 'lens' to the record's place, None where none was found.
    """

    request: MeasureRequest
    findings: tuple[Finding, ...]
    records: Mapping[str, Path | None]


def prepare(wishes: JobWishes, progress: Progress, memory: Memory) -> Prepared:
    """Open the photos and find their records: the beginning of `run_job`.

    Raises:
        ProfilerError: as there.
    """
    progress("opening the photos", 0.0)
    photos, noticed, glimpses = memory.recall(
        "photos",
        ([(str(p), _stamp(p)) for p in wishes.photos], wishes.accept_crop),
        lambda: _opened(wishes),
    )
    findings = list(noticed)
    check_same_phone(photos)
    check_all_differ(glimpses)
    first = photos[0]

    mat = find_mat(first.path, wishes.mat, wishes.bars)
    cards = find_cards(first.path, wishes.cards, wishes.card_bars)
    design, scale = mat.design, mat.scale
    if design is None and wishes.bars != (None, None):
        design = recognise_mat(look(first.name, first.pixels))
        if design is not None:
            scale = read_scale(design, wishes.bars)
    prior, lens_path, remarks = lens_of(first, wishes.lens)
    findings += [Finding(310, Level.NOTE, remark) for remark in remarks]
    findings += [_crop_finding(photo) for photo in photos if photo.cropped]

    sides, upright = _sides(wishes, photos, scale)
    request = MeasureRequest(
        photos=photos,
        lens=prior,
        mat=design,
        mat_scale=scale,
        card_scale=cards.scale,
        card_thickness=cards.thickness,
        typed_heights=dict(wishes.heights),
        ignore_heights="heights" in wishes.ignore,
        ignore_lens="lens" in wishes.ignore,
        strokes=wishes.strokes,
        sides=sides,
    )
    found = {"mat": mat.path, "cards": cards.path, "lens": lens_path}
    if sides:
        found["upright"] = upright
    return Prepared(request, tuple(findings), found)


def _sides(
    wishes: JobWishes, photos: Sequence[Photo], mat_scale: PrintScale | None
) -> tuple[tuple[SidePhoto, ...], Path | None]:
    """The side views, opened, and the record of what stands in them."""
    if not wishes.sides:
        return (), None
    from profiler.pipeline.side import SidePhoto

    before = list(photos)
    opened: list[SidePhoto] = []
    record: Path | None = None
    for path in wishes.sides:
        photo = open_photo(path, allow_crop=wishes.accept_crop)
        if photo.name in {one.name for one in opened}:
            raise RequestError(
                f"Two photos from the side are called {photo.name}: the record could not tell them"
                " apart. Rename one."
            )
        check_same_phone([*before, photo])
        check_other_files(photo, before)
        before.append(photo.hollow())
        # the row is the same in all of them
        row = find_upright(photo.path, wishes.upright or record)
        # one printer, and a sheet that goes through it turned; unread, both ways are alike
        scale = row.scale or PrintScale()
        if not scale.read and mat_scale is not None and mat_scale.read:
            scale = replace(scale, u_x=min(scale.u_x, 0.004), u_y=min(scale.u_y, 0.004))
        opened.append(SidePhoto(photo.name, photo.pixels, row.design, scale))
        record = record or row.path
    return tuple(opened), record


def _stamp(path: Path) -> tuple[int, int]:
    """Changes when the file does; what cannot be read is told when it is opened."""
    try:
        found = path.stat()
    except OSError:
        return 0, 0
    return found.st_mtime_ns, found.st_size


def _opened(
    wishes: JobWishes,
) -> tuple[tuple[Photo, ...], tuple[Finding, ...], tuple[Glimpse, ...]]:
    """The photos, what is noticed of their light, and what to know several apart by."""
    opened: list[Photo] = []
    findings: list[Finding] = []
    glimpses: list[Glimpse] = []
    for path in wishes.photos:
        photo = open_photo(path, allow_crop=wishes.accept_crop)
        if len(wishes.photos) > 1:
            glimpses.append(glimpse_of(photo))
        findings += _light(photo)
        # the first is drawn on at the end; of the others one at a time is held in memory
        opened.append(photo.hollow() if opened else photo)
    return tuple(opened), tuple(findings), tuple(glimpses)


def _light(photo: Photo) -> tuple[Finding, ...]:
    gray = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    check_exposure(photo.path, gray)
    return tuple(replace(f, where=photo.name) for f in exposure_findings(gray))


def lens_of(photo: Photo, explicit: Path | None) -> tuple[LensPrior, Path | None, tuple[str, ...]]:
    """What to believe of the lens, the record behind it, and remarks on records passed over."""
    width, height = photo.width, photo.height
    if photo.cropped and explicit is None:
        prior = lens_prior_from_exif(width, height)
        sigma = prior.sigma.copy()
        sigma[LENS_TERMS.index("cx")] = _CROPPED_CENTRE_U * width
        sigma[LENS_TERMS.index("cy")] = _CROPPED_CENTRE_U * height
        return replace(prior, sigma=sigma), None, ()
    choice = find_lens(
        photo.path, photo.make, photo.model, photo.focal35_mm, width, height, explicit
    )
    if choice.record is not None:
        return choice.record.prior(width, height), choice.path, choice.remarks
    prior = lens_prior_from_exif(width, height, photo.focal35_mm, photo.focal_mm)
    return prior, None, choice.remarks


def _crop_finding(photo: Photo) -> Finding:
    return Finding(
        110,
        Level.CAUTION,
        "The photo is cropped or zoomed: the lens had to be found without knowing its middle."
        " Measure the untouched original to be surer.",
        photo.name,
    )


def _worst_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    order = (Level.DOUBT, Level.CAUTION, Level.NOTE)
    return tuple(
        sorted(
            findings,
            key=lambda f: (
                order.index(f.level),
                f.code != DISAGREEMENT,
                f.code not in NOT_TO_BE_RELIED_ON,
                f.code,
                f.where,
            ),
        )
    )
