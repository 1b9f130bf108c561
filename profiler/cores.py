"""Work whose pieces do not ask each other, shared among a small machine's two cores."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Piece = TypeVar("Piece")
Done = TypeVar("Done")

_CORES = 2


def on_cores(work: Callable[[Piece], Done], pieces: Iterable[Piece]) -> list[Done]:
    """What the work makes of each piece, in the order of the pieces.

    Threads: it pays where most of the work leaves Python's lock, as OpenCV and NumPy do.
    """
    with ThreadPoolExecutor(max_workers=_CORES) as cores:
        return list(cores.map(work, pieces))
