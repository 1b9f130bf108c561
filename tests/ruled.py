"""What a steel rule would read above the bench at a sample: tuner buttons and strap button.

A person sets it to the middle of the outermost buttons' tips, and reads whole millimetres.
"""

from __future__ import annotations

import numpy as np

from tests.studio.bodies import named

#: what stands out furthest of a button, and how near to the tail a strap button's tip is, mm
_TIP_MM, _STRAP_TIP_MM, _AT_TAIL_MM = 2.0, 4.0, 5.0


def ruled(sample: str) -> dict[str, float]:
    """Part to mm above the bench, as `--height` takes them."""
    body = named(sample)
    tuners, strap = [], []
    for part in body.parts:
        if part.name not in ("button", "peg head"):
            continue
        points = part.points
        if points[:, 0].mean() > body.stations["nut"]:
            out = np.abs(points[:, 1])
            tuners.append(_middle(points[out > out.max() - _TIP_MM, 2]))
        elif points[:, 0].min() < _AT_TAIL_MM:
            strap.append(_middle(points[points[:, 0] < points[:, 0].min() + _STRAP_TIP_MM, 2]))
    read = {"tuners": tuners, "button": strap}
    return {part: float(round(np.mean(heights))) for part, heights in read.items() if heights}


def _middle(z: np.ndarray) -> float:
    return float(z.min() + z.max()) / 2
