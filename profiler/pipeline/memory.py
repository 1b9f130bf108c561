"""What an order of work found before and need not find again, as long as nothing before it changed.

A correction by hand changes the edge, not the scene. Whoever measures the same job again and again,
as the page at the bench does, keeps one of these; whoever measures once needs none.
"""

from __future__ import annotations

import hashlib
import pickle
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import TypeVar, cast

T = TypeVar("T")

#: results kept for each stage: the job at hand, and the one before
_KEPT = 2


def key_of(causes: object) -> bytes:
    """The same for causes that say the same, whatever was worked out of them on the way.

    A pickle will not do: it holds what a value has remembered of itself, and which of its pieces
    are one object.
    """
    found = hashlib.sha256()
    _told(causes, found.update)
    return found.digest()


def _told(value: object, tell: Callable[[bytes], None]) -> None:
    """Each piece with its kind and length before it, so that no two trees read alike."""
    if is_dataclass(value) and not isinstance(value, type):
        parts: list[object] = [getattr(value, field.name) for field in fields(value)]
    elif isinstance(value, list | tuple):
        parts = list(value)
    elif isinstance(value, dict):
        parts = [part for item in value.items() for part in item]
    else:
        data = pickle.dumps(value)
        tell(b"value %d " % len(data) + data)
        return
    kind = f"{type(value).__module__}.{type(value).__qualname__} {len(parts)} "
    tell(kind.encode())
    for part in parts:
        _told(part, tell)


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
        key = key_of(causes)
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

    def made(self, stage: str) -> int:
        """How many results of a stage are kept."""
        return len(self._stages.get(stage, ()))
