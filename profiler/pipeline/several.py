"""From several photos of one scene to one measured instrument."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.errors import OutlineError
from profiler.findings import Finding, Level
from profiler.geometry.curves import outward_normals
from profiler.instrument.assemble import PlanOutline, assemble
from profiler.instrument.record import Measurement
from profiler.jobs.photo import Photo
from profiler.optics.camera import Camera
from profiler.outline.agreement import agreement
from profiler.outline.bump import stands_out_at_tail
from profiler.outline.heights import (
    CardPlace,
    Given,
    PartEdges,
    edge_heights,
    place_cards,
    typed_height,
)
from profiler.outline.lift import EDGE_RADIUS_MM, EDGE_RADIUS_U_MM, Lifted, with_lean
from profiler.outline.local import local_shift
from profiler.outline.merge import Merged, OwnOutline, merge_outlines
from profiler.outline.mistaken import mistaken_edge
from profiler.outline.parts import Parts
from profiler.outline.rims import LOWER, edge_z
from profiler.outline.rise import Rises, extents_of, rises_for
from profiler.outline.sight import Sight, Silhouetted, fullest, split_alike, with_buttons
from profiler.outline.spread import Field, hidden_bulge, rounded_u, scene_steps
from profiler.outline.together import lay_together
from profiler.outline.triangulate import (
    REACH_MM,
    Responses,
    Triangulation,
    curves_of,
    find_matches,
    rises_in,
    triangulate,
)
from profiler.outline.witness import with_witness
from profiler.pipeline.shape import (
    Shape,
    contradictions,
    height_findings,
    known_heights,
    measured_alone,
    roundness,
    see,
)
from profiler.scene.perturb import moved_scene
from profiler.scene.record import Scene
from profiler.silhouette.edge import Edge
from profiler.target.card import THICKNESS_MM

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]
Heights = Mapping[str, PartEdges]

#: an edge is found a little differently in each photo, beyond what it says of itself, mm
_EDGE_MM = 0.12
#: standard uncertainty of what was carried across, mm
_BRIDGED_MM = 0.25
#: where most of a stretch is not measured its edge may be anywhere near, mm; points on either side
#: that are looked at, and the share of them that may be missed
_MISSED_MM, _AROUND_POINTS, _FEW_MISSED = 2.0, 3.0, 0.3
#: edges found as well as this, and as near as this to the merged outline, tell of local heights, mm
_WELL_MEASURED_MM, _NEAR_MM = 0.4, 3.0
#: a point this far inside another photo's silhouette cannot be seen on its edge, mm
_HIDDEN_MM = 1.0
#: and one this far outside cannot be there at all
_DENIED_MM = 0.5


class PhotosDisagree(OutlineError):
    """Two photos contradict each other beyond what both are uncertain by.

    Attributes:
        kept: indices of the photos that agree.
        left_out: index of each other photo, and by how many mm it is apart.
    """

    def __init__(self, kept: tuple[int, ...], left_out: tuple[tuple[int, float], ...]) -> None:
        self.kept, self.left_out = kept, left_out
        super().__init__(
            "The photos do not show one instrument that lay still. Take them again without"
            " touching instrument or mat in between."
        )


@dataclass(frozen=True)
class _Joint:
    """What the photos know together.

    Attributes:
        scene: solved.
        sights: in one rough frame.
        lying: the cards.
        typed: part to height and standard uncertainty, mm.
        thickness: mm, of the cards.
        reference: which sight's split stands for all.
    """

    scene: Scene
    sights: Sequence[Sight]
    lying: Sequence[CardPlace]
    typed: Given
    thickness: float
    reference: int

    def believed(self, scene: Scene) -> dict[str, PartEdges]:
        """Heights from cards, typed numbers and custom, in a scene that may be moved."""
        parts = self.sights[self.reference].parts
        lying = place_cards(scene, parts.frame, self.thickness, self.lying)
        button = next((s.button for s in self.sights if s.button is not None), None)
        return edge_heights(parts, lying, self.typed, button)


def measure_shape_together(
    photos: Sequence[Photo],
    scene: Scene,
    typed: Given,
    ignore_heights: bool = False,
    card_thickness: float = THICKNESS_MM,
    progress: Progress = lambda _words, _share: None,
) -> Shape:
    """Measure what lies on the mat in all photos of a scene.

    A photo in which no outline can be found is left out and named, as long as another is left.
    Pictures are read one at a time.

    Args:
        photos: in the order of the scene's cameras.
        scene: solved.
        typed: part to height and standard uncertainty, mm.
        ignore_heights: leave the outline of the first usable photo in the mat plane.
        card_thickness: mm, of the height cards.
        progress: told in words what is being done, and the share done so far.

    Raises:
        OutlineError, RequestError: no photo can be used; the first one's reason.
    """
    findings: list[Finding] = []
    sights: list[Sight] = []
    refused: list[OutlineError] = []
    for index, photo in enumerate(photos):

        def told(words: str, share: float, index: int = index, name: str = photo.name) -> None:
            progress(f"{words} in {name}", 0.8 * (index + share) / len(photos))

        noticed: list[Finding] = []
        try:
            sight = see(
                photo.filled().pixels,
                photo.name,
                scene,
                index,
                typed,
                ignore_heights,
                card_thickness,
                noticed,
                told,
            )
        except OutlineError as error:
            refused.append(error)
            noticed = [
                Finding(
                    410,
                    Level.CAUTION,
                    f"{photo.name} was left out of the outline. {error}",
                    photo.name,
                )
            ]
        else:
            sights.append(sight)
        findings += [replace(f, where=f.where or photo.name) for f in noticed]
    if not sights:
        raise refused[0]
    progress("laying the photos' outlines together", 0.8)
    if len(sights) == 1 or ignore_heights:
        measurement = measured_alone(
            sights[0], scene, typed, ignore_heights, card_thickness, findings
        )
    else:
        measurement = measure_together(sights, scene, typed, card_thickness, findings)
    return Shape(measurement, _on_first(sights[0], measurement, scene), tuple(findings))


def _on_first(sight: Sight, measurement: Measurement, scene: Scene) -> Edge:
    """Where the outline is seen in the first photo, on which the overlay is drawn."""
    if sight.index == 0:
        return sight.edge
    heights = {h.part: h.height.value or 0.0 for h in measurement.heights}
    z = [heights.get(part, 0.0) for part in measurement.outline_part]
    camera = scene.cameras[0]
    pixels = camera.project(np.column_stack([measurement.frame.to_mat(measurement.outline), z]))
    return Edge(
        pixels,
        camera.at_height(pixels, 0.0),
        np.zeros(len(pixels), dtype=bool),  # it was not seen there
        measurement.outline_u95 / 2,
    )


def measure_together(
    sights: Sequence[Sight],
    scene: Scene,
    typed: Given,
    thickness: float,
    findings: list[Finding],
) -> Measurement:
    """One measurement from the sights of all photos.

    Args:
        sights: two at least, of one scene.
        scene: solved from all photos.
        typed: part to height and standard uncertainty, mm.
        thickness: mm, of the height cards.
        findings: what is noticed is added to them.
    """
    reference = fullest(sights)
    frame = sights[reference].parts.frame
    joint = _Joint(
        scene,
        [s.in_frame(frame) for s in sights],
        place_cards(scene, frame, thickness),
        typed,
        thickness,
        reference,
    )
    heights: Heights = joint.believed(scene)
    joint = replace(joint, sights=split_alike(joint.sights, scene, heights, reference))
    joint = replace(joint, sights=with_witness(joint.sights, scene, heights))
    for last in (False, True):
        found = _solved_heights(joint)
        heights = found.rises.on(joint.believed(scene), found.rise, found.doubt)
        if not last:
            sights = with_buttons(joint.sights, scene, heights)
            joint = replace(joint, sights=with_witness(sights, scene, heights))
    return _measured(joint, found, heights, findings)


def _solved_heights(joint: _Joint) -> Triangulation:
    """The heights at which the photos' edges come together."""
    scene, sights = joint.scene, joint.sights
    believed = joint.believed(scene)
    level = curves_of(sights, scene, believed)
    rises = rises_for(
        believed,
        extents_of(
            [s.parts.frame.from_mat(c)[:, 0] for s, c in zip(sights, level, strict=True)],
            [s.parts.labels for s in sights],
        ),
    )

    def curves_at(rise: Array) -> list[Array]:
        return curves_of(sights, scene, rises.on(believed, rise, np.zeros(rises.count)))

    def less(curves: Sequence[Array]) -> list[Array]:
        return [a - b for a, b in zip(curves, level, strict=True)]

    responses = Responses(
        [less(curves_at(one)) for one in np.eye(rises.count)],
        [
            less(curves_of(sights, moved, joint.believed(moved)))
            for moved in (moved_scene(scene, step) for _, step in scene_steps(scene))
        ]
        + [less(curves_of(sights, scene, believed, EDGE_RADIUS_MM + EDGE_RADIUS_U_MM))],
    )
    rise = np.zeros(rises.count)
    for reach in REACH_MM:
        matches = find_matches(sights, curves_at(rise), believed, reach)
        found = triangulate(rises, matches, curves_at, responses, rise)
        rise = found.rise
    return found


