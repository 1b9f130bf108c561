"""Photos in, measured instrument out: the one call behind `profiler measure`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError, RequestError
from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement
from profiler.jobs.photo import Photo
from profiler.pipeline.memory import Memory
from profiler.pipeline.scene import (
    AnotherMat,
    look,
    recognise_mat,
    solve_photos,
)
from profiler.scene.record import LensPrior, PrintScale, Scene
from profiler.silhouette.strokes import Stroke
from profiler.target.card import THICKNESS_MM
from profiler.target.mat import MatDesign

if TYPE_CHECKING:
    from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]

#: standard uncertainty of a typed height whose own was not given, mm: a rule or caliper used once
TYPED_U = 0.5
#: mean difference of blue and red, of 255, below which a photo has no colour
_LEAST_COLOUR = 1.5


@dataclass(frozen=True)
class MeasureRequest:
    """Everything that one measurement starts from.

    Attributes:
        photos: at least one; the outline is taken from the first.
        lens: belief about the lens.
        mat: the printed mat, None to recognise a default one by its targets.
        mat_scale: from the bar readings; None where nobody read them.
        card_scale: the same for the cards; None for the mat's printer.
        card_thickness: mm, from what a card lies on up to its printed face.
        typed_heights: part to (mm, 95 % uncertainty in mm or None).
        ignore_heights: leave the outline in the mat plane, to show what heights are worth.
        ignore_lens: a lens without distortion, to show what that is worth.
        strokes: corrections of the edge by hand, px of the first photo.
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


@dataclass(frozen=True)
class MeasureResult:
    """Attributes:
    measurement: with its findings.
    scene: solved.
    edge: where the outline was seen in the first photo.
    """

    measurement: Measurement
    scene: Scene
    edge: Edge

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

    Args:
        request: see there.
        progress: told in words what is being done, and the share done so far.
        memory: of what was found in these photos before.

    Raises:
        SceneError, OutlineError, RequestError: each names the photo and what to do.
    """
    findings: list[Finding] = []
    memory = memory or Memory()
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
    # a room that takes long to load and is not needed before: see pipeline/ahead.py
    from profiler.pipeline.shape import measure_shape

    shape = measure_shape(
        first.pixels,
        first.path.name,
        scene,
        typed,
        request.ignore_heights,
        request.card_thickness,
        lambda words, share: progress(words, 0.45 + 0.55 * share),
        request.strokes,
        memory,
        causes,
    )
    findings += shape.findings
    findings += _scene_findings(scene)
    findings.append(
        Finding(
            402,
            Level.NOTE,
            "One photo from above does not see what is hidden below the rim: a back that bulges"
            " out further, or a short strap button at the far end.",
        )
    )
    ordered = sorted(
        findings, key=lambda f: (-[Level.NOTE, Level.CAUTION, Level.DOUBT].index(f.level), f.code)
    )
    return MeasureResult(replace(shape.measurement, findings=tuple(ordered)), scene, shape.edge)


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
    small = first.pixels[::16, ::16].astype(np.int16)
    if float(np.abs(small[..., 0] - small[..., 2]).mean()) < _LEAST_COLOUR:
        raise NoColour(first.path.name)
    progress("finding the mat's targets", 0.05)
    views = [look(p.path.name, p.pixels) for p in request.photos]
    design = request.mat or recognise_mat(views[0])
    if design is None:
        raise AnotherMat(views[0].name, "no record was given, and it is no mat of default size")
    progress("solving lens, camera and sheets", 0.25)
    prior = _without_distortion(request.lens) if request.ignore_lens else request.lens
    scale = request.mat_scale or PrintScale()
    return solve_photos(views, design, prior, scale, request.card_scale), design


def _without_distortion(prior: LensPrior) -> LensPrior:
    plain = replace(prior.lens, k1=0.0, k2=0.0, p1=0.0, p2=0.0, k3=0.0)
    return LensPrior(plain, np.zeros_like(prior.sigma), "ignored")


def _typed(request: MeasureRequest, scene: Scene) -> dict[str, tuple[float, float]]:
    limit = 0.4 * float(scene.cameras[0].centre[2])
    typed = {}
    for part, (height, u95) in request.typed_heights.items():
        if not 0.0 <= height <= limit:
            raise ImpossibleHeight(part, height, limit)
        typed[part] = (height, TYPED_U if u95 is None else u95 / 2)
    return typed


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
    out = int((~scene.used).sum())
    if out > 0.1 * len(scene.used):
        found.append(
            Finding(
                302,
                Level.CAUTION,
                f"{out} of {len(scene.used)} measuring points were set aside"
                " as outliers: a sheet may be creased or a target dirty.",
            )
        )
    return found
