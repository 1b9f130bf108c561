"""What lies on the mat: the ground, what hides it, its edge; and where what is wrong is seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError, Places
from profiler.findings import Finding, Level
from profiler.optics.camera import Camera
from profiler.outline.parts import split
from profiler.pipeline.ground import ground_of
from profiler.pipeline.laid import hidden_by_cards
from profiler.pipeline.memory import Memory
from profiler.scene.record import Scene
from profiler.silhouette.bays import without_bays
from profiler.silhouette.closer import closer_look
from profiler.silhouette.edge import Edge, trace_edge
from profiler.silhouette.fine import fine_border
from profiler.silhouette.ground import Lighting, Plan, uncovered_targets
from profiler.silhouette.hand import cut_areas
from profiler.silhouette.inked import print_divisor
from profiler.silhouette.mask import Silhouette, departure, find_silhouette, painted
from profiler.silhouette.parted import across_seams
from profiler.silhouette.rings import rings_of
from profiler.silhouette.strokes import CutOut, Stroke

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]

#: things smaller than this beside the instrument are left out without a word, mm²
_CRUMB_MM2 = 150.0
#: a second thing of this area is an object of its own, mm²
_SECOND_OBJECT_MM2 = 1500.0
_LEAST_INSTRUMENT_MM2 = 4000.0


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

    def __init__(self, photo: str, area: float, places: Places = ()) -> None:
        self.photo, self.area, self.places = photo, area, places
        super().__init__(
            f"{photo}: besides the instrument something of {area / 100:.0f} cm² lies on the mat."
            " Take everything else away (cards belong on the instrument) and photograph again."
            " If it is a part of the instrument, what joins it to the rest has the mat's colour:"
            " print the mat in another tint ('profiler mat --tint')."
        )


class BeyondTheMat(OutlineError):
    """The instrument's edge leaves the mat or the photo."""

    def __init__(
        self,
        photo: str,
        leaves_photo: bool,
        place: Array,
        end: str = "the instrument",
        places: Places = (),
        unseen: Sequence[str] = (),
    ) -> None:
        self.photo, self.leaves_photo, self.end, self.places = photo, leaves_photo, end, places
        self.unseen = unseen
        where = f"near x {place[0]:.0f}, y {place[1]:.0f} mm on the mat"
        what = "reaches the border of the photo" if leaves_photo else "hangs over the mat's edge"
        cure = (
            "Step back or come higher, so that ground is seen all round it."
            if leaves_photo
            else "Move it to the middle, or print a larger mat."
        )
        if unseen and not leaves_photo:
            what = "lies where the mat's print is not seen"
            cure = (
                f"No target of {', '.join(unseen)} is seen: lay what is missing, take away what"
                " covers it, and take the photo again."
            )
        super().__init__(f"{photo}: {end} {what} {where}. {cure}")


def see_edge(
    pixels: NDArray[np.uint8],
    photo: str,
    scene: Scene,
    strokes: Sequence[Stroke],
    memory: Memory,
    causes: object,
    progress: Progress = lambda _words, _share: None,
) -> tuple[Plan, Lighting, Traced]:
    """The first half of `shape.see`: the ground, and the edge of what lies on it.

    Args:
        scene: of the photo alone, its camera being the first.

    Raises:
        OutlineError: as there.
    """
    cut = [s for s in strokes if isinstance(s, CutOut)]
    plan, lighting, seen = see_silhouette(pixels, photo, scene, strokes, memory, causes, progress)

    def trace() -> Traced:
        progress("measuring the edge", 0.3)
        camera = scene.cameras[0]
        divisor = print_divisor(lighting, plan)
        closer = closer_look(pixels, camera, scene.lying, plan)
        left_alone = [*cut_areas(cut, camera), *hidden_by_cards(scene)]
        found, settled = seen.silhouette, painted(plan, left_alone)
        fine = fine_border(plan, lighting, found.mask, closer, settled, found.slots)
        edge = trace_edge(pixels, camera, plan, found, divisor, fine)
        return Traced(edge, seen.findings, found.holes)

    return plan, lighting, memory.recall("edge", (causes, cut), trace)


