"""Photos in, measured instrument out: the one call behind `profiler measure`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError, Places, RequestError
from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement
from profiler.jobs.photo import Photo
from profiler.pipeline.advice import advice
from profiler.pipeline.memory import Memory
from profiler.pipeline.odd_sheets import sheet_findings
from profiler.pipeline.scene import (
    IGNORED_LENS,
    NoRecord,
    look,
    recognise_mat,
    solve_photos,
)
from profiler.pipeline.trust import (
    BEYOND,
    BROKEN,
    FAINT,
    RESIDUALS,
    SIDES_DIFFER,
    STEPPED,
    untrusted,
)
from profiler.pipeline.unseen import (
    button_is_seen,
    hidden_button,
    side_plates,
    unseen,
    with_hidden_button,
)
from profiler.scene.record import LensPrior, PrintScale, Scene
from profiler.silhouette.strokes import Stroke
from profiler.target.card import THICKNESS_MM
from profiler.target.mat import MatDesign

if TYPE_CHECKING:
    from profiler.instrument.added_button import AddedButton
    from profiler.outline.heights import EdgeHeight, Given
    from profiler.pipeline.side import SidePhoto, SideResult
    from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]

#: photos contradict each other: goes before all else
DISAGREEMENT = 411
#: what makes a result that was written one not to be relied on
NOT_TO_BE_RELIED_ON = (DISAGREEMENT, RESIDUALS, BEYOND, BROKEN, FAINT, STEPPED, SIDES_DIFFER)
#: standard uncertainty of a typed height whose own was not given, mm: a rule or caliper used once
TYPED_U = 0.5
#: mean difference of blue and red, of 255, below which a photo has no colour
_LEAST_COLOUR = 1.5
#: points set aside are marked by squares of this half side, part of the diagonal; so many of them
_MARK_OF_DIAGONAL, _MOST_MARKS = 0.004, 60


@dataclass(frozen=True)
class MeasureRequest:
    """Everything that one measurement starts from.

    Attributes:
        photos: at least one; the outline is taken from all of them.
        lens: belief about the lens.
        mat: the printed mat, None to recognise a default one by its targets.
        mat_scale: from the bar readings; None where nobody read them.
        card_scale: the same for the cards; None for the mat's printer.
        card_thickness: mm, from what a card lies on up to its printed face.
        typed_heights: part to (mm, 95 % uncertainty in mm or None). A button at 0 says that there
            is none.
        ignore_heights: leave the outline in the mat plane, to show what heights are worth.
        ignore_lens: a lens without distortion, to show what that is worth.
        strokes: corrections of the edge by hand, px of the first photo.
        sides: photos from the side; one of them shows both ends of the instrument.
        seen_heights: edges that were measured elsewhere: they go before cards, after what is typed.
        bare_tail: the photo from the side that shows that there is no strap button, '' for none.
        button: a strap button that was seen from the side.
    """

    photos: tuple[Photo, ...]
    lens: LensPrior
    mat: MatDesign | None = None
    mat_scale: PrintScale | None = None
    card_scale: PrintScale | None = None
    card_thickness: float = THICKNESS_MM
    typed_heights: Mapping[str, tuple[float, float | None]] = field(default_factory=dict)
    ignore_heights: bool = False
    ignore_lens: bool = False
    strokes: tuple[Stroke, ...] = ()
    sides: tuple[SidePhoto, ...] = ()
    seen_heights: Mapping[str, EdgeHeight] = field(default_factory=dict)
    bare_tail: str = ""
    button: AddedButton | None = None

    @property
    def no_button(self) -> bool:
        """Whether a person said that there is no strap button, by its height 0."""
        return "button" in self.typed_heights and self.typed_heights["button"][0] == 0.0


@dataclass(frozen=True)
class MeasureResult:
    """Attributes:
    measurement: with its findings.
    scene: solved.
    edge: where the outline was seen in the first photo.
    photos: that were used, in the order of the scene's cameras.
    disagreeing: names of those that contradict the others and were left out.
    sides: what each side view gave.
    """

    measurement: Measurement
    scene: Scene
    edge: Edge
    photos: tuple[Photo, ...]
    disagreeing: tuple[str, ...] = ()
    sides: tuple[SideResult, ...] = ()

    @property
    def standing_against(self) -> tuple[Finding, ...]:
        """Findings for which the result must not be relied on."""
        return tuple(f for f in self.measurement.findings if f.code in NOT_TO_BE_RELIED_ON)

    @property
    def edge_pixels(self) -> Array:
        """(N, 2) px in the first photo."""
        return self.edge.pixels


class ImpossibleHeight(RequestError):
    """A typed height that cannot be."""

    def __init__(self, part: str, height: float, limit: float) -> None:
        self.part, self.height, self.limit = part, height, limit
        super().__init__(
            f"--height {part}={height:.1f}mm cannot be: heights lie between 0 and {limit:.0f} mm"
            " with this camera."
        )


class NoColour(OutlineError):
    """A photo in black and white."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: the photo has no colour, and the mat's tint is what tells ground from"
            " instrument. Send the original colour photo."
        )


