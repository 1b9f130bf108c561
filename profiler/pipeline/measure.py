"""Photos in, measured instrument out: the one call behind `profiler measure`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError, RequestError
from profiler.findings import Finding, Level
from profiler.instrument.assemble import PlanOutline, assemble
from profiler.instrument.record import Measurement
from profiler.jobs.photo import Photo
from profiler.outline.heights import (
    ON_THE_MAT_MM,
    CardPlace,
    EdgeHeight,
    PartEdges,
    cards_by_part,
    edge_heights,
    place_cards,
)
from profiler.outline.lift import join_runs, lift_points, with_lean
from profiler.outline.parts import Parts, split
from profiler.outline.rims import LOWER, choose_rims, upper_rim_if_lower
from profiler.outline.spread import displacement_fields
from profiler.pipeline.scene import (
    AnotherMat,
    look,
    recognise_mat,
    solve_photos,
)
from profiler.scene.record import LensPrior, PrintScale, Scene
from profiler.silhouette.edge import Edge, step_at, trace_edge
from profiler.silhouette.ground import lay_flat, light_of, uncovered_targets
from profiler.silhouette.mask import Silhouette, find_silhouette
from profiler.target.mat import MatDesign

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]

#: standard uncertainty of a typed height whose own was not given, mm: a rule or caliper used once
TYPED_U = 0.5
#: things smaller than this beside the instrument are left out without a word, mm²
_CRUMB_MM2 = 150.0
#: a second thing of this area is an object of its own, mm²
_SECOND_OBJECT_MM2 = 1500.0
_LEAST_INSTRUMENT_MM2 = 4000.0
#: mean difference of blue and red, of 255, below which a photo has no colour
_LEAST_COLOUR = 1.5
#: a typed height this far from what a card shows is refused, mm
_GROSS_MM = 30.0


@dataclass(frozen=True)
class MeasureRequest:
    """Everything that one measurement starts from.

    Attributes:
        photos: at least one; the outline is taken from the first.
        lens: belief about the lens.
        mat: the printed mat, None to recognise a default one by its targets.
        mat_scale: from the bar readings; None where nobody read them.
        card_scale: the same for the cards; None for the mat's printer.
        typed_heights: part to (mm, 95 % uncertainty in mm or None).
        ignore_heights: leave the outline in the mat plane, to show what heights are worth.
        ignore_lens: a lens without distortion, to show what that is worth.
    """

    photos: tuple[Photo, ...]
    lens: LensPrior
    mat: MatDesign | None = None
    mat_scale: PrintScale | None = None
    card_scale: PrintScale | None = None
    typed_heights: Mapping[str, tuple[float, float | None]] = field(default_factory=dict)
    ignore_heights: bool = False
    ignore_lens: bool = False


@dataclass(frozen=True)
class MeasureResult:
    """Attributes:
    measurement: with its findings.
    scene: solved.
    edge_pixels: (N, 2) px in the first photo, where the outline was seen.
    """

    measurement: Measurement
    scene: Scene
    edge_pixels: Array


class NoInstrument(OutlineError):
    """Nothing lies on the mat."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: nothing lies on the mat that differs from it. Is the instrument there, and"
            " is its colour far from the mat's tint? A mat of another tint: 'profiler mat --tint'."
        )


class TwoObjects(OutlineError):
    """More than one thing lies on the mat."""

    def __init__(self, photo: str, area: float) -> None:
        self.photo, self.area = photo, area
        super().__init__(
            f"{photo}: besides the instrument something of {area / 100:.0f} cm² lies on the mat."
            " Take everything else away (cards belong on the instrument) and photograph again."
        )


class BeyondTheMat(OutlineError):
    """The instrument's edge leaves the mat or the photo."""

    def __init__(self, photo: str, leaves_photo: bool, place: Array) -> None:
        self.photo, self.leaves_photo = photo, leaves_photo
        where = f"near x {place[0]:.0f}, y {place[1]:.0f} mm on the mat"
        what = "reaches the border of the photo" if leaves_photo else "hangs over the mat's edge"
        cure = (
            "Step back or come higher, so that ground is seen all round it."
            if leaves_photo
            else "Move it to the middle, or print a larger mat."
        )
        super().__init__(f"{photo}: the instrument {what} {where}. {cure}")


class ImpossibleHeight(RequestError):
    """A typed height that cannot be."""

    def __init__(self, part: str, height: float, limit: float) -> None:
        self.part, self.height, self.limit = part, height, limit
        super().__init__(
            f"--height {part}={height:.1f}mm cannot be: heights lie between 0 and {limit:.0f} mm"
            " with this camera."
        )


