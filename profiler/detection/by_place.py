"""Measuring points whose tag is hidden: found by where their sheet must lie.

An instrument covers a target's tag and leaves some of its checks bare. A check has no name of its
own, but on a sheet whose place is known to less than the distance of two checks its place names it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.detection.observe import checks_seen, observe
from profiler.target.panel import Panel

Array = NDArray[np.float64]

#: the sheet may lie so far from where it is thought to, mm: less than half way to the next check
_REACH_MM = 7.0
#: shifts are tried in steps of this part of a check's side: a check is found from half of it
_STEP = 0.5
#: so many checks have to be found at one shift, and so many more than at any shift further away
_LEAST, _CLEARLY = 3, 1


def observed_by_place(
    gray: NDArray[np.uint8], index: int, panel: Panel, project: Callable[[Array], Array]
) -> Observations | None:
    """The saddles of a panel of which no tag was read; None where too few are found to be sure.

    Args:
        gray: (H, W).
        index: of the panel, for the observations.
        panel: with its targets.
        project: from (N, 2) designed mm on the panel to (N, 2) px, as far as it is known.
    """
    step = _STEP * panel.clusters[0].check_mm
    count = int(np.ceil(_REACH_MM / step))
    tries = [
        np.array([dx, dy]) * step
        for dx in range(-count, count + 1)
        for dy in range(-count, count + 1)
    ]
    found = np.array([_seen_at(gray, panel, project, shift) for shift in tries])
    best = int(np.argmax(found))
    far = np.array([np.hypot(*(shift - tries[best])) > 2 * step for shift in tries])
    if found[best] < _LEAST or found[best] < found[far].max(initial=0) + _CLEARLY:
        return None
    tags = {c.code: project(c.tag_corners() + tries[best]) for c in panel.clusters}
    seen = observe(gray, tags, [panel])
    return Observations(
        np.full(len(seen), index, dtype=np.intp), seen.code, seen.local, seen.pixels, seen.sigma
    )


def _seen_at(
    gray: NDArray[np.uint8], panel: Panel, project: Callable[[Array], Array], shift: Array
) -> int:
    return sum(checks_seen(gray, project(c.tag_corners() + shift), c) for c in panel.clusters)