def measure_photos(
    request: MeasureRequest,
    progress: Progress = lambda _words, _share: None,
    memory: Memory | None = None,
) -> MeasureResult:
    """Measure the instrument in the photos.

    Photos that contradict the others are left out, and everything is solved anew without them;
    the first finding says so.

    Args:
        request: see there.
        progress: told in words what is being done, and the share done so far.
        memory: of what was found in these photos before.

    Raises:
        SceneError, OutlineError, RequestError: each names the photo and what to do.
    """
    memory = memory or Memory()
    if not request.sides:
        return _from_above(request, progress, memory)
    return _with_sides(request, progress, memory)


def _with_sides(request: MeasureRequest, progress: Progress, memory: Memory) -> MeasureResult:
    """From above, then from the side; the outline once more where that tells its heights better."""
    from profiler.pipeline.side import measure_sides, side_findings, with_sides

    above = _from_above(request, lambda words, share: progress(words, 0.55 * share), memory)
    progress("measuring the side view", 0.55)
    seen = measure_sides(request.sides, above.scene, request.lens, above.measurement)
    again = None
    if not request.ignore_heights:
        again = _as_the_side_tells(request, seen, above.measurement)
    if again is not None:
        above = _from_above(again, lambda words, share: progress(words, 0.6 + 0.35 * share), memory)
        seen = measure_sides(request.sides, above.scene, request.lens, above.measurement)
    measured = with_sides(above.measurement, seen)
    findings = (*measured.findings, *side_findings(measured, seen))
    return replace(above, measurement=replace(measured, findings=findings), sides=seen)


def _as_the_side_tells(
    request: MeasureRequest, seen: Sequence[SideResult], measurement: Measurement
) -> MeasureRequest | None:
    """With what side views tell and photos from above do not, or less surely; None for nothing."""
    better = {
        part: edge
        for part, edge in _surest(seen, measurement).items()
        if part not in request.typed_heights
    }
    # one that is seen from above is told as well: what little of it shows may pass for the body's
    # own, once it is lifted
    shown = [one.button for one in seen if one.button is not None and not request.no_button]
    button = min(shown, key=lambda one: one.u, default=None)
    from_above = "button" in measurement.outline_part
    if button is not None and not from_above:
        better["button"] = button.height
    bare = ""
    # who typed its height has seen one
    if button is None and not from_above and "button" not in request.typed_heights:
        bare = next((one.photo.name for one in seen if one.bare_tail), "")
    if not better and not bare:
        return None
    return replace(request, seen_heights=better, bare_tail=bare, button=button)


def _surest(seen: Sequence[SideResult], measurement: Measurement) -> dict[str, EdgeHeight]:
    """Edges seen from the side that are surer than what their part was lifted to; of several
    photos' the surest. It counts where the part's height does: what was seen at one end says less
    about the other."""
    better: dict[str, EdgeHeight] = {}
    for known in measurement.heights:
        at, best = known.height.x, known.height.u95
        room = np.inf if best is None else 0.4 * best
        for one in seen:
            edge = one.edges.get(known.part)
            if edge is None:
                continue
            u = edge.u if at is None else float(edge.u_at(np.array([at]))[0])
            if u < room:
                better[known.part], room = edge, u
    return better