class HeightContradicted(RequestError):
    """A typed height that a card on the same part rules out."""

    def __init__(self, part: str, typed: float, seen: float, card: str) -> None:
        self.part, self.typed, self.seen = part, typed, seen
        super().__init__(
            f"--height {part}={typed:.0f}mm cannot be: {card} lies on it at {seen:.0f} mm above the"
            " bench. Measure it again, or leave the height out and let the card tell it."
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
    request: MeasureRequest, progress: Progress = lambda _words, _share: None
) -> MeasureResult:
    """Measure the instrument in the photos.

    Args:
        request: see there.
        progress: told in words what is being done, and the share done so far.

    Raises:
        SceneError, OutlineError, RequestError: each names the photo and what to do.
    """
    findings: list[Finding] = []
    first = request.photos[0]
    small = first.pixels[::16, ::16].astype(np.int16)
    if float(np.abs(small[..., 0] - small[..., 2]).mean()) < _LEAST_COLOUR:
        raise NoColour(first.path.name)
    progress("finding the mat's targets", 0.05)
    views = [look(p.path.name, p.pixels) for p in request.photos]
    design = request.mat
    if design is None:
        design = recognise_mat(views[0])
        if design is None:
            raise AnotherMat(
                first.path.name, "no record was given, and it is no mat of default size"
            )
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
    progress("solving lens, camera and sheets", 0.25)
    prior = _without_distortion(request.lens) if request.ignore_lens else request.lens
    scene = solve_photos(views, design, prior, scale, request.card_scale)
    typed = _typed(request, scene)
    progress("finding the silhouette", 0.45)
    camera = scene.cameras[0]
    plan = lay_flat(first.pixels, camera, scene.sheets)
    lighting = light_of(plan, scene)
    if lighting is None:
        raise OutlineError(
            f"{first.path.name}: too little bare mat is seen round the targets to know its colour."
            " Show more of the mat round the instrument."
        )
    silhouette = find_silhouette(
        plan, lighting, _hidden_by_cards(scene), uncovered_targets(plan, scene)
    )
    _judge(silhouette, plan.cell, first.path.name, findings)
    assert silhouette is not None
    progress("measuring the edge", 0.6)
    edge = trace_edge(first.pixels, camera, plan, silhouette)
    progress("lifting it to its height", 0.8)
    measurement = _lift_and_measure(
        first.pixels, scene, edge, typed, request.ignore_heights, findings
    )
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
    return MeasureResult(replace(measurement, findings=tuple(ordered)), scene, edge.pixels)


def _hidden_by_cards(scene: Scene) -> list[Array]:
    """Where each card is seen on the mat plane, without its outermost millimetre."""
    camera = scene.cameras[0]
    hidden = []
    for card in scene.cards:
        w, h = card.panel.width, card.panel.height
        corners = card.to_mat(np.array([(1.0, 1.0), (w - 1, 1.0), (w - 1, h - 1), (1.0, h - 1)]))
        if corners[:, 2].mean() > ON_THE_MAT_MM:
            hidden.append(camera.at_height(camera.project(corners), 0.0))
    return hidden


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


def _judge(silhouette: Silhouette | None, cell: float, photo: str, findings: list[Finding]) -> None:
    if silhouette is None or silhouette.mask.sum() * cell**2 < _LEAST_INSTRUMENT_MM2:
        raise NoInstrument(photo)
    if silhouette.others and silhouette.others[0] > _SECOND_OBJECT_MM2:
        raise TwoObjects(photo, silhouette.others[0])
    if len(silhouette.touches_edge):
        raise BeyondTheMat(photo, silhouette.leaves_photo, silhouette.touches_edge.mean(axis=0))
    crumbs = [a for a in silhouette.others if a > _CRUMB_MM2]
    crumbs += [a for a in silhouette.at_rim if a > _SECOND_OBJECT_MM2]
    if crumbs:
        findings.append(
            Finding(
                401,
                Level.CAUTION,
                f"{len(crumbs)} small thing(s) beside the instrument were"
                " left out of the outline. Look at the overlay picture.",
            )
        )


