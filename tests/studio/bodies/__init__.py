"""Instruments of our own drawing, with invented names."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tests.studio.bodies.body import Body
from tests.studio.bodies.drawn import DUNLIN, MOOR, SKERRY, WREN
from tests.studio.bodies.flat_top import flat_top
from tests.studio.bodies.heron import heron
from tests.studio.meshes import part

_DRAWN = {c.name: c for c in (WREN, MOOR, SKERRY, DUNLIN)}


#: a mat alone
NONE = "none"


def _nothing() -> Body:
    """One small triangle, far out of sight."""
    points = np.array([(1e6, 0.0, 0.0), (1e6 + 1, 0.0, 0.0), (1e6, 1.0, 0.0)])
    return Body(NONE, (part("nothing", points, np.array([(0, 1, 2)]), "bone"),), (), {})


@lru_cache(maxsize=4)
def named(name: str) -> Body:
    """The instrument of that name.

    Raises:
        KeyError: there is none.
    """
    if name == NONE:
        return _nothing()
    return heron() if name == "heron" else flat_top(_DRAWN[name])
