"""A tuner that was not seen over print: drawn as others of them go, in doubt, and told."""

from __future__ import annotations

from collections.abc import Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding, Level
from profiler.instrument.frame import find_centreline
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.partners import Partner, unseen_partner
from profiler.outline.splice import Rimmed, Stretch, spliced
from profiler.silhouette.ground import TINT, Plan

Array = NDArray[np.float64]

#: over bare tint a tuner would have been seen: so much of what it covers is print (a guess)
_LEAST_ON_PRINT = 0.25
#: buttons are turned as they may be, and stand a little higher or lower, mm standard (a guess)
_PARTNER_U_MM = 2.0
#: what a person drew so near settles it, mm
_DRAWN_NEAR_MM = 12.0


def with_hidden_tuner(
    photo: str, seen: Rimmed, camera: Camera, plan: Plan, heights: Mapping[str, PartEdges]
) -> tuple[Rimmed, Finding | None]:
    """The edge with a tuner that print hides, and what a person is told of it.

    Args:
        photo: its name, for the finding.
        seen: N points.
        camera: solved.
        plan: the photo laid flat.
        heights: of the instrument's parts.
    """
    parts = seen.parts
    lifted = lift_points(seen.edge.pixels, camera, seen.rim, parts, heights)
    frame = find_centreline(lifted, parts.frame, parts.join, parts.nut).frame
    plain = seen.edge.plain
    clear = seen.edge.measured if plain is None else seen.edge.measured & plain
    partner = unseen_partner(frame.from_mat(lifted), parts.labels, clear)
    if partner is None:
        return seen, None
    places = frame.to_mat(partner.outline)
    z = heights["tuners"].upper.at(parts.frame.from_mat(places)[:, 0])
    on_mat = camera.at_height(camera.project(np.column_stack([places, z])), 0.0)[:, :2]
    if _on_print(plan, on_mat) < _LEAST_ON_PRINT or _drawn_near(seen, partner):
        return seen, None
    told = np.zeros(len(on_mat), dtype=bool)
    stretch = Stretch(
        partner.first, partner.last, "tuners", on_mat, told, np.full(len(told), _PARTNER_U_MM)
    )
    return spliced(seen, camera, [stretch]), _finding(photo, partner)


def _on_print(plan: Plan, outline: Array) -> float:
    """Share of the plan's cells within an outline, (M, 2) mm, on which something is printed."""
    inside = np.zeros(plan.printed.shape, dtype=np.uint8)
    cv2.fillPoly(inside, [np.rint(plan.to_cells(outline) * 16).astype(np.int32)], 1, shift=4)
    if not inside.any():
        return 0.0
    return float((plan.printed[inside > 0] != TINT).mean())


def _drawn_near(seen: Rimmed, partner: Partner) -> bool:
    edge = seen.edge
    if edge.drawn is None or not edge.drawn.any():
        return False
    foot = edge.on_mat[[partner.first, partner.last]].mean(axis=0)
    return bool(np.hypot(*(edge.on_mat[edge.drawn] - foot).T).min() < _DRAWN_NEAR_MM)


def _finding(photo: str, partner: Partner) -> Finding:
    few, many = partner.beside
    here, there = ("left", "right") if partner.on_left else ("right", "left")
    return Finding(
        311,
        Level.CAUTION,
        f"{photo}: on the {there} of the head {many} tuners were found, on the {here} {few}. The"
        f" partner of one of them, {partner.outline[:, 0].mean():.0f} mm from the tail, would lie"
        " over print and was not seen: it is drawn as others of them go, red in the overlay. Hold"
        " the template against it. Shift the instrument, so that bare tint lies round its tuners,"
        " and photograph again; if there is none, draw the head's side there on the page"
        " ('profiler serve').",
        "tuners",
    )
