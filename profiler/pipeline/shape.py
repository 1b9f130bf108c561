"""From the solved photo to the measured instrument: silhouette, edge, heights, numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.geometry.curves import outward_normals
from profiler.instrument.added_button import AddedButton, with_button
from profiler.instrument.assemble import PlanOutline, assemble
from profiler.instrument.record import Measurement
from profiler.outline.heights import (
    TYPED,
    CardPlace,
    Given,
    PartEdges,
    cards_by_part,
    edge_heights,
    lens_share,
    place_cards,
    typed_height,
)
from profiler.outline.leaning import lean_doubt
from profiler.outline.lift import leans_out, with_lean
from profiler.outline.mistaken import mistaken_edge
from profiler.outline.parts import Parts, labels_kept, split
from profiler.outline.rims import LOWER
from profiler.outline.side_button import SIDE_BUTTON
from profiler.outline.sight import Sight
from profiler.outline.spread import (
    Field,
    displacement_fields,
    hidden_bulge,
    rounded_u,
    rounding_doubt,
)
from profiler.outline.together import lay_together
from profiler.pipeline.faint import (
    doubted,
    faint_and_strips,
    faint_finding,
    faint_parts,
    in_soft_shadow,
    with_faint_strips,
)
from profiler.pipeline.hidden_tuner import with_hidden_tuner
from profiler.pipeline.memory import Memory
from profiler.pipeline.rimming import flat_heights, rims_of
from profiler.pipeline.seeing import see_edge
from profiler.pipeline.slotted import beside_slots
from profiler.scene.record import Scene
from profiler.scene.single import of_photo
from profiler.silhouette.edge import Edge
from profiler.silhouette.hand import corrected
from profiler.silhouette.inked import print_divisor
from profiler.silhouette.strokes import CutOut, Stroke
from profiler.target.card import THICKNESS_MM

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]

#: a typed height this far from what a card shows is refused, mm
_GROSS_MM = 30.0
#: parts that no card lies on, and what of them a height is for
_SMALL_PARTS = {
    "tuners": "middle of the tuner buttons",
    "button": "strap button",
    SIDE_BUTTON: "strap button on the side",
}


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


class HeightContradicted(RequestError):
    """A typed height that a card on the same part rules out."""

    def __init__(self, part: str, typed: float, seen: float, card: str) -> None:
        self.part, self.typed, self.seen = part, typed, seen
        super().__init__(
            f"--height {part}={typed:.0f}mm cannot be: {card} lies on it at {seen:.0f} mm above the"
            " bench. Measure it again, or leave the height out and let the card tell it."
        )


class TopTooLow(RequestError):
    """The thickest place was typed lower than something else on the instrument."""

    def __init__(self, part: str, typed: float, higher: str) -> None:
        super().__init__(
            f"--height {part}={typed:.0f}mm cannot be: {higher}. Read it again from the bench up,"
            " not from the soundboard."
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
    button: AddedButton | None = None,
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
        button: a strap button that was seen from the side.

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
    measurement = measured_alone(
        sight, scene, typed, ignore_heights, card_thickness, findings, button
    )
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
    memory = memory or Memory()
    plan, lighting, traced = see_edge(pixels, photo, own, strokes, memory, causes, progress)
    findings += traced.findings
    progress("lifting it to its height", 0.6)
    lifting = (typed, ignore_heights, card_thickness)
    cut = [stroke for stroke in strokes if isinstance(stroke, CutOut)]
    seen = memory.recall(
        "rims",
        (causes, cut, *lifting),
        lambda: rims_of(pixels, scene, index, traced.edge, split, *lifting),
    )
    if strokes:
        findings.append(_by_hand(strokes))
        shown = seen.rimmed
        divisor = print_divisor(lighting, plan)
        edge = corrected(shown.edge, strokes, pixels, own.cameras[0], plan, divisor)
        drawn = np.zeros(len(edge.on_mat), dtype=bool) if edge.drawn is None else edge.drawn

        # told anew from the corrected edge
        before = np.where(shown.parts.labels == SIDE_BUTTON, "body", shown.parts.labels)

        def parts_of(points: Array) -> Parts:
            return labels_kept(split(points), drawn, edge.on_mat, shown.edge.on_mat, before)

        seen = rims_of(pixels, scene, index, edge, parts_of, *lifting)
    rims, hidden = seen.rimmed, None
    if not ignore_heights:
        heights = edge_heights(
            rims.parts, place_cards(own, rims.parts.frame, card_thickness), typed, seen.button
        )
        rims, hidden = with_hidden_tuner(photo, rims, own.cameras[0], plan, heights)
    if hidden:
        findings.append(hidden)
    edge = rims.edge
    through, strip = faint_and_strips(plan, edge)
    if faint := faint_parts(through, rims.parts):
        findings.append(faint_finding(photo, faint))
        edge = doubted(edge, rims.parts, faint)
    edge = with_faint_strips(edge, rims.parts, strip)
    edge, soft = in_soft_shadow(photo, plan, lighting, edge, rims.parts)
    if soft:
        findings.append(soft)
    edge, slotted = beside_slots(edge, rims.parts, traced.holes)
    if slotted and slotted not in findings:
        findings.append(slotted)
    return Sight(
        photo,
        index,
        edge,
        rims.parts,
        rims.told,
        rims.sure,
        rims.rim,
        seen.silhouette,
        seen.button,
    )


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


def measured_alone(
    sight: Sight,
    scene: Scene,
    typed: Given,
    ignore_heights: bool,
    thickness: float,
    findings: list[Finding],
    button: AddedButton | None = None,
) -> Measurement:
    """The measurement from one photo's sight; what is noticed is added to the findings."""
    edge, parts, rim = sight.edge, sight.parts, sight.rim
    lying = place_cards(scene, parts.frame, thickness)
    heights = flat_heights() if ignore_heights else edge_heights(parts, lying, typed, sight.button)
    camera = scene.cameras[sight.index]
    directions = camera.lens.unproject(edge.pixels)
    upper_edge = sight.upper_edge(camera, heights, directions)
    outer = leans_out(upper_edge, parts, heights)
    leant = with_lean(upper_edge, parts, heights, outer)
    joined = lay_together(leant, rim, parts.labels)

    def lift(other: Scene, given: Mapping[str, PartEdges] | None) -> Array:
        use = given
        if use is None:
            use = (
                heights
                if ignore_heights
                else edge_heights(
                    parts,
                    place_cards(other, parts.frame, thickness, lying),
                    typed,
                    sight.button,
                )
            )
        moved_camera = other.cameras[sight.index]
        # most doubts leave the lens as it is
        through = directions if moved_camera.lens == camera.lens else None
        moved = sight.upper_edge(moved_camera, use, through)
        return with_lean(moved, parts, use, outer)[joined.source]

    fields = displacement_fields(scene, lift, heights)
    rounder = rounding_doubt(sight, camera, heights, upper_edge, directions)
    base = rounded_u([camera])
    fields.append(roundness(joined.points, rounder[joined.source], base))
    if not ignore_heights:
        leaning = lean_doubt(upper_edge, sight, heights, outer)
        fields.append(Field(leaning.source, leaning.shift[joined.source]))
    labels = parts.labels[joined.source]
    bulge, doubt = hidden_bulge(joined.points, replace(parts, labels=labels), heights)
    fields.append(doubt)
    # what a hand drew is said in other words
    sound = edge.measured if edge.drawn is None else edge.measured | edge.drawn
    outline = PlanOutline(
        points=joined.points + bulge,
        labels=labels,
        known=known_heights(labels, rim[joined.source] == LOWER, heights),
        bridged=joined.bridged | ~sound[joined.source],
        sigma=edge.sigma[joined.source] + np.where(joined.bridged, 0.25, 0.0),
        mistaken=(
            np.zeros(len(joined.source))
            if ignore_heights
            else mistaken_edge(sight, camera, heights)[joined.source]
        ),
        fields=fields,
        drawn=None if edge.drawn is None else edge.drawn[joined.source],
    )
    outline, told = with_seen_button(outline, button)
    findings += [*told, *height_findings(lying, parts, heights, ignore_heights)]
    if typed and not ignore_heights:
        findings += contradictions(heights, edge_heights(parts, lying, {}), parts)
    thickest = thickest_typed(typed, parts, [] if ignore_heights else lying)
    return assemble(outline, parts, heights, thickest, lens_share(lying))