def _measured(
    joint: _Joint, found: Triangulation, heights: Heights, findings: list[Finding]
) -> Measurement:
    scene, sights = joint.scene, joint.sights
    joined = [
        lay_together(
            with_lean(s.upper_edge(scene.cameras[s.index], heights), s.parts, heights),
            s.rim,
            s.parts.labels,
        )
        for s in sights
    ]

    def lift(other: Scene, use: Heights) -> list[Array]:
        return [
            with_lean(s.upper_edge(other.cameras[s.index], use), s.parts, use)[j.source]
            for s, j in zip(sights, joined, strict=True)
        ]

    shifts = _shifts(joint, found, lift)
    silhouettes = [Silhouetted(s.silhouette) for s in sights]
    outlines = [
        _own(sights, k, joined[k], scene, heights, [f[1][k] for f in shifts if f[2]], silhouettes)
        for k in range(len(sights))
    ]
    agreed = agreement(outlines, [f[1] for f in shifts])
    if len(agreed.kept) < len(sights):
        raise PhotosDisagree(
            tuple(sights[k].index for k in agreed.kept),
            tuple(
                (s.index, float(agreed.distance[k].max()))
                for k, s in enumerate(sights)
                if k not in agreed.kept
            ),
        )
    merged = merge_outlines(outlines)
    merged, locally = _with_local_heights(joint, joined, outlines, merged, heights)
    fields = [
        Field(
            source,
            sum(
                (merged.share[k][:, None] * shift[k][merged.source[k]] for k in range(len(sights))),
                start=np.zeros_like(merged.points),
            ),
        )
        for source, shift, _ in shifts
    ]
    rounder = sum(
        (
            merged.share[k][:, None]
            * _rounder(s, joint, heights)[joined[k].source][merged.source[k]]
            for k, s in enumerate(sights)
        ),
        start=np.zeros_like(merged.points),
    )
    fields.append(roundness(merged.points, rounder, rounded_u(scene.cameras)))
    plan = _plan(joint, joined, merged, heights, fields)
    parts = sights[joint.reference].parts
    bulge, doubt = hidden_bulge(plan.points, replace(parts, labels=plan.labels), heights)
    plan = replace(
        plan,
        points=plan.points + bulge,
        sigma=np.hypot(plan.sigma, locally),
        fields=[*fields, doubt],
    )
    findings += height_findings(joint.lying, parts, heights, False)
    if joint.typed:
        findings += contradictions(
            joint.believed(scene), edge_heights(parts, joint.lying, {}), parts
        )
    thickest = typed_height(joint.typed, "top") or typed_height(joint.typed, "bridge")
    return assemble(plan, parts, heights, thickest)


