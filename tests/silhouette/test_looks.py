"""The usual look of an edge is the median of its neighbours', however it is worked out."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.silhouette.looks import NEIGHBOURS, usual_looks


@pytest.mark.parametrize(("count", "asked_count"), [(NEIGHBOURS + 1, 7), (700, 650)])
def test_usual_looks_are_medians(count: int, asked_count: int) -> None:
    rng = np.random.default_rng(count)
    looks = rng.standard_normal((1000, 4, 3))
    known = np.sort(rng.choice(1000, count, replace=False))
    asked = np.sort(rng.choice(1000, asked_count, replace=False))
    before, after = usual_looks(looks, known, asked)
    for k, point in enumerate(asked):
        place = int(np.searchsorted(known, point))
        for usual, first in ((before, place - NEIGHBOURS), (after, place)):
            beside = known[(first + np.arange(NEIGHBOURS)) % count]
            assert (usual[k] == np.median(looks[beside], axis=0)).all()
