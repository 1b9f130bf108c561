"""What an outline's own shape says against it: steps, and sides that are not alike.

Nothing in the photo told that the edge was lost there. The outline is left as it is, in doubt by so
many mm, and a person is told where to look.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.spatial import cKDTree

from profiler.findings import Finding, Level
from profiler.geometry.curves import runs_of
from profiler.instrument.assemble import BY_HAND
from profiler.instrument.propagation import less_certain
from profiler.instrument.record import Measurement, Quantity, Stretch
from profiler.outline.corners import has_corners
from profiler.outline.steps import find_steps
from profiler.outline.unlike import unlike_sides
from profiler.pipeline.advice import JUMPS, UNLIKE_SIDES

Array = NDArray[np.float64]

#: where two parts meet the outline has a corner, so far along it, mm
_BESIDE_OTHERS_MM = 8.0
#: what is in doubt beside a step, and settled beside what a person drew, mm
_BESIDE_MM = 12.0
#: sides that differ over fewer points, and places nearer along the body than this, mm, need no word
#: of their own; with fewer points between them they are one place; more than so many are not named
_LEAST_POINTS, _SAME_PLACE_MM, _JOINED_POINTS, _MOST_NAMED = 8, 25.0, 9, 3
#: an outline's widest points lie within this of the widest, mm, and a width's ends within this of
#: half of it from the centreline
_END_MM, _AT_END_MM = 1.0, 12.0
_PARTS = ("body", "neck")
#: where a body's outline jumps so often, what is between is as likely wrong (a guess)
_ALL_OVER = 3


@dataclass(frozen=True)
class _Suspect:
    """Attributes:
    points: (K,) indices of the outline's points that are in doubt.
    place: (2,) mm, what a person is told of it.
    mm: by so much.
    why: in words.
    """

    points: NDArray[np.intp]
    place: Array
    mm: float
    why: str


def suspected(measurement: Measurement) -> tuple[Measurement, list[Finding]]:
    """The measurement, in doubt where its outline's shape speaks against it, and what a person is
    told of that. Widths that end there are in doubt too; area is left as it is, and the length
    unless all of the body is in doubt."""
    outline, u95 = np.asarray(measurement.outline), np.array(measurement.outline_u95)
    may = _clear_of_others(measurement) & ~_drawn(measurement)
    steps, unlike = _steps(measurement, may), _unlike(measurement, may)
    all_over = _all_over(measurement, steps)
    suspects = [*steps, *unlike, *all_over]
    if not suspects:
        return measurement, []
    flags = np.zeros(len(outline), dtype=bool)
    jumps, others = flags.copy(), flags.copy()
    for suspect in suspects:
        u95[suspect.points] = np.maximum(u95[suspect.points], suspect.mm)
        (jumps if suspect.why == JUMPS else others)[suspect.points] = True
    stretches = [
        Stretch(int(run[0]), int(run[-1]), why)
        for marked, why in ((jumps, JUMPS), (others, UNLIKE_SIDES))
        if marked.any()
        for run in runs_of(marked)
    ]
    (longer, across), widest = measurement.box, _widest(outline)
    tail = np.flatnonzero(outline[:, 0] < outline[:, 0].min() + _END_MM)
    doubted = replace(
        measurement,
        length=_doubted(measurement.length, all_over, tail),
        outline_u95=u95,
        doubtful=(*stretches, *measurement.doubtful),
        width=_doubted(measurement.width, suspects, widest),
        box=(_doubted(longer, all_over, tail), _doubted(across, suspects, widest)),
        widths={
            name: _doubted(width, suspects, _ends(width, outline))
            for name, width in measurement.widths.items()
        },
    )
    told_steps = _told_steps(steps, bool(all_over))
    return doubted, [told for told in (told_steps, _told_unlike(unlike)) if told]


def _clear_of_others(measurement: Measurement) -> NDArray[np.bool_]:
    """(N,) points of the body and the neck, not near another part: between parts are corners."""
    outline, labels = np.asarray(measurement.outline), np.asarray(measurement.outline_part)
    may = np.zeros(len(outline), dtype=bool)
    for part in _PARTS:
        mine = labels == part
        may[mine] = True
        if mine.any() and not mine.all():
            may[mine] = cKDTree(outline[~mine]).query(outline[mine])[0] > _BESIDE_OTHERS_MM
    return may


def _steps(measurement: Measurement, may: NDArray[np.bool_]) -> list[_Suspect]:
    outline, labels = np.asarray(measurement.outline), np.asarray(measurement.outline_part)
    neck = outline[labels == "neck", 0]
    join = float(neck.min() if len(neck) else outline[:, 0].max())
    found = []
    for step in find_steps(outline, may, join, has_corners(outline, join)):
        beside = np.flatnonzero(np.hypot(*(outline - step.place).T) < _BESIDE_MM)
        # where its ± is as wide, that has been told
        if len(beside) and np.median(measurement.outline_u95[beside]) < step.height:
            found.append(_Suspect(beside, step.place, step.height, JUMPS))
    return found


def _all_over(measurement: Measurement, steps: Sequence[_Suspect]) -> list[_Suspect]:
    """All of a body whose outline jumps here and there and everywhere, by as much as it mostly
    does: brackets and hooks stand out of it, or its edge comes and goes."""
    body = np.asarray(measurement.outline_part) == "body"
    mine = [s for s in steps if body[s.points].any()]
    if len(mine) < _ALL_OVER:
        return []
    whole = np.isin(np.asarray(measurement.outline_part), ("body", "button"))
    usual = float(np.median([s.mm for s in mine]))
    return [_Suspect(np.flatnonzero(whole), mine[0].place, usual, JUMPS)]


def _unlike(measurement: Measurement, may: NDArray[np.bool_]) -> list[_Suspect]:
    outline, labels = np.asarray(measurement.outline), np.asarray(measurement.outline_part)
    body = (labels == "body") & may
    apart = unlike_sides(outline, np.asarray(measurement.outline_u95), body)
    near = maximum_filter1d(apart, _JOINED_POINTS, mode="wrap") > 0
    found = []
    for run in runs_of(near) if near.any() else []:
        run = run[apart[run] > 0]
        if len(run) >= _LEAST_POINTS:
            worst = run[np.argmax(apart[run])]
            found.append(_Suspect(run, outline[worst], float(apart[worst]), UNLIKE_SIDES))
    return found


def _drawn(measurement: Measurement) -> NDArray[np.bool_]:
    """(N,) points that a person drew, or whose mirror image, or that lie beside one."""
    outline = np.asarray(measurement.outline)
    settled = np.zeros(len(outline), dtype=bool)
    for stretch in measurement.doubtful:
        if BY_HAND in stretch.reason:
            drawn = outline[stretch.indices(len(outline))]
            beside = cKDTree(np.vstack([drawn, drawn * (1.0, -1.0)])).query(outline)[0]
            settled |= beside < _BESIDE_MM
    return settled


def _widest(outline: Array) -> NDArray[np.intp]:
    """Indices of the points between which an outline is widest."""
    y = outline[:, 1]
    return np.flatnonzero((y > y.max() - _END_MM) | (y < y.min() + _END_MM))


def _ends(width: Quantity, outline: Array) -> NDArray[np.intp]:
    """Indices of the points at the ends of a width."""
    if width.x is None or width.value is None:
        return np.zeros(0, dtype=np.intp)
    along, across = np.abs(outline[:, 0] - width.x), np.abs(outline[:, 1])
    return np.flatnonzero(
        (along < _BESIDE_MM / 2) & (np.abs(across - width.value / 2) < _AT_END_MM)
    )


def _doubted(width: Quantity, suspects: Sequence[_Suspect], ends: NDArray[np.intp]) -> Quantity:
    """A width in doubt where one of its ends lies in what is suspected."""
    here = [s for s in suspects if np.isin(s.points, ends).any()]
    if not here:
        return width
    worst = max(here, key=lambda s: s.mm)
    return less_certain(width, worst.why, worst.mm)


def _told_steps(steps: Sequence[_Suspect], all_over: bool) -> Finding | None:
    if not steps:
        return None
    places = ", ".join(
        f"{s.mm:.0f} mm at {s.place[0]:.0f} mm from the tail on the"
        f" {'left' if s.place[1] > 0 else 'right'}"
        for s in steps
    )
    return Finding(
        308,
        Level.DOUBT,
        f"The outline jumps aside as hardly a side does: {places}."
        + (" In so many places that the rest of the body is in doubt as well." if all_over else "")
        + " Its edge was probably lost there"
        " in a side that mirrors the mat, in shadow or in print; or a rest or the like stands over"
        " it. Look at the overlay, red there."
        " Take another photo from elsewhere or in other light, or draw the edge on the page"
        " ('profiler serve').",
    )


def _told_unlike(unlike: Sequence[_Suspect]) -> Finding | None:
    if not unlike:
        return None
    places: list[_Suspect] = []
    for suspect in sorted(unlike, key=lambda s: -s.mm):
        if all(abs(float(suspect.place[0] - p.place[0])) > _SAME_PLACE_MM for p in places):
            places.append(suspect)
    where = ", ".join(
        f"{s.mm:.0f} mm at {s.place[0]:.0f} mm from the tail" for s in places[:_MOST_NAMED]
    )
    if len(places) > _MOST_NAMED:
        where += f" and {len(places) - _MOST_NAMED} more"
    return Finding(
        309,
        Level.CAUTION,
        "The left and the right side of the body are alike, but for some places where they differ:"
        f" {where}. If it was not made so, the edge was lost there on one side, in a side that"
        " mirrors the mat or in shadow. The overlay is red there and the ± as wide. Hold a rule"
        " across, take another photo from elsewhere, or draw the edge on the page"
        " ('profiler serve').",
    )