def _from_above(request: MeasureRequest, progress: Progress, memory: Memory) -> MeasureResult:
    if len(request.photos) == 1:
        return _measured(request, progress, memory)
    from profiler.pipeline.several import PhotosDisagree

    try:
        return _measured(request, progress, memory)
    except PhotosDisagree as apart:
        kept = tuple(request.photos[k] for k in apart.kept)
        left = [(request.photos[k], distance) for k, distance in apart.left_out]
    # what was pushed took its cards with it, so the scene is solved without it as well
    alone = replace(request, photos=tuple(photo.filled() for photo in kept))
    result = _measured(alone, progress, memory)
    finding = _disagreement([p.name for p in kept], left, len(request.photos))
    measurement = replace(result.measurement, findings=(finding, *result.measurement.findings))
    return replace(
        result,
        measurement=measurement,
        photos=kept,
        disagreeing=tuple(photo.name for photo, _ in left),
    )


def _disagreement(kept: Sequence[str], left: Sequence[tuple[Photo, float]], count: int) -> Finding:
    """What a person is told where photos contradict each other."""
    by = max(distance for _, distance in left)
    names = " and ".join(photo.name for photo, _ in left)
    moved = "Was the instrument, the mat or a sheet moved in between, or is it another instrument?"
    if count == 2:
        text = (
            f"{kept[0]} and {names} do not agree: their outlines are {by:.1f} mm apart, more than"
            f" both are uncertain by. {moved} Nothing tells which of them is right: {kept[0]} alone"
            " was used. Take both again, or a third."
        )
    else:
        text = (
            f"{names} {'does' if len(left) == 1 else 'do'} not agree with the other photos: the"
            f" outline is {by:.1f} mm away from theirs, more than they are uncertain by. {moved}"
            f" Used without {'it' if len(left) == 1 else 'them'}: {', '.join(kept)}."
        )
    return Finding(411, Level.DOUBT, text, left[0][0].name)


def _measured(request: MeasureRequest, progress: Progress, memory: Memory) -> MeasureResult:
    findings: list[Finding] = []
    first = request.photos[0]
    causes = causes_of(request)
    scene, design = solved(request, memory, progress)
    if request.mat is None:
        findings.append(
            Finding(
                201,
                Level.NOTE,
                f"No mat record: taken for the default mat on"
                f" {design.paper.name}, recognised by its targets.",
            )
        )
    scale = request.mat_scale or PrintScale()
    if not scale.read:
        findings.append(
            Finding(
                202,
                Level.DOUBT,
                "The mat's check bars were not read: the print may be out by"
                " a percent, and so may every length. Lay a steel rule on both bars and give"
                " --bar-x and --bar-y.",
            )
        )
    typed = _typed(request, scene)
    # rooms that take long to load and are not needed before: see pipeline/ahead.py
    from profiler.pipeline.shape import measure_shape

    def told(words: str, share: float) -> None:
        progress(words, 0.45 + 0.55 * share)

    # a hand corrects what is seen in the first photo: mixed with the others it would be half of it
    if len(request.photos) == 1 or request.strokes:
        shape = measure_shape(
            first.pixels,
            first.path.name,
            scene,
            typed,
            request.ignore_heights,
            request.card_thickness,
            told,
            request.strokes,
            memory,
            causes,
            request.button,
        )
        if len(request.photos) > 1:
            findings.append(_first_alone(first))
    else:
        from profiler.pipeline.several import measure_shape_together

        shape = measure_shape_together(
            request.photos,
            scene,
            typed,
            request.ignore_heights,
            request.card_thickness,
            told,
            request.button,
        )
    findings += shape.findings
    findings += [*_scene_findings(scene), *sheet_findings(scene)]
    measured = shape.measurement
    short = None
    if not request.no_button and not request.ignore_heights and not button_is_seen(measured):
        short = hidden_button(measured, scene.cameras)
        if request.bare_tail:
            short = 0.0
        measured = with_hidden_button(measured, short)
    # loads SciPy, while the photo is already being looked at
    from profiler.pipeline.suspect import suspected

    measured, against = suspected(measured)
    findings += against
    names = [p.path.name for p in request.photos]
    findings += untrusted(scene, names, measured.frame.to_mat(measured.outline))
    findings.append(unseen(short, len(scene.cameras), request.bare_tail))
    plates = side_plates(measured)
    if plates is not None and all(f.code != plates.code for f in findings):
        findings.append(plates)
    hint = advice(measured)
    if hint is not None and not request.ignore_heights:
        findings.append(hint)
    ordered = sorted(
        findings, key=lambda f: (-[Level.NOTE, Level.CAUTION, Level.DOUBT].index(f.level), f.code)
    )
    return MeasureResult(
        replace(measured, findings=tuple(ordered)), scene, shape.edge, request.photos
    )


