"""Instruments of our own drawing, with invented names."""

from __future__ import annotations

from functools import lru_cache

from tests.studio.bodies.body import Body
from tests.studio.bodies.drawn import DUNLIN, MOOR, SKERRY, WREN
from tests.studio.bodies.flat_top import flat_top
from tests.studio.bodies.heron import heron

_DRAWN = {c.name: c for c in (WREN, MOOR, SKERRY, DUNLIN)}


@lru_cache(maxsize=8)
def named(name: str) -> Body:
    """The instrument of that name.

    Raises:
        KeyError: there is none.
    """
    return heron() if name == "heron" else flat_top(_DRAWN[name])
