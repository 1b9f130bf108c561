"""From several photos of one scene to one measured instrument."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError
from profiler.findings import Finding, Level
from profiler.instrument.added_button import AddedButton
from profiler.instrument.assemble import assemble
from profiler.instrument.record import Measurement
from profiler.jobs.photo import Photo
from profiler.outline.agreement import agreement
from profiler.outline.heights import Given, PartEdges, edge_heights, lens_share, place_cards
from profiler.outline.leaning import lean_doubt, lean_seen
from profiler.outline.lift import leans_out, with_lean
from profiler.outline.merge import merge_outlines
from profiler.outline.sight import Sight, Silhouetted, fullest, split_alike, with_buttons
from profiler.outline.spread import Field, hidden_bulge, rounded_u, rounding_doubt
from profiler.outline.together import lay_together
from profiler.outline.triangulate import Triangulation, curves_of, seen_through
from profiler.outline.witness import with_witness
from profiler.pipeline.joint import Joint, solved_heights
from profiler.pipeline.joint_doubts import displacements
from profiler.pipeline.joint_local import with_local_heights
from profiler.pipeline.joint_outlines import own_outline, with_crossings
from profiler.pipeline.joint_plan import plan_outline
from profiler.pipeline.shape import (
    Shape,
    contradictions,
    height_findings,
    measured_alone,
    roundness,
    see,
    thickest_typed,
    with_seen_button,
)
from profiler.scene.record import Scene
from profiler.silhouette.edge import Edge
from profiler.target.card import THICKNESS_MM

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]
Heights = Mapping[str, PartEdges]


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


def measure_shape_together(
    photos: Sequence[Photo],
    scene: Scene,
    typed: Given,
    ignore_heights: bool = False,
    card_thickness: float = THICKNESS_MM,
    progress: Progress = lambda _words, _share: None,
    button: AddedButton | None = None,
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
        button: a strap button that was seen from the side.

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
            sights[0], scene, typed, ignore_heights, card_thickness, findings, button
        )
    else:
        measurement = measure_together(sights, scene, typed, card_thickness, findings, button)
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
    button: AddedButton | None = None,
) -> Measurement:
    """One measurement from the sights of all photos.

    Args:
        sights: two at least, of one scene.
        scene: solved from all photos.
        typed: part to height and standard uncertainty, mm.
        thickness: mm, of the height cards.
        findings: what is noticed is added to them.
        button: a strap button that was seen from the side.
    """
    reference = fullest(sights)
    frame = sights[reference].parts.frame
    joint = Joint(
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
        found = solved_heights(joint)
        heights = found.rises.on(joint.believed(scene), found.rise, found.doubt)
        if not last:
            sights = with_buttons(joint.sights, scene, heights)
            joint = replace(joint, sights=with_witness(sights, scene, heights))
            through = seen_through(joint.sights, scene)
            curves = curves_of(joint.sights, scene, heights, through)
            joint = replace(joint, square=lean_seen(joint.sights, curves, heights))
    return _measured(joint, found, heights, findings, button)


def _measured(
    joint: Joint,
    found: Triangulation,
    heights: Heights,
    findings: list[Finding],
    button: AddedButton | None = None,
) -> Measurement:
    scene, sights = joint.scene, joint.sights
    through = seen_through(sights, scene)
    level = curves_of(sights, scene, heights, through)
    outer = [leans_out(c, s.parts, heights) for s, c in zip(sights, level, strict=True)]
    leant = [
        with_lean(c, s.parts, heights, out) for s, c, out in zip(sights, level, outer, strict=True)
    ]
    laid = [
        with_crossings(lay_together(plan, s.rim, s.parts.labels))
        for s, plan in zip(sights, leant, strict=True)
    ]
    joined = [one for one, _ in laid]

    def lift(other: Scene, use: Heights) -> list[Array]:
        curves = curves_of(sights, other, use, through)
        return [
            with_lean(curve, s.parts, use, out)[j.source]
            for s, j, out, curve in zip(sights, joined, outer, curves, strict=True)
        ]

    shifts = displacements(joint, found, lift, through)
    silhouettes = [Silhouetted(s.silhouette) for s in sights]
    outlines = [
        own_outline(
            sights, k, *laid[k], scene, heights, [f[1][k] for f in shifts if f[2]], silhouettes
        )
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
    merged, locally = with_local_heights(joint, joined, outlines, merged, heights)

    def as_merged(shifts: Sequence[Array]) -> Array:
        """(M, 2) mm, of what moves each photo's outline by so much."""
        own = zip(merged.share, shifts, merged.source, strict=True)
        moved: Array = sum(
            (share[:, None] * shift[source] for share, shift, source in own),
            start=np.zeros_like(merged.points),
        )
        return moved

    fields = [Field(source, as_merged(shift)) for source, shift, _ in shifts]
    leaning = [
        lean_doubt(curve, s, heights, out)
        for s, curve, out in zip(sights, level, outer, strict=True)
    ]
    fields.append(
        Field(
            leaning[0].source,
            as_merged([f.shift[j.source] for f, j in zip(leaning, joined, strict=True)]),
        )
    )
    rounder = as_merged(
        [
            rounding_doubt(s, scene.cameras[s.index], heights, curve)[j.source]
            for s, j, curve in zip(sights, joined, level, strict=True)
        ]
    )
    fields.append(roundness(merged.points, rounder, rounded_u(scene.cameras)))
    plan = plan_outline(joint, joined, outlines, merged, heights, fields)
    parts = sights[joint.reference].parts
    bulge, doubt = hidden_bulge(plan.points, replace(parts, labels=plan.labels), heights)
    plan = replace(
        plan,
        points=plan.points + bulge,
        sigma=np.hypot(plan.sigma, locally),
        fields=[*fields, doubt],
    )
    plan, told = with_seen_button(plan, button)
    findings += told
    findings += height_findings(joint.lying, parts, heights, False)
    if joint.typed:
        findings += contradictions(
            joint.believed(scene), edge_heights(parts, joint.lying, {}), parts
        )
    thickest = thickest_typed(joint.typed, parts, joint.lying)
    return assemble(plan, parts, heights, thickest, lens_share(joint.lying))