def _rounder(sight: Sight, joint: _Joint, heights: Heights) -> Array:
    """(N, 2) mm: how a rounding larger by its uncertainty would move one photo's points."""
    camera = joint.scene.cameras[sight.index]
    larger = sight.upper_edge(camera, heights, radius=EDGE_RADIUS_MM + EDGE_RADIUS_U_MM)
    return larger - sight.upper_edge(camera, heights)


def _shifts(
    joint: _Joint, found: Triangulation, lift: Callable[[Scene, Heights], list[Array]]
) -> list[tuple[str, list[Array], bool]]:
    """Source, displacement of each photo's outline, and whether it is a height's."""
    scene, rises = joint.scene, found.rises
    believed = joint.believed(scene)
    nominal = lift(scene, rises.on(believed, found.rise, found.doubt))

    def less(curves: Sequence[Array]) -> list[Array]:
        return [a - b for a, b in zip(curves, nominal, strict=True)]

    shifts: list[tuple[str, list[Array], bool]] = []
    for source, step in scene_steps(scene):
        moved = moved_scene(scene, step)
        base = joint.believed(moved)

        def curves_at(rise: Array, base: Heights = base, moved: Scene = moved) -> list[Array]:
            return curves_of(joint.sights, moved, rises.on(base, rise, found.doubt))

        rise = rises_in(found, curves_at)
        shifts.append((source, less(lift(moved, rises.on(base, rise, found.doubt))), False))
    values, vectors = np.linalg.eigh(found.covariance)
    for value, vector in zip(values, vectors.T, strict=True):
        if value < 1e-4:
            continue
        raised = rises.on(believed, found.rise + vector * np.sqrt(value), found.doubt)
        shifts.append((_height_words(rises, vector), less(lift(scene, raised)), True))
    return shifts