def has_colour(pixels: NDArray[np.uint8]) -> bool:
    """Whether a photo (H, W, 3) is more than black and white."""
    small = pixels[::16, ::16].astype(np.int16)
    return float(np.abs(small[..., 0] - small[..., 2]).mean()) >= _LEAST_COLOUR


def _first_alone(photo: Photo) -> Finding:
    return Finding(
        421,
        Level.NOTE,
        f"The outline was corrected by hand in {photo.name}, so it was taken from that photo alone;"
        " the others helped to place lens, sheets and cards.",
        photo.name,
    )


def causes_of(request: MeasureRequest) -> object:
    """What the scene follows from, for the memory."""
    photos = [(p.sha256, p.name, p.pixels.shape) for p in request.photos]
    return (
        photos,
        request.lens,
        request.mat,
        request.mat_scale,
        request.card_scale,
        request.ignore_lens,
    )


def solved(
    request: MeasureRequest, memory: Memory, progress: Progress = lambda _words, _share: None
) -> tuple[Scene, MatDesign]:
    """The scene of all photos, and the mat that it stands on; the first half of measuring.

    Raises:
        SceneError, OutlineError: as `measure_photos`.
    """
    return memory.recall("scene", causes_of(request), lambda: _solved(request, progress))


def _solved(request: MeasureRequest, progress: Progress) -> tuple[Scene, MatDesign]:
    first = request.photos[0]
    if not has_colour(first.pixels):
        raise NoColour(first.path.name)
    progress("finding the mat's targets", 0.05)
    views = [look(p.path.name, p.filled().pixels) for p in request.photos]
    design = request.mat or recognise_mat(views[0])
    if design is None:
        raise NoRecord(views[0].name)
    progress("solving lens, camera and sheets", 0.25)
    prior = _without_distortion(request.lens) if request.ignore_lens else request.lens
    scale = request.mat_scale or PrintScale()
    return solve_photos(views, design, prior, scale, request.card_scale), design


def _without_distortion(prior: LensPrior) -> LensPrior:
    plain = replace(prior.lens, k1=0.0, k2=0.0, p1=0.0, p2=0.0, k3=0.0)
    return LensPrior(plain, np.zeros_like(prior.sigma), IGNORED_LENS)


def _typed(request: MeasureRequest, scene: Scene) -> Given:
    limit = 0.4 * float(scene.cameras[0].centre[2])
    typed: dict[str, tuple[float, float] | EdgeHeight] = dict(request.seen_heights)
    for part, (height, u95) in request.typed_heights.items():
        if not 0.0 <= height <= limit:
            raise ImpossibleHeight(part, height, limit)
        if part == "button" and request.no_button:
            continue
        typed[part] = (height, TYPED_U if u95 is None else u95 / 2)
    return typed


def _outliers_at(scene: Scene) -> Places:
    """Squares round the points of the first photo that were set aside."""
    seen = scene.observations[0]
    side = _MARK_OF_DIAGONAL * float(
        np.hypot(scene.cameras[0].lens.width, scene.cameras[0].lens.height)
    )
    around = side * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    out = seen.pixels[~scene.used[: len(seen)]][:_MOST_MARKS]
    return tuple(tuple((float(x), float(y)) for x, y in at + around) for at in out)


def _scene_findings(scene: Scene) -> list[Finding]:
    found = []
    if scene.lens_source != "record":
        found.append(
            Finding(
                301,
                Level.NOTE,
                "No lens record for this phone: the lens was solved from the"
                " photo itself, which is less certain. 'profiler calibrate' makes a record.",
            )
        )
    # sheets that are told by number are not told again
    told = [k for k, s in enumerate(scene.sheets) if s.panel.name in {o.name for o in scene.odd}]
    panels = np.concatenate([o.panel for o in scene.observations])
    out = int((~scene.used & ~np.isin(panels, told)).sum())
    if out > 0.1 * len(scene.used):
        found.append(
            Finding(
                302,
                Level.CAUTION,
                f"{out} of {len(scene.used)} measuring points were set aside"
                " as outliers: a sheet may be creased or a target dirty.",
                places=_outliers_at(scene),
            )
        )
    return found