def with_seen_button(
    plan: PlanOutline, button: AddedButton | None
) -> tuple[PlanOutline, list[Finding]]:
    """With a strap button that was seen from the side, where the photos from above show none, and
    what a person has to know of it."""
    more = plan if button is None else with_button(plan, button)
    if button is None or more is plan:
        return plan, []
    out = float(np.hypot(*(plan.points - button.tip).T).min())
    told = Finding(
        534,
        Level.CAUTION,
        f"No photo from above shows the strap button. {button.photo} shows it standing out by"
        f" {out:.0f} mm, but not where across the tail: it is drawn on the middle. Hold the"
        " template against it before you cut.",
        "button",
    )
    return more, [told]


def thickest_typed(
    typed: Given, parts: Parts, lying: Sequence[CardPlace]
) -> tuple[float, float] | None:
    """Height and standard uncertainty of the thickest place as typed, mm, or None.

    Raises:
        TopTooLow: something else was typed higher, or a card lies higher.
    """
    part = "top" if typed_height(typed, "top") else "bridge"
    if (thickest := typed_height(typed, part)) is None:
        return None
    z, u = thickest
    for other in typed:
        mine = typed_height(typed, other)
        if part == "top" and mine and mine[0] - z > 2 * float(np.hypot(u, mine[1])):
            raise TopTooLow(part, z, f"the {other} is typed as {mine[0]:.0f} mm")
    for place, cards in cards_by_part(lying, parts).items():
        for card in cards:
            # the bridge stands on the body; a headstock may rise above it
            matters = card.trusted and (part == "top" or place == "body")
            if matters and card.z - z > 4.0 + 2 * float(np.hypot(u, card.covariance[0, 0] ** 0.5)):
                raise TopTooLow(
                    part, z, f"{card.name} lies on the {place} at {card.z:.0f} mm above the bench"
                )
    return thickest


def roundness(points: Array, rounder: Array, base: float) -> Field:
    """What is not known of the edges' rounding.

    Args:
        points: (M, 2) mm, mat frame, closed, anticlockwise.
        rounder: (M, 2) mm: how a radius larger by its uncertainty would move them.
        base: mm, what is not known all round alike, from `rounded_u`.
    """
    away = np.hypot(base, np.hypot(*rounder.T))
    return Field("how round the edge is", away[:, None] * outward_normals(points, 5.0))


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
    lies_on = cards_by_part(lying, parts)
    for part in ("body", "neck", "headstock"):
        if heights[part].upper.known or not (parts.labels == part).any():
            continue
        level = Level.DOUBT if part == "body" and not lies_on[part] else Level.CAUTION
        lay = "Lay a height card nearer to its edge" if lies_on[part] else "Lay a height card on it"
        found.append(
            Finding(
                510,
                level,
                f"No height is known for the {part}: it is"
                f" {heights[part].upper.source}. {lay}, or give"
                f" --height {part}=…",
                part,
            )
        )
    for part, word in _SMALL_PARTS.items():
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
    used = {c.name for cards in lies_on.values() for c in cards}
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
        if mine.source != TYPED or not seen.known or not (parts.labels == part).any():
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
