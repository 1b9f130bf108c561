"""What a steel rule would read above the bench at a sample, where no card lies.

Tuner buttons, strap button, and a pegbox, on which there is no room for a card. A person sets the
rule to the middle of the outermost buttons' tips, and to the pegbox's upper edge half way from the
nut to the head's end, and reads whole millimetres.
"""

from __future__ import annotations

import numpy as np

from tests.studio.bodies import named

#: what stands out furthest of a button, and how near to the tail a strap button's tip is, mm
_TIP_MM, _STRAP_TIP_MM, _AT_TAIL_MM = 2.0, 4.0, 5.0
#: the rule stands within so much of the head's middle, mm
_AT_MIDDLE_MM = 6.0


def ruled(sample: str) -> dict[str, float]:
    """Part to mm above the bench, as `--height` takes them."""
    body = named(sample)
    tuners, strap, head = [], [], []
    # the scroll's, which is the head's too
    end = max(float(part.points[:, 0].max()) for part in body.parts)
    middle = (body.stations["nut"] + end) / 2
    for part in body.parts:
        if part.name == "pegbox":
            near = np.abs(part.points[:, 0] - middle) < _AT_MIDDLE_MM
            head.append(float(part.points[near, 2].max()))
        if part.name not in ("button", "peg head"):
            continue
        points = part.points
        if points[:, 0].mean() > body.stations["nut"]:
            out = np.abs(points[:, 1])
            tuners.append(_middle(points[out > out.max() - _TIP_MM, 2]))
        elif points[:, 0].min() < _AT_TAIL_MM:
            strap.append(_middle(points[points[:, 0] < points[:, 0].min() + _STRAP_TIP_MM, 2]))
    read = {"tuners": tuners, "button": strap, "headstock": head}
    return {part: float(round(np.mean(heights))) for part, heights in read.items() if heights}


def _middle(z: np.ndarray) -> float:
    return float(z.min() + z.max()) / 2