def _lift_and_measure(
    pixels: NDArray[np.uint8],
    scene: Scene,
    edge: Edge,
    typed: Mapping[str, tuple[float, float]],
    ignore_heights: bool,
    findings: list[Finding],
) -> Measurement:
    camera = scene.cameras[0]
    parts = split(edge.on_mat)
    heights = _flat()
    rim = np.ones(len(edge.on_mat))
    # the split and the heights lean on each other: the picture is larger than the plan
    for _ in range(1 if ignore_heights else 3):
        if not ignore_heights:
            heights = edge_heights(parts, place_cards(scene, parts.frame), typed)
            places = upper_rim_if_lower(edge.on_mat, camera, parts, heights)
            seen = step_at(pixels, camera, edge, places)
            rim = choose_rims(edge.on_mat, camera, parts, heights, seen)
        parts = split(lift_points(edge.pixels, camera, rim, parts, heights))
    lying = place_cards(scene, parts.frame)
    if not ignore_heights:
        heights = edge_heights(parts, lying, typed)
    upper_edge = lift_points(edge.pixels, camera, rim, parts, heights)
    joined = join_runs(with_lean(upper_edge, parts, heights), rim, parts.labels)

    def lift(other: Scene, given: Mapping[str, PartEdges] | None) -> Array:
        use = given
        if use is None:
            use = (
                heights
                if ignore_heights
                else edge_heights(parts, place_cards(other, parts.frame, lying), typed)
            )
        moved = lift_points(edge.pixels, other.cameras[0], rim, parts, use)
        return with_lean(moved, parts, use)[joined.source]

    fields = displacement_fields(scene, lift, heights)
    labels = parts.labels[joined.source]
    outline = PlanOutline(
        points=joined.points,
        labels=labels,
        known=_known(labels, rim[joined.source] == LOWER, heights),
        bridged=joined.bridged | ~edge.measured[joined.source],
        sigma=edge.sigma[joined.source] + np.where(joined.bridged, 0.25, 0.0),
        fields=fields,
    )
    findings += _height_findings(lying, parts, heights, ignore_heights)
    if typed and not ignore_heights:
        findings += _contradictions(heights, edge_heights(parts, lying, {}), parts)
    thickest = typed.get("top") or typed.get("bridge")
    return assemble(outline, parts, heights, thickest)


def _flat() -> dict[str, PartEdges]:
    level = EdgeHeight(0.0, 0.0, 0.0, 0.0, 0.0, "ignored", False)
    edges = PartEdges(level, level)
    return {part: edges for part in ("body", "neck", "headstock", "tuners", "button")}


def _known(
    labels: NDArray[np.str_], lower: NDArray[np.bool_], heights: Mapping[str, PartEdges]
) -> NDArray[np.bool_]:
    known = np.ones(len(labels), dtype=bool)
    for part, edges in heights.items():
        mine = labels == part
        known[mine] = edges.upper.known
        if part == "body":
            known[mine & lower] = edges.lower.known
    return known


def _height_findings(
    lying: Sequence[CardPlace], parts: Parts, heights: Mapping[str, PartEdges], ignored: bool
) -> list[Finding]:
    if ignored:
        return [Finding(501, Level.DOUBT, "Heights were ignored: the outline is too large.")]
    found = []
    for part in ("body", "neck", "headstock"):
        if heights[part].upper.known or not (parts.labels == part).any():
            continue
        level = Level.DOUBT if part == "body" else Level.CAUTION
        found.append(
            Finding(
                510,
                level,
                f"No height is known for the {part}: it is"
                f" {heights[part].upper.source}. Lay a height card on it, or give"
                f" --height {part}=…",
                part,
            )
        )
    for part, word in (("tuners", "middle of the tuner buttons"), ("button", "strap button")):
        if (parts.labels == part).any() and not heights[part].upper.known:
            found.append(
                Finding(
                    511,
                    Level.CAUTION,
                    f"The height of the {word} above the bench is assumed:"
                    f" {heights[part].upper.source}. Give --height {part}=… to be sure.",
                    part,
                )
            )
    used = {c.name for cards in cards_by_part(lying, parts).values() for c in cards}
    for card in lying:
        if card.name in used:
            continue
        why = (
            f"does not lie on the instrument ({card.z:.0f} mm above the mat)"
            if card.trusted
            else "is seen too small, too blurred or too steep to tell a height"
        )
        found.append(Finding(512, Level.CAUTION, f"{card.name} {why} and was not used.", card.name))
    return found


def _contradictions(
    typed: Mapping[str, PartEdges], from_cards: Mapping[str, PartEdges], parts: Parts
) -> list[Finding]:
    """Where a typed height and a card on the same part tell different stories."""
    found = []
    for part in ("body", "neck", "headstock"):
        mine, seen = typed[part].upper, from_cards[part].upper
        if mine.source != "typed" or not seen.known or not (parts.labels == part).any():
            continue
        x = np.array([mine.x0])
        difference = float(mine.at(x)[0] - seen.at(x)[0])
        allowed = 4.0 + 2 * float(np.hypot(mine.u_at(x)[0], seen.u_at(x)[0]))
        if abs(difference) > max(_GROSS_MM, 2 * allowed):
            raise HeightContradicted(part, mine.z0, mine.z0 - difference, seen.source)
        if abs(difference) > allowed:
            found.append(
                Finding(
                    520,
                    Level.DOUBT,
                    f"The typed height of the {part} ({mine.z0:.0f} mm) and what {seen.source}"
                    f" shows ({mine.z0 - difference:.0f} mm) disagree. The typed one was used:"
                    " measure it again, from the bench to the edge.",
                    part,
                )
            )
    return found


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
