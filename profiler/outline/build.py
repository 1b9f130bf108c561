"""How a body is built, as its height tells: cut from the solid, or built up of thin wood."""

from __future__ import annotations

import numpy as np

#: a body no higher than the first of these is cut from the solid, one higher than the second is
#: built up; between them either may be, mm. Common practice, no source
_SLAB_MM, _SHELL_MM = 46.0, 54.0


def share_solid(high: float) -> float:
    """From 0, surely built up, to 1, surely cut from the solid, of a body so high, mm.

    Not to be asked of the violin family or of round backs: those are built up, however low.
    """
    return float(np.clip((_SHELL_MM - high) / (_SHELL_MM - _SLAB_MM), 0.0, 1.0))
