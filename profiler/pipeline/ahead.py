"""Rooms that are needed late are loaded while the photo is being decoded.

Decoding and finding the targets are OpenCV's work, which leaves Python's lock free. Loading the
rooms behind them, with their filters, watershed, fonts and pages, takes as long and needs that
lock. On two cores one hides behind the other.
"""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread


def load_ahead(*rooms: str) -> None:
    """Begin to load rooms, by their full names, in a thread of their own; return at once."""

    def load() -> None:
        for room in rooms:
            # what is missing is told to whoever comes to need it; RuntimeError: the program has
            # ended meanwhile, and a room that registers its own end came too late
            with suppress(ImportError, RuntimeError):
                import_module(room)

    Thread(target=load, name="loading ahead").start()
