"""From the solved photo to the measured instrument: silhouette, edge, heights, numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError, RequestError
from profiler.findings import Finding, Level
from profiler.geometry.curves import outward_normals
from profiler.instrument.assemble import PlanOutline, assemble
from profiler.instrument.record import Measurement
from profiler.outline.heights import (
    CardPlace,
    EdgeHeight,
    Given,
    PartEdges,
    cards_by_part,
    edge_heights,
    place_cards,
    typed_height,
)
from profiler.outline.lift import lift_points, with_lean
from profiler.outline.parts import Parts, labels_kept, split
from profiler.outline.rims import LOWER, choose_rims, surely_upper, upper_rim_if_lower
from profiler.outline.sight import Sight
from profiler.outline.spread import Field, displacement_fields
from profiler.outline.together import lay_together
from profiler.pipeline.laid import hidden_by_cards
from profiler.pipeline.memory import Memory
from profiler.scene.record import Scene
from profiler.scene.single import of_photo
from profiler.silhouette.closer import closer_look
from profiler.silhouette.edge import ROUNDED_MM, Edge, trace_edge
from profiler.silhouette.ground import Lighting, Plan, lay_flat, light_of, uncovered_targets
from profiler.silhouette.hand import corrected, cut_areas
from profiler.silhouette.inked import print_divisor
from profiler.silhouette.mask import Silhouette, find_silhouette
from profiler.silhouette.rim import lower_rim_told
from profiler.silhouette.strokes import CutOut, Stroke
from profiler.target.card import THICKNESS_MM

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]

#: things smaller than this beside the instrument are left out without a word, mm²
_CRUMB_MM2 = 150.0
#: a second thing of this area is an object of its own, mm²
_SECOND_OBJECT_MM2 = 1500.0
_LEAST_INSTRUMENT_MM2 = 4000.0
#: a typed height this far from what a card shows is refused, mm
_GROSS_MM = 30.0


@dataclass(frozen=True)
class Shape:
    """Attributes:
    measurement: without findings.
    edge: as it was seen in the photo, with the corrections made by hand.
    findings: in the order in which they were made.
    """

    measurement: Measurement
    edge: Edge
    findings: tuple[Finding, ...]


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

    def __init__(
        self, photo: str, leaves_photo: bool, place: Array, end: str = "the instrument"
    ) -> None:
        self.photo, self.leaves_photo, self.end = photo, leaves_photo, end
        where = f"near x {place[0]:.0f}, y {place[1]:.0f} mm on the mat"
        what = "reaches the border of the photo" if leaves_photo else "hangs over the mat's edge"
        cure = (
            "Step back or come higher, so that ground is seen all round it."
            if leaves_photo
            else "Move it to the middle, or print a larger mat."
        )
        super().__init__(f"{photo}: {end} {what} {where}. {cure}")


class HeightContradicted(RequestError):
    """A typed height that a card on the same part rules out."""

    def __init__(self, part: str, typed: float, seen: float, card: str) -> None:
        self.part, self.typed, self.seen = part, typed, seen
        super().__init__(
            f"--height {part}={typed:.0f}mm cannot be: {card} lies on it at {seen:.0f} mm above the"
            " bench. Measure it again, or leave the height out and let the card tell it."
        )


def measure_shape(
    pixels: NDArray[np.uint8],
    photo: str,
    scene: Scene,
    typed: Given,
    ignore_heights: bool = False,
    card_thickness: float = THICKNESS_MM,
    progress: Progress = lambda _words, _share: None,
    strokes: Sequence[Stroke] = (),
    memory: Memory | None = None,
    causes: object = None,
) -> Shape:
    """Measure what lies on the mat in the scene's first photo.

    Args:
        pixels: (H, W, 3) 8 bit BGR.
        photo: its name, for messages.
        scene: solved.
        typed: part to height and standard uncertainty, mm.
        ignore_heights: leave the outline in the mat plane.
        card_thickness: mm, of the height cards.
        progress: told in words what is being done, and the share done so far.
        strokes: corrections of the seen edge by hand.
        memory: of what was found in this photo before.
        causes: what the scene follows from, for the memory.

    Raises:
        OutlineError, RequestError: each names the photo and what to do.
    """
    findings: list[Finding] = []
    sight = see(
        pixels,
        photo,
        scene,
        0,
        typed,
        ignore_heights,
        card_thickness,
        findings,
        progress,
        strokes,
        memory,
        causes,
    )
    measurement = measured_alone(sight, scene, typed, ignore_heights, card_thickness, findings)
    return Shape(measurement, sight.edge, tuple(findings))


def see(
    pixels: NDArray[np.uint8],
    photo: str,
    scene: Scene,
    index: int,
    typed: Given,
    ignore_heights: bool,
    card_thickness: float,
    findings: list[Finding],
    progress: Progress = lambda _words, _share: None,
    strokes: Sequence[Stroke] = (),
    memory: Memory | None = None,
    causes: object = None,
) -> Sight:
    """What one photo shows: its silhouette's edge, parts and rims.

    Args:
        index: of the photo among the scene's cameras.
        findings: what is noticed is added to them.
        strokes, memory, causes: as for `measure_shape`.

    Raises:
        OutlineError: it names the photo and what to do.
    """
    own = of_photo(scene, index)
    camera = own.cameras[0]
    plan, lighting, traced = see_edge(
        pixels, photo, own, strokes, memory or Memory(), causes, progress
    )
    findings += traced.findings
    divisor = print_divisor(own.sheets, lighting, plan)
    edge = corrected(traced.edge, strokes, pixels, camera, plan, divisor)
    if strokes:
        findings.append(_by_hand(strokes))
    progress("lifting it to its height", 0.6)
    drawn = np.zeros(len(edge.on_mat), dtype=bool) if edge.drawn is None else edge.drawn

    def parts_of(points: Array) -> Parts:
        return labels_kept(split(points), drawn, edge.on_mat, traced.edge.on_mat)

    parts = parts_of(edge.on_mat)
    rim, told = np.ones(len(edge.on_mat)), np.full(len(edge.on_mat), 0.5)
    heights = flat_heights()
    sure = np.ones(len(edge.on_mat), dtype=bool)
    # the split and the heights lean on each other: the picture is larger than the plan
    for _ in range(1 if ignore_heights else 3):
        if not ignore_heights:
            heights = edge_heights(parts, place_cards(scene, parts.frame, card_thickness), typed)
            places = upper_rim_if_lower(edge.on_mat, camera, parts, heights)
            sure = surely_upper(edge.on_mat, camera, parts, heights)
            told = lower_rim_told(pixels, camera, edge, places, sure, parts.labels)
            rim = choose_rims(edge.on_mat, camera, parts, heights, told)
        parts = parts_of(lift_points(edge.pixels, camera, rim, parts, heights))
    return Sight(photo, index, edge, parts, told, sure, rim)


def see_edge(
    pixels: NDArray[np.uint8],
    photo: str,
    scene: Scene,
    strokes: Sequence[Stroke],
    memory: Memory,
    causes: object,
    progress: Progress = lambda _words, _share: None,
) -> tuple[Plan, Lighting, Traced]:
    """The first half of `see`: the ground, and the edge of what lies on it.

    Args:
        scene: of the photo alone, its camera being the first.

    Raises:
        OutlineError: as there.
    """
    progress("finding the silhouette", 0.0)
    cuts = cut_areas(strokes, scene.cameras[0])
    plan, lighting = memory.recall("ground", causes, lambda: _ground(pixels, photo, scene))
    traced = memory.recall(
        "edge",
        (causes, [s for s in strokes if isinstance(s, CutOut)]),
        lambda: _trace(pixels, photo, scene, plan, lighting, cuts, progress),
    )
    return plan, lighting, traced


@dataclass(frozen=True)
class Traced:
    """The edge as the program sees it, and what it had to say."""

    edge: Edge
    findings: tuple[Finding, ...]


def _ground(pixels: NDArray[np.uint8], photo: str, scene: Scene) -> tuple[Plan, Lighting]:
    plan = lay_flat(pixels, scene.cameras[0], scene.sheets)
    lighting = light_of(plan, scene)
    if lighting is None:
        raise OutlineError(
            f"{photo}: too little bare mat is seen round the targets to know its colour."
            " Show more of the mat round the instrument."
        )
    return plan, lighting


def _trace(
    pixels: NDArray[np.uint8],
    photo: str,
    scene: Scene,
    plan: Plan,
    lighting: Lighting,
    cuts: Sequence[Array],
    progress: Progress,
) -> Traced:
    findings: list[Finding] = []
    camera = scene.cameras[0]
    silhouette = find_silhouette(
        plan,
        lighting,
        hidden_by_cards(scene),
        uncovered_targets(plan, scene),
        cuts,
        closer_look(pixels, camera, scene.sheets, plan),
    )
    _judge(silhouette, plan.cell, plan.origin, photo, findings)
    assert silhouette is not None
    progress("measuring the edge", 0.3)
    edge = trace_edge(pixels, camera, plan, silhouette, print_divisor(scene.sheets, lighting, plan))
    return Traced(edge, tuple(findings))


def _by_hand(strokes: Sequence[Stroke]) -> Finding:
    drawn = sum(not isinstance(s, CutOut) for s in strokes)
    words = [f"{drawn} place(s) drawn"] if drawn else []
    if len(strokes) > drawn:
        words.append(f"{len(strokes) - drawn} piece(s) cut out")
    return Finding(
        420,
        Level.CAUTION,
        f"The outline was corrected by hand: {', '.join(words)}. There the ± is that of a hand or"
        " of a bridge; hold the instrument against the template before you cut.",
    )


def _judge(
    silhouette: Silhouette | None,
    cell: float,
    origin: Array,
    photo: str,
    findings: list[Finding],
) -> None:
    if silhouette is None or silhouette.mask.sum() * cell**2 < _LEAST_INSTRUMENT_MM2:
        raise NoInstrument(photo)
    if silhouette.others and silhouette.others[0] > _SECOND_OBJECT_MM2:
        raise TwoObjects(photo, silhouette.others[0])
    if len(silhouette.touches_edge):
        place = silhouette.touches_edge.mean(axis=0)
        end = _end_at(silhouette.mask, (place - origin) / cell)
        raise BeyondTheMat(photo, silhouette.leaves_photo, place, end)
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


def _end_at(mask: NDArray[np.bool_], place: Array) -> str:
    """Which end of what was seen lies at a place (column, row): the narrow one is the head."""
    cells = np.argwhere(mask)[:, ::-1].astype(np.float64)
    middle = cells.mean(axis=0)
    _, _, axes = np.linalg.svd((cells[:: max(1, len(cells) // 5000)] - middle), full_matrices=False)
    along = (cells - middle) @ axes[0]
    at = float((place - middle) @ axes[0])
    low, high = np.percentile(along, (1, 99))
    reach = 0.25 * (high - low)
    if low + reach < at < high - reach:
        return "a side of the instrument"
    counts = [int((along < low + reach).sum()), int((along > high - reach).sum())]
    if min(counts) > 0.6 * max(counts):  # no telling which is which
        return "one end of the instrument"
    narrow_is_low = counts[0] < counts[1]
    return "the headstock" if (at < 0) == narrow_is_low else "the tail end"


def measured_alone(
    sight: Sight,
    scene: Scene,
    typed: Given,
    ignore_heights: bool,
    thickness: float,
    findings: list[Finding],
) -> Measurement:
    """The measurement from one photo's sight; what is noticed is added to the findings."""
    edge, parts, rim = sight.edge, sight.parts, sight.rim
    lying = place_cards(scene, parts.frame, thickness)
    heights = flat_heights() if ignore_heights else edge_heights(parts, lying, typed)
    upper_edge = sight.upper_edge(scene.cameras[sight.index], heights)
    joined = lay_together(with_lean(upper_edge, parts, heights), rim, parts.labels)

    def lift(other: Scene, given: Mapping[str, PartEdges] | None) -> Array:
        use = given
        if use is None:
            use = (
                heights
                if ignore_heights
                else edge_heights(parts, place_cards(other, parts.frame, thickness, lying), typed)
            )
        moved = sight.upper_edge(other.cameras[sight.index], use)
        return with_lean(moved, parts, use)[joined.source]

    fields = displacement_fields(scene, lift, heights)
    outward = outward_normals(joined.points, 5.0)
    fields.append(Field("how round the edge is", ROUNDED_MM * outward))
    labels = parts.labels[joined.source]
    # what a hand drew is said in other words
    sound = edge.measured if edge.drawn is None else edge.measured | edge.drawn
    outline = PlanOutline(
        points=joined.points,
        labels=labels,
        known=known_heights(labels, rim[joined.source] == LOWER, heights),
        bridged=joined.bridged | ~sound[joined.source],
        sigma=edge.sigma[joined.source] + np.where(joined.bridged, 0.25, 0.0),
        fields=fields,
        drawn=None if edge.drawn is None else edge.drawn[joined.source],
    )
    findings += height_findings(lying, parts, heights, ignore_heights)
    if typed and not ignore_heights:
        findings += contradictions(heights, edge_heights(parts, lying, {}), parts)
    thickest = typed_height(typed, "top") or typed_height(typed, "bridge")
    return assemble(outline, parts, heights, thickest)


def flat_heights() -> dict[str, PartEdges]:
    level = EdgeHeight(0.0, 0.0, 0.0, 0.0, 0.0, "ignored", False)
    edges = PartEdges(level, level)
    return {part: edges for part in ("body", "neck", "headstock", "tuners", "button")}


def known_heights(
    labels: NDArray[np.str_], lower: NDArray[np.bool_], heights: Mapping[str, PartEdges]
) -> NDArray[np.bool_]:
    known = np.ones(len(labels), dtype=bool)
    for part, edges in heights.items():
        mine = labels == part
        known[mine] = edges.upper.known
        if part == "body":
            known[mine & lower] = edges.lower.known
    return known


def height_findings(
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


def contradictions(
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