def _height_words(rises: Rises, vector: Array) -> str:
    """The edge that a pattern of rises is mostly about."""
    size = [float((vector[piece.own] ** 2).sum()) for piece in rises.pieces]
    piece = rises.pieces[int(np.argmax(size))]
    if piece.part == "body" and piece.side == "lower":
        return "the height of the back's edge"
    if piece.side == "lower":
        return f"the thickness of the {piece.part}"
    return f"the height of the {piece.part}"


def _own(
    sights: Sequence[Sight],
    k: int,
    joined: Lifted,
    scene: Scene,
    heights: Heights,
    height_shifts: Sequence[Array],
    silhouettes: Sequence[Silhouetted],
) -> OwnOutline:
    sight = sights[k]
    normals = outward_normals(joined.points, 3.0)
    edge = sight.edge.sigma[joined.source] + np.where(joined.bridged, _BRIDGED_MM, 0.0)
    # which rim it is stays out of a photo's say: where all are unsure of it, a lost edge would win
    missed = np.maximum(_missed(sight.edge.measured)[joined.source], 0.5 * joined.bridged)
    own = np.hypot(edge, _EDGE_MM) + _MISSED_MM * missed
    variance = own**2
    for shift in height_shifts:
        variance = variance + (shift * normals).sum(axis=1) ** 2
    parts = replace(sight.parts, labels=sight.parts.labels[joined.source])
    upper, lower = edge_z(joined.points, parts, heights)
    blind = np.zeros((len(joined.points), len(sights)), dtype=bool)
    denied = blind.copy()
    height = lower + sight.rim[joined.source] * (upper - lower)
    reach = _lowest_and_highest(joined.points, parts, heights)
    for j, other in enumerate(sights):
        if j == k:
            continue
        camera = scene.cameras[other.index]

        def depth(z: Array, camera: Camera = camera, shadow: Silhouetted = silhouettes[j]) -> Array:
            solid = np.column_stack([joined.points, z])
            return shadow.depth(camera.at_height(camera.project(solid), 0.0))

        blind[:, j] = depth(height) > _HIDDEN_MM
        # whatever is there, from its lower edge to its upper one, that photo sees the mat
        denied[:, j] = np.max([depth(z) for z in reach], axis=0) < -_DENIED_MM
    return OwnOutline(joined.points, np.sqrt(variance), own, blind, denied)


def _missed(measured: NDArray[np.bool_]) -> Array:
    """(N,) 0 where the edge is measured all round, to 1 where most of its neighbours are not."""
    share = gaussian_filter1d((~measured).astype(np.float64), _AROUND_POINTS, mode="wrap")
    missed: Array = np.clip((share - _FEW_MISSED) / (1 - _FEW_MISSED), 0.0, 1.0)
    return missed


