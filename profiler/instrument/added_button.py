"""A strap button that no photo from above shows, put where a view from the side shows it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from profiler.instrument.assemble import PlanOutline
from profiler.outline.heights import EdgeHeight
from profiler.outline.spread import SCENE_SOURCES, Field

Array = NDArray[np.float64]
Kind = TypeVar("Kind", bound=np.generic)

#: buttons are put on the middle of the tail: by so much they miss it, mm, standard (common
#: practice, no source)
ASIDE_U_MM = 2.5
#: how well its edge is known besides, mm; its points are so far apart, mm
_EDGE_U_MM, _STEP_MM = 0.3, 1.0
#: what stands out of the body by less leaves the outline as it is, mm
_LEAST_MM = 1.0
#: what the doubts are called
_STANDS_OUT = "how far the strap button stands out"
_ACROSS = "where across the tail the strap button sits"


@dataclass(frozen=True)
class AddedButton:
    """A strap button as a view from the side tells it.

    Attributes:
        tip: (2,) mm, mat frame: the middle of its end.
        inward: (2,) unit vector, mat frame: along the instrument towards the head.
        half: mm, half its width.
        u: mm, standard uncertainty of how far along the instrument its end lies.
        height: of its middle.
        photo: that shows it.
    """

    tip: Array
    inward: Array
    half: float
    u: float
    height: EdgeHeight
    photo: str


def with_button(plan: PlanOutline, button: AddedButton) -> PlanOutline:
    """The outline with a strap button at its tail; as it is where one was seen from above.

    Args:
        plan: closed, anticlockwise.
        button: see there.
    """
    if (plan.labels == "button").any():
        return plan
    # x inward, y to its left, from the middle of the button's end
    left = np.array([-button.inward[1], button.inward[0]])
    axes = np.stack([button.inward, left])
    own = (plan.points - button.tip) @ axes.T
    covered = _behind(own, plan.labels == "body", button.half)
    if not len(covered) or own[covered, 0].min() < _LEAST_MM:
        return plan
    # anticlockwise, a tail is run down from the button's left to its right
    n = len(own)
    kept = (covered[-1] + 1 + np.arange(n - len(covered))) % n
    edge = _three_sides(float(own[kept[-1], 0]), float(own[kept[0], 0]), button.half)
    near = covered[np.argmin(np.abs(own[covered, 1][None] - edge[:, 1:]), axis=1)]
    count = len(edge)
    none = np.zeros((len(kept), 2))

    def longer(values: NDArray[Kind], added: object) -> NDArray[Kind]:
        return np.concatenate([values[kept], np.full(count, added).astype(values.dtype)])

    fields = [
        # where it ends was seen: the body's heights and edges do not move it
        Field(
            f.source,
            np.concatenate([f.shift[kept], f.shift[near] * (f.source in SCENE_SOURCES)]),
        )
        for f in plan.fields
    ]
    for source, moved in ((_STANDS_OUT, button.u * axes[0]), (_ACROSS, ASIDE_U_MM * axes[1])):
        fields.append(Field(source, np.concatenate([none, np.tile(moved, (count, 1))])))
    return replace(
        plan,
        points=np.concatenate([plan.points[kept], button.tip + edge @ axes]),
        labels=longer(plan.labels.astype("<U16"), "button"),
        known=longer(plan.known, True),
        bridged=longer(plan.bridged, True),
        sigma=longer(plan.sigma, _EDGE_U_MM),
        mistaken=longer(plan.mistaken, 0.0),
        fields=fields,
        drawn=None if plan.drawn is None else longer(plan.drawn, False),
    )


def _behind(own: Array, body: NDArray[np.bool_], half: float) -> NDArray[np.intp]:
    """The run of the body's points behind a button, in their order."""
    mine = body & (np.abs(own[:, 1]) < half)
    tail = np.flatnonzero(mine)
    if not len(tail):
        return tail
    n, start = len(own), int(tail[np.argmin(own[tail, 0])])
    ends = []
    for way in (-1, 1):
        k = start
        while mine[(k + way) % n] and abs(k - start) < n:
            k += way
        ends.append(k)
    return np.arange(ends[0], ends[1] + 1) % n


def _three_sides(left: float, right: float, half: float) -> Array:
    """(K, 2) from the body round the end back to the body; it meets the body at these x."""
    corners = np.array([(left, half), (0.0, half), (0.0, -half), (right, -half)])
    sides = []
    for a, b in pairwise(corners):
        steps = max(int(np.ceil(np.hypot(*(b - a)) / _STEP_MM)), 1)
        sides.append(a + np.linspace(0.0, 1.0, steps, endpoint=False)[:, None] * (b - a))
    return np.concatenate([*sides, corners[-1:]])
