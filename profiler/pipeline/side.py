"""A photo from the side, in the scene that the photos from above have solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError
from profiler.findings import Finding, Level
from profiler.instrument.added_button import ASIDE_U_MM, AddedButton
from profiler.instrument.record import Measurement, Quantity, SideProfile
from profiler.instrument.sideways import Doubted, as_edges, at_odds, joined, side_profile
from profiler.optics.camera import Camera
from profiler.outline.button_aside import button_axis
from profiler.outline.elevation import (
    Seen,
    floor_under,
    lifted_lower,
    lifted_upper,
    seen_at,
    upper_and_lower,
)
from profiler.outline.headface import face_seen
from profiler.outline.heights import EdgeHeight
from profiler.outline.planview import PlanView
from profiler.outline.spread import scene_steps
from profiler.outline.tail_aside import tail_seen
from profiler.pipeline.side_scene import SideScene, solve_side
from profiler.scene.perturb import moved_scene
from profiler.scene.record import LensPrior, PrintScale, Scene
from profiler.silhouette.edge import Edge, trace_edge
from profiler.silhouette.standing import (
    Backdrop,
    divisor_of,
    lay_upright,
    plane_of,
    standing_out,
)
from profiler.target.mat import MatDesign

Array = NDArray[np.float64]

#: of the plane through the centreline is looked at: beyond each end, below the bench (the mat
#: before the instrument), and up, mm
_BEYOND_MM, _BELOW_MM, _UP_MM = 45.0, 60.0, 320.0
#: how high the whole profile may stand: the paper that it rests on lies on others and a little in
#: the air, and so do the sheets that tell how high the camera stood: standard uncertainty, mm
_PAPER_MM = 0.4
#: upper and lower edge must be seen over this part of the length
_LEAST_SEEN, _LEAST_OF_A_PART = 0.4, 0.1
#: how well the end of a strap button is seen along the instrument, and how high its middle is
#: where not all of its edge is, mm, standard (a guess)
_END_U_MM, _MIDDLE_U_MM = 0.3, 1.5
#: the body may be so much longer or shorter from the side than in plan, mm
_ANOTHER_MM = 25.0


@dataclass(frozen=True)
class SidePhoto:
    """Attributes:
    name: of the file.
    pixels: (H, W, 3) 8 bit BGR, as the sensor reads it.
    upright: the row of sheets behind, None to recognise it.
    scale: its print scale.
    """

    name: str
    pixels: NDArray[np.uint8]
    upright: MatDesign | None
    scale: PrintScale


@dataclass(frozen=True)
class SideResult:
    """Attributes:
    photo: that it was seen in.
    profile: along the instrument.
    measurement: from above, that it goes with.
    placed: the side camera and the upright sheets.
    upper, lower: what was seen.
    edges: heights that the plan outline may be lifted to.
    cut_off: the end of the instrument that is out of the frame, '' for none.
    bare_tail: the place for a strap button is in plain sight, and there is none.
    button: a strap button as it would stand in the plan; None where none was seen.
    """

    photo: SidePhoto
    profile: SideProfile
    measurement: Measurement
    placed: SideScene
    upper: Seen
    lower: Seen
    edges: dict[str, EdgeHeight]
    cut_off: str = ""
    bare_tail: bool = False
    button: AddedButton | None = None


class SideUnreadable(OutlineError):
    """A side photo in which the instrument is not found, or not as it should be."""

    def __init__(self, photo: str, what: str) -> None:
        self.photo, self.what = photo, what
        super().__init__(f"{photo}: {what}")


def measure_sides(
    sides: Sequence[SidePhoto], scene: Scene, lens: LensPrior, measurement: Measurement
) -> tuple[SideResult, ...]:
    """Take the heights along the instrument from side photos.

    Args:
        sides: the photos; one of them has to show both ends of the instrument.
        scene: of the photos from above.
        lens: what was believed of the lens before them.
        measurement: from above; its outline tells how far away each point is.

    Returns:
        what each gave, first those that show both ends.

    Raises:
        SceneError, OutlineError: it names the photo and what to do.
    """
    seen = [_measured(side, scene, lens, measurement) for side in sides]
    seen.sort(key=lambda one: one.cut_off != "")
    if cut := seen[0].cut_off:
        raise SideUnreadable(
            seen[0].profile.photo,
            f"{cut} of the instrument is out of the frame. Step back until both ends are seen; a"
            " photo of one end can be given besides.",
        )
    return tuple(seen)


def with_sides(measurement: Measurement, seen: Sequence[SideResult]) -> Measurement:
    """With the profile that side views tell together, and the height that follows from it."""
    profile = seen[0].profile
    for other in seen[1:]:
        profile = joined(profile, other.profile)
    measured = replace(measurement, side=profile)
    if not measurement.height and profile.thickest:
        measured = replace(measured, height=replace(profile.thickest))
    return measured


def _measured(
    side: SidePhoto, scene: Scene, lens: LensPrior, measurement: Measurement
) -> SideResult:
    placed = solve_side(side.name, side.pixels, scene, lens, side.upright, side.scale)
    camera = placed.scene.cameras[0]
    centre = np.append(measurement.frame.from_mat(camera.centre[None, :2])[0], camera.centre[2])
    plan = plan_view(measurement)
    _check_from_side(side.name, centre, plan)
    edge, backdrop = _edge(side, camera, scene, placed, measurement, plan, centre)
    sound = edge.measured & _before_print(edge, backdrop)
    (top, top_u), (low, low_u) = upper_and_lower(edge.on_mat, sound, edge.sigma)
    upper = lifted_upper(top, top_u, centre, plan)
    lower = lifted_lower(low, low_u, centre, plan)
    cut = _cut_off(plan, backdrop)
    _check_seen(
        side.name, upper, plan, edge, backdrop, _LEAST_SEEN if not cut else _LEAST_OF_A_PART
    )
    face = face_seen(top, top_u, centre, plan)
    button = button_axis((top, top_u), (low, low_u), centre, plan)
    up, down, faced, turned = (
        None if seen is None else _doubted(seen, placed, measurement)
        for seen in (upper, lower, face, button)
    )
    assert up is not None and down is not None
    profile = side_profile(side.name, up, down, plan, faced, turned)
    edges = as_edges(profile, up, plan.flat_back)
    tail = tail_seen(edge.on_mat, centre, plan, backdrop.known_at)
    added = None
    if tail is not None and (stands := tail.button) is not None:
        added = _added(side.name, stands, placed, measurement, centre)
        edges.setdefault("button", added.height)
    bare = tail is not None and tail.bare
    return SideResult(side, profile, measurement, placed, upper, lower, edges, cut, bare, added)


def _added(
    photo: str,
    stands: tuple[Array, float],
    placed: SideScene,
    measurement: Measurement,
    centre: Array,
) -> AddedButton:
    """The button as it stands on the plan, on its middle."""
    (tip, z), half = stands
    one, none = np.ones(1), np.zeros(1)
    end = seen_at(np.array([[tip, z]]), none, centre, one, (none, none), np.array(["button"]))
    at = _doubted(end, placed, measurement)
    # a button that sits beside the middle is seen a little along it
    askew = abs(centre[0] - tip) / max(abs(float(centre[1])), 1.0)
    frame = measurement.frame
    return AddedButton(
        frame.to_mat(np.array([[tip, 0.0]]))[0],
        frame.turned(np.array([[1.0, 0.0]]))[0],
        half,
        float(np.sqrt(at.along**2 + (askew * ASIDE_U_MM) ** 2 + _END_U_MM**2)),
        EdgeHeight(0.0, float(z), 0.0, _MIDDLE_U_MM, 0.0, f"the side view {photo}", True),
        photo,
    )


def plan_view(measurement: Measurement) -> PlanView:
    """The plan outline as the side view needs it."""
    heights = {h.part: h for h in measurement.heights}
    body = heights["body"].height
    back = heights["back"].source
    rim = EdgeHeight(
        body.x or 0.0, body.value or 0.0, 0.0, (body.u95 or 0.0) / 2, 0.005, "from above", True
    )
    nut = measurement.widths.get("nut", Quantity(None, None)).value or 40.0
    return PlanView(
        measurement.outline,
        np.array(measurement.outline_part),
        rim,
        not back.startswith("assumed arched") and back != heights["body"].source,
        nut / 2,
    )


def _check_from_side(photo: str, centre: Array, plan: PlanView) -> None:
    beside = abs(float(centre[1])) - float(np.abs(plan.outline[:, 1]).max())
    if beside < 150.0:
        raise SideUnreadable(
            photo,
            "this is no view from the side: the camera must look across the strings, from beside"
            " the body and half a metre or more away.",
        )
    if float(centre[2]) > 0.5 * beside:
        raise SideUnreadable(
            photo,
            f"the camera was {centre[2]:.0f} mm above the bench, too high for a side view. Hold the"
            " phone at the height of the strings.",
        )


def _edge(
    side: SidePhoto,
    camera: Camera,
    scene: Scene,
    placed: SideScene,
    measurement: Measurement,
    plan: PlanView,
    centre: Array,
) -> tuple[Edge, Backdrop]:
    low, high = float(plan.outline[:, 0].min()), float(plan.outline[:, 0].max())
    backdrop = lay_upright(
        side.pixels,
        camera,
        measurement.frame,
        placed.scene.cards,
        scene.sheets,
        (low - _BEYOND_MM, high + _BEYOND_MM),
        (-_BELOW_MM, _UP_MM),
    )
    if backdrop is None:
        raise SideUnreadable(
            side.name, "too little bare paper is seen behind the instrument to know its colour."
        )
    found = standing_out(backdrop, lambda x: floor_under(plan, centre, x))
    if found is None:
        raise SideUnreadable(
            side.name, "no instrument is seen before the upright sheets. Is it in the frame?"
        )
    edge = trace_edge(side.pixels, backdrop.camera, backdrop.plan, found, divisor_of(backdrop))
    return edge, backdrop


def _before_print(edge: Edge, backdrop: Backdrop) -> NDArray[np.bool_]:
    """(N,) whether a known print is seen all round each point of the edge."""
    steps = np.array([(dx, dy) for dx in (-1.2, 0.0, 1.2) for dy in (-1.5, 0.0, 1.5)])
    around = edge.on_mat + steps[:, None, :]
    return np.asarray(backdrop.known_at(around).all(axis=0))


def _cut_off(plan: PlanView, backdrop: Backdrop) -> str:
    """The end of the instrument that is out of the frame, '' where both are in it."""
    low, high = float(plan.outline[:, 0].min()), float(plan.outline[:, 0].max())
    h, w = backdrop.plan.seen.shape
    cells = backdrop.plan.to_cells(np.array([(low + 4.0, 20.0), (high - 4.0, 20.0)]))
    for k, end in enumerate(("the tail end", "the head end")):
        column = int(np.clip(np.rint(cells[k, 0]), 0, w - 1))
        row = int(np.clip(np.rint(cells[k, 1]), 0, h - 1))
        if not backdrop.plan.seen[row, column]:
            return end
    return ""


def _check_seen(
    photo: str, upper: Seen, plan: PlanView, edge: Edge, backdrop: Backdrop, least: float
) -> None:
    low, high = float(plan.outline[:, 0].min()), float(plan.outline[:, 0].max())
    length = high - low
    seen = len(np.unique(np.round(upper.x / 4.0))) * 4.0
    h = backdrop.plan.seen.shape[0]
    if seen < least * length:
        raise SideUnreadable(
            photo,
            f"only {seen:.0f} of {length:.0f} mm of the instrument's upper edge are seen before the"
            " upright sheets. They must stand behind all of it: print a longer row, or move it"
            " nearer.",
        )
    ends = edge.on_mat[:, 0]
    known = backdrop.known[
        int(np.clip(np.rint((30 - backdrop.plan.origin[1]) / backdrop.plan.cell), 0, h - 1))
    ]
    columns = np.flatnonzero(known)
    if not len(columns):
        return
    shown = backdrop.plan.origin[0] + backdrop.plan.cell * columns[[0, -1]]
    out = []
    if shown[0] < low - 20 and ends.min() > low + _ANOTHER_MM:
        out.append(ends.min() - low)
    if shown[1] > high + 20 and ends.max() < high - _ANOTHER_MM:
        out.append(high - ends.max())
    if out:
        raise SideUnreadable(
            photo,
            f"the instrument is {max(out):.0f} mm shorter from the side than in the photos from"
            " above. Is it another instrument, or was it moved? Take the photos in one go.",
        )


def _doubted(seen: Seen, placed: SideScene, measurement: Measurement) -> Doubted:
    """With what the doubts of camera, lens and sheets make of each height."""
    scene = placed.scene
    mat_from_plane = plane_of(measurement.frame)
    flat = np.column_stack([seen.at, np.zeros(len(seen.at))])
    pixels = scene.cameras[0].project(mat_from_plane.apply(flat))

    def seen_by(camera: Camera) -> Array:
        rays = camera.rays(pixels) @ mat_from_plane.rotation
        start = mat_from_plane.inverse().apply(camera.centre[None])[0]
        return np.asarray(start[:2] + rays[:, :2] * ((depth - start[2]) / rays[:, 2])[:, None])

    # where on the instrument it is stays as it is; in the plane's frame that is the third axis
    away = float(mat_from_plane.inverse().apply(scene.cameras[0].centre[None])[0, 2])
    depth = away * (1.0 - seen.share)
    nominal = seen_by(scene.cameras[0])
    moved = np.array(
        [seen_by(moved_scene(scene, step).cameras[0]) - nominal for _, step in scene_steps(scene)]
    )
    along, steps = moved[..., 0], moved[..., 1]
    return Doubted(
        seen,
        np.sqrt(_PAPER_MM**2 + (steps**2).sum(axis=0)),
        steps,
        float(np.sqrt((along**2).sum(axis=0).max())),
    )


def side_findings(measurement: Measurement, seen: Sequence[SideResult]) -> list[Finding]:
    """What a person has to know about side views, and the profile that they tell together."""
    profile = measurement.side
    assert profile is not None
    found: list[Finding] = []
    # what stands over a headstock is not told in any case
    head = measurement.outline[np.array(measurement.outline_part) == "headstock", 0]
    before = profile.x < (head.min() if len(head) else np.inf)
    unseen = float(np.isnan(profile.upper[before]).mean()) if before.any() else 0.0
    if unseen > 0.1:
        found.append(
            Finding(
                530,
                Level.NOTE,
                f"Over {100 * unseen:.0f} % of body and neck the upper edge was not seen from the"
                " side: no upright sheet, or no clear edge, behind it there.",
                profile.photo,
            )
        )
    for other in seen[1:]:
        for what in at_odds(seen[0].profile, other.profile):
            found.append(
                Finding(
                    533,
                    Level.DOUBT,
                    f"{seen[0].photo.name} and {other.photo.name} do not agree about {what}: they"
                    " are further apart than both are uncertain by. Was the instrument or a sheet"
                    " moved in between? The surer was taken.",
                    other.photo.name,
                )
            )
    for result in seen:
        if result.placed.lean <= 5.0:
            continue
        found.append(
            Finding(
                532,
                Level.NOTE,
                f"The upright sheets lean by {result.placed.lean:.0f} degrees. That was reckoned"
                " with; straighter is surer.",
                result.profile.photo,
            )
        )
    return found