def _with_local_heights(
    joint: _Joint,
    joined: Sequence[Lifted],
    outlines: Sequence[OwnOutline],
    merged: Merged,
    heights: Heights,
) -> tuple[Merged, Array]:
    """The outline, moved where small things have heights of their own; (M,) mm, its doubt."""
    normals = outward_normals(merged.points, 3.0)
    by_height, own, fair = [], [], []
    for k, sight in enumerate(joint.sights):
        source = merged.source[k]
        parts = replace(sight.parts, labels=sight.parts.labels[joined[k].source][source])
        upper, lower = edge_z(merged.points, parts, heights)
        z = lower + sight.rim[joined[k].source][source] * (upper - lower)
        centre = joint.scene.cameras[sight.index].centre
        reach = ((merged.points - centre[:2]) * normals).sum(axis=1)
        by_height.append(-reach / (centre[2] - z))
        own.append(outlines[k].own[source])
        fair.append((own[k] < _WELL_MEASURED_MM) & (np.abs(merged.apart[k]) < _NEAR_MM))
    foremost = merged.share.argmax(axis=0)
    everywhere = np.arange(len(merged.points))
    labels = np.array(
        [
            s.parts.labels[j.source][merged.source[k]]
            for k, (s, j) in enumerate(zip(joint.sights, joined, strict=True))
        ]
    )[foremost, everywhere]
    frame = joint.sights[joint.reference].parts.frame
    # a strap button's height is found already
    stands_out = stands_out_at_tail(frame.from_mat(merged.points)) & (labels == "body")
    shift, doubt = local_shift(
        merged.apart, np.array(by_height), np.array(own), np.array(fair), stands_out
    )
    moved = merged.points + shift[:, None] * normals
    return replace(merged, points=moved, apart=merged.apart - shift), doubt


def _lowest_and_highest(points: Array, parts: Parts, heights: Heights) -> tuple[Array, Array]:
    """(N,) mm each: between which heights what is at plan points (N, 2) lies, with all doubts."""
    x = parts.frame.from_mat(points)[:, 0]
    low, high = np.zeros(len(x)), np.zeros(len(x))
    for name, edges in heights.items():
        mine = parts.members(name)
        low[mine] = edges.lower.at(x[mine]) - 2 * edges.lower.u_at(x[mine])
        high[mine] = edges.upper.at(x[mine]) + 2 * edges.upper.u_at(x[mine])
    return np.maximum(low, 0.0), high


def _plan(
    joint: _Joint,
    joined: Sequence[Lifted],
    merged: Merged,
    heights: Heights,
    fields: Sequence[Field],
) -> PlanOutline:
    sights, scene = joint.sights, joint.scene
    count = len(sights)
    everywhere = np.arange(len(merged.points))
    foremost = merged.share.argmax(axis=0)

    def of_each(values: Sequence[NDArray[np.generic]]) -> NDArray[np.generic]:
        """What the foremost photo says at each point."""
        each = np.array([values[k][merged.source[k]] for k in range(count)])
        return np.asarray(each[foremost, everywhere])

    labels = of_each([s.parts.labels[j.source] for s, j in zip(sights, joined, strict=True)])
    lower = of_each([(s.rim == LOWER)[j.source] for s, j in zip(sights, joined, strict=True)])
    carried = np.array(
        [
            (j.bridged | ~s.edge.measured[j.source])[merged.source[k]]
            for k, (s, j) in enumerate(zip(sights, joined, strict=True))
        ]
    )
    own = np.array(
        [
            np.hypot(s.edge.sigma[j.source], _EDGE_MM)[merged.source[k]]
            for k, (s, j) in enumerate(zip(sights, joined, strict=True))
        ]
    )
    mistaken = np.array(
        [
            mistaken_edge(s, scene.cameras[s.index], heights)[j.source][merged.source[k]]
            for k, (s, j) in enumerate(zip(sights, joined, strict=True))
        ]
    )
    # what the photos' own errors leave of themselves, and how far apart they are found to be
    mean = np.sqrt((merged.share**2 * own**2).sum(axis=0))
    spread = np.sqrt((merged.share * merged.apart**2).sum(axis=0))
    labels_text = labels.astype(np.str_)
    return PlanOutline(
        points=merged.points,
        labels=labels_text,
        known=known_heights(labels_text, lower.astype(bool), heights),
        bridged=(merged.share * carried).sum(axis=0) > 0.5,
        sigma=np.hypot(mean, spread / np.sqrt(count)),
        mistaken=np.sqrt((merged.share**2 * mistaken**2).sum(axis=0)),
        fields=fields,
    )
