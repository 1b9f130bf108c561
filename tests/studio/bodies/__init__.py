"""Instruments of our own drawing, with invented names."""

from __future__ import annotations

from functools import lru_cache

from tests.studio.bodies.body import Body
from tests.studio.bodies.small_four import small_four

_MAKERS = {"wren": small_four}


@lru_cache(maxsize=2)
def named(name: str) -> Body:
    """The instrument of that name.

    Raises:
        KeyError: there is none.
    """
    return _MAKERS[name]()
