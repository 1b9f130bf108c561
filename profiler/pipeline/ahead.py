"""Rooms that are needed late are loaded while the photo is being decoded.

Decoding and finding the targets are OpenCV's work, which leaves Python's lock free. Loading the
rooms behind them, with their filters, watershed, fonts and pages, takes as long and needs that
lock. On two cores one hides behind the other.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from importlib import import_module
from importlib.util import LazyLoader, find_spec, module_from_spec
from threading import Thread

#: SciPy copies every name of NumPy when it is loaded, and with these two would load a generator of
#: Fortran wrappers and a kit for tests, a tenth of all that is loaded: nothing here asks for them
_PUT_OFF = ("f2py", "testing")


def load_ahead(*rooms: str) -> None:
    """Begin to load rooms, by their full names, in a thread of their own; return at once."""

    def load() -> None:
        for name in _PUT_OFF:
            _put_off(name)
        for room in rooms:
            # what is missing is told to whoever comes to need it; RuntimeError: the program has
            # ended meanwhile, and a room that registers its own end came too late
            with suppress(ImportError, RuntimeError):
                import_module(room)

    Thread(target=load, name="loading ahead").start()


def _put_off(name: str) -> None:
    """Have a package of NumPy's loaded when something in it is asked for, not when it is named."""
    import numpy  # whoever is to answer at once does without it

    spec = find_spec(f"numpy.{name}")
    if name in vars(numpy) or spec is None or spec.loader is None:
        return
    spec.loader = LazyLoader(spec.loader)
    package = sys.modules[spec.name] = module_from_spec(spec)
    spec.loader.exec_module(package)
    setattr(numpy, name, package)