def see_silhouette(
    pixels: NDArray[np.uint8],
    photo: str,
    scene: Scene,
    strokes: Sequence[Stroke],
    memory: Memory,
    causes: object,
    progress: Progress = lambda _words, _share: None,
    closely: bool = True,
) -> tuple[Plan, Lighting, Seen]:
    """The first half of `see_edge`: the ground, and which of its cells the instrument hides.

    `closely` looks at prints under its border again, for the edge; a glance need not.

    Raises:
        OutlineError: as there.
    """
    progress("finding the silhouette", 0.0)
    camera = scene.cameras[0]
    plan, lighting = memory.recall("ground", causes, lambda: ground_of(pixels, photo, scene))

    def departed() -> NDArray[np.bool_]:
        bare = uncovered_targets(plan, scene)
        closer = closer_look(pixels, camera, scene.lying, plan) if closely else None
        return departure(plan, lighting, bare, closer, closely, hidden_by_cards(scene))

    def silhouette() -> Seen:
        findings: list[Finding] = []
        away = memory.recall("departure", causes, departed)
        cuts = cut_areas(strokes, camera)
        cards = hidden_by_cards(scene)
        found = find_silhouette(plan, lighting, cards, cut_out=cuts, departed=away)
        if found is not None:
            found = replace(found, mask=without_bays(found.mask, plan))
        if found is not None and cards:
            # a card lies on nothing but the instrument
            found = across_seams(found, plan, _CRUMB_MM2, painted(plan, cards))
        if found is not None and cuts:
            # what a person cut out stays out, whatever was filled
            found = replace(found, mask=found.mask & ~painted(plan, cuts))
        absent = [odd.name for odd in scene.odd if odd.kind == "unseen"]
        judged = _judged(found, plan, camera, photo, findings, absent)
        return Seen(judged, tuple(findings))

    cut = [s for s in strokes if isinstance(s, CutOut)]
    return plan, lighting, memory.recall("silhouette", (causes, cut), silhouette)


@dataclass(frozen=True)
class Seen:
    """The silhouette, and what there was to say of it."""

    silhouette: Silhouette
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Traced:
    """The edge as the program sees it, what it had to say, and round what looks like ground within
    it, (K, 2) mm each, mat frame."""

    edge: Edge
    findings: tuple[Finding, ...]
    holes: tuple[Array, ...] = ()

    @cached_property
    def labels(self) -> NDArray[np.str_]:
        """(N,) part of each point, before anything is corrected or lifted."""
        return split(self.edge.on_mat).labels


def places_of(mask: NDArray[np.bool_], plan: Plan, camera: Camera) -> Places:
    """Rings in the photo round what a mask of the plan marks on the mat."""
    return places_at(rings_of(mask, plan), camera)


def places_at(rings: Sequence[Array], camera: Camera) -> Places:
    """Rings on the mat, (K, 2) mm or (K, 3) mm each, as they are seen in the photo."""
    found = []
    for ring in rings:
        solid = ring if ring.shape[1] == 3 else np.column_stack([ring, np.zeros(len(ring))])
        found.append(
            tuple((round(float(x), 1), round(float(y), 1)) for x, y in camera.project(solid))
        )
    return tuple(found)


def _judged(
    silhouette: Silhouette | None,
    plan: Plan,
    camera: Camera,
    photo: str,
    findings: list[Finding],
    unseen: Sequence[str],
) -> Silhouette:
    if silhouette is None or silhouette.mask.sum() * plan.cell**2 < _LEAST_INSTRUMENT_MM2:
        raise NoInstrument(photo)
    if silhouette.others and silhouette.others[0] > _SECOND_OBJECT_MM2:
        places = places_of(_large(silhouette.pieces, plan), plan, camera)
        raise TwoObjects(photo, silhouette.others[0], places)
    if len(silhouette.touches_edge):
        place = silhouette.touches_edge.mean(axis=0)
        end = _end_at(silhouette.mask, plan.to_cells(place))
        places = places_of(silhouette.ends, plan, camera)
        raise BeyondTheMat(photo, silhouette.leaves_photo, place, end, places, unseen)
    crumbs = [a for a in silhouette.others if a > _CRUMB_MM2]
    crumbs += [a for a in silhouette.at_rim if a > _SECOND_OBJECT_MM2]
    if crumbs:
        findings.append(
            Finding(
                401,
                Level.CAUTION,
                f"{len(crumbs)} small thing(s) beside the instrument were"
                " left out of the outline. Look at the overlay picture.",
                places=places_of(silhouette.pieces, plan, camera),
            )
        )
    return silhouette


def _large(pieces: NDArray[np.bool_], plan: Plan) -> NDArray[np.bool_]:
    """The pieces that are objects of their own."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(pieces.astype(np.uint8), connectivity=8)
    large = stats[:, cv2.CC_STAT_AREA] * plan.cell**2 > _SECOND_OBJECT_MM2
    large[0] = False
    return np.asarray(large[labels], dtype=bool)


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
