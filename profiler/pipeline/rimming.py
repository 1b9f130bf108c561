"""What one photo's edge is: its parts, which rim each point shows, and the rim where it shows none.

Parts, heights and rims lean on each other, so they are found in rounds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import runs_of
from profiler.instrument.frame import find_centreline
from profiler.optics.camera import Camera
from profiler.outline.button import button_seen
from profiler.outline.corners import has_corners
from profiler.outline.halves import with_whole_buttons
from profiler.outline.heights import (
    PARTS,
    ButtonSeen,
    EdgeHeight,
    Given,
    PartEdges,
    edge_heights,
    place_cards,
)
from profiler.outline.lift import lift_points
from profiler.outline.mend import mended
from profiler.outline.mirrored import Mirror
from profiler.outline.parts import Parts
from profiler.outline.rims import (
    UPPER,
    choose_rims,
    near_the_board,
    surely_upper,
    upper_rim_if_lower,
)
from profiler.outline.saddle import over_the_tail
from profiler.outline.side_button import SIDE_BUTTON, buttons_on_side
from profiler.outline.splice import Rimmed, retold
from profiler.outline.straight import with_straight_neck
from profiler.outline.together import lay_together
from profiler.scene.record import Scene
from profiler.silhouette.edge import Edge
from profiler.silhouette.rim import look_inside, lower_rim_told

Array = NDArray[np.float64]

#: the split and the heights lean on each other: the picture is larger than the plan
_ROUNDS = 3
#: a strap button on the side is at a horn's tip or in a shoulder: from this share of the way to the
#: join on (common practice, no source). Further down are a violin's corners, saddles, tailpieces
_HORNS_FROM = 0.85
#: how truly the rim under a saddle is told by the rim beside it, mm standard
_UNDER_A_SADDLE_U_MM = 0.3


@dataclass(frozen=True)
class Seen:
    """Attributes:
    rimmed: the edge, mended, with its parts and rims.
    silhouette: (K, 2) mm, mat plane: the edge before it was mended.
    button: what it says of the strap button, if it does.
    """

    rimmed: Rimmed
    silhouette: Array
    button: ButtonSeen | None


def flat_heights() -> dict[str, PartEdges]:
    """All in the mat plane."""
    level = EdgeHeight(0.0, 0.0, 0.0, 0.0, 0.0, "ignored", False)
    edges = PartEdges(level, level)
    return {part: edges for part in PARTS}


def rims_of(
    pixels: NDArray[np.uint8],
    scene: Scene,
    index: int,
    edge: Edge,
    parts_of: Callable[[Array], Parts],
    typed: Given,
    ignore_heights: bool,
    card_thickness: float,
) -> Seen:
    """Tell an edge's parts and rims.

    Args:
        pixels: (H, W, 3) 8 bit BGR.
        scene: solved.
        index: of the photo among the scene's cameras.
        edge: traced, with corrections.
        parts_of: splits the edge's points wherever they lie.
        typed: part to height and standard uncertainty, mm.
        ignore_heights: leave the outline in the mat plane.
        card_thickness: mm, of the height cards.
    """
    camera = scene.cameras[index]
    parts = parts_of(edge.on_mat)
    edge = with_whole_buttons(edge, camera, parts)
    straight = with_straight_neck(edge, camera, parts)
    if straight is not edge:
        edge, parts = straight, parts_of(straight.on_mat)
    # as it is seen: once it is lifted, a rim taken wrongly bends it
    cornered = has_corners(parts.frame.from_mat(edge.on_mat), parts.join)
    count = len(edge.on_mat)
    if ignore_heights:
        flat = flat_heights()
        told, sure, rim = np.full(count, 0.5), np.ones(count, dtype=bool), np.ones(count)
        parts = parts_of(lift_points(edge.pixels, camera, rim, parts, flat))
        return Seen(Rimmed(edge, parts, told, sure, rim), edge.on_mat, None)
    button: ButtonSeen | None = None
    inside = look_inside(pixels, camera, edge)
    parts = replace(parts, cornered=cornered)
    for _ in range(_ROUNDS):
        heights = edge_heights(
            parts, place_cards(scene, parts.frame, card_thickness), typed, button
        )
        places = upper_rim_if_lower(edge.on_mat, camera, parts, heights)
        sure = surely_upper(edge.on_mat, camera, parts, heights)
        told = lower_rim_told(pixels, camera, edge, places, sure, parts.labels, inside)
        told = np.where(near_the_board(edge.on_mat, places, camera, parts, heights), 0.5, told)
        rim = choose_rims(edge.on_mat, camera, parts, heights, told)
        plan = lift_points(edge.pixels, camera, rim, parts, heights)
        parts = replace(parts_of(plan), cornered=cornered)
        button = button_seen(edge.pixels, camera, rim, parts, heights["body"])
    parts, rim = _with_plain_side_buttons(edge, parts, rim)
    mirror = Mirror(find_centreline(plan, parts.frame, parts.join, parts.nut).frame)
    rimmed = mended(pixels, camera, Rimmed(edge, parts, told, sure, rim), heights, mirror)
    rimmed = _without_saddle(_with_side_buttons(rimmed, camera, heights), camera, heights)
    return Seen(rimmed, edge.on_mat, button)


def _with_plain_side_buttons(edge: Edge, parts: Parts, rim: Array) -> tuple[Parts, Array]:
    """Strap buttons on the body's side that nothing else can be, wherever the wall shows: no rim is
    to be sought across them."""
    if parts.cornered:
        return parts, rim
    at_horns = parts.frame.from_mat(edge.on_mat)[:, 0] > _HORNS_FROM * parts.join
    found = buttons_on_side(edge.on_mat, (parts.labels == "body") & at_horns, flared=True)
    if not found.any():
        return parts, rim
    labels = np.where(found, SIDE_BUTTON, parts.labels)
    return replace(parts, labels=labels), np.where(found, UPPER, rim)


def _without_saddle(seen: Rimmed, camera: Camera, heights: Mapping[str, PartEdges]) -> Rimmed:
    """The rim where a violin's saddle stands over it."""
    parts, edge = seen.parts, seen.edge
    if not parts.cornered:
        return seen
    frame, high = parts.frame, camera.centre[2]
    plan = frame.from_mat(lift_points(edge.pixels, camera, seen.rim, parts, heights))
    rims = (parts.labels == "body") & (seen.rim == UPPER)
    if edge.drawn is not None:
        rims &= ~edge.drawn
    z = heights["body"].upper.at(plan[:, 0])
    above = float(frame.from_mat(camera.centre[None, :2])[0, 0])
    inward = over_the_tail(plan, rims, above / float(high - heights["body"].upper.z0))
    told = inward > 0
    if not told.any():
        return seen
    along = frame.turned(np.array([[1.0, 0.0]]))[0]
    curve = edge.on_mat + (inward / (1 - z / high))[:, None] * along
    return replace(seen, edge=retold(edge, camera, curve, told, _UNDER_A_SADDLE_U_MM))


def _with_side_buttons(seen: Rimmed, camera: Camera, heights: Mapping[str, PartEdges]) -> Rimmed:
    """Strap buttons on the body's side told apart from it, once rims and parts are settled: before
    that, a jump from rim to rim looks like one. The violin family has corners there, and none."""
    if seen.parts.cornered:
        return seen
    labels = seen.parts.labels
    plan = lift_points(seen.edge.pixels, camera, seen.rim, seen.parts, heights)
    laid = lay_together(plan, seen.rim, labels)
    at_horns = seen.parts.frame.from_mat(laid.points)[:, 0] > _HORNS_FROM * seen.parts.join
    found = buttons_on_side(laid.points, (labels[laid.source] == "body") & at_horns)
    if not found.any():
        return seen
    labels, rim = labels.copy(), seen.rim.copy()
    for run in runs_of(found):
        first, last = laid.source[run[0]], laid.source[run[-1]]
        mine = (first + np.arange((last - first) % len(labels) + 1)) % len(labels)
        if (labels[mine] != "body").any():
            continue
        labels[mine], rim[mine] = SIDE_BUTTON, UPPER
    return replace(seen, parts=replace(seen.parts, labels=labels), rim=rim)
