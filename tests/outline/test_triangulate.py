"""Which points of an edge may tell of its height."""

from __future__ import annotations

import numpy as np

from profiler.outline.triangulate import _corners


def test_a_long_run_loses_its_corners_and_a_short_one_keeps_its_middle() -> None:
    change = np.zeros(60, dtype=bool)
    change[[5, 12, 40]] = True  # 7 points of a button, 28 and 25 of its neighbours
    near = _corners(change)
    assert not near[6:11].any()  # all but one at either end
    assert near[[5, 11]].all()
    assert near[12:15].all()
    assert near[[37, 38, 39]].all()
    assert not near[15:37].any()
    # the last run goes on over the seam
    assert near[2:5].all()
    assert not near[43:60].any()
    assert not _corners(np.zeros(60, dtype=bool)).any()
