"""What an order of work found before and need not find again, as long as nothing before it changed.

A correction by hand changes the edge, not the scene. Whoever measures the same job again and again,
as the page at the bench does, keeps one of these; whoever measures once needs none.
"""

from __future__ import annotations

import hashlib
import pickle
from collections import OrderedDict
from collections.abc import Callable
from typing import TypeVar, cast

T = TypeVar("T")

#: results kept for each stage: the job at hand, and the one before
_KEPT = 2


class Memory:
    """Results by stage and by all that they follow from. In memory only; for one process."""

    def __init__(self, kept: int = _KEPT) -> None:
        self._kept = kept
        self._stages: dict[str, OrderedDict[bytes, object]] = {}
        self._reached: dict[str, object] = {}

    def recall(self, stage: str, causes: object, make: Callable[[], T]) -> T:
        """What `make` gives, or gave for the same causes; what it raises is not kept.

        Args:
            stage: its name.
            causes: everything that the result follows from, as plain values and arrays.
            make: does the work.
        """
        key = hashlib.sha256(pickle.dumps(causes)).digest()
        found = self._stages.setdefault(stage, OrderedDict())
        if key not in found:
            found[key] = make()
            while len(found) > self._kept:
                found.popitem(last=False)
        found.move_to_end(key)
        self._reached[stage] = found[key]
        return cast(T, found[key])

    def begin(self) -> None:
        """A new run begins: no stage has been reached in it."""
        self._reached.clear()

    def reached(self, stage: str) -> object | None:
        """What a stage gave in this run; None where it was not reached, as after a refusal."""
        return self._reached.get(stage)
