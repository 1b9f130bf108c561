"""Instruments of our own invention, as measured records, for the tests of the sheets."""

from __future__ import annotations

import numpy as np

from profiler.instrument.record import (
    Frame2D,
    Measurement,
    PartHeight,
    Quantity,
    Stretch,
    missing,
)

Array = np.ndarray


def guitarish(count: int = 1600, length: float = 640.0, bout: float = 225.0) -> Array:
    """(N, 2) mm: body with two bouts and a waist, neck and headstock; invented."""
    body = 0.62 * length
    x = np.linspace(0.0, length, count // 2)
    t = np.clip(x / body, 0, 1)
    envelope = np.sqrt(np.clip(1 - (2 * t - 1) ** 8, 0, None))
    half = bout / 2 * envelope * (0.86 - 0.14 * np.cos(4 * np.pi * (t - 0.02)) * 0.9 - 0.22 * t)
    half = bout / 2 * envelope * (0.78 + 0.22 * np.cos(3.6 * np.pi * (t - 0.27)) - 0.12 * t)
    neck = 18.0 + 0.02 * (length - x)
    head = 30.0 - 0.06 * (x - (length - 110.0))
    half = np.where(x < body, np.maximum(half, np.where(t > 0.9, neck, 0)), neck)
    half = np.where(x > length - 110.0, head, half)
    upper = np.column_stack([x, half])
    lower = np.column_stack([x[::-1], -half[::-1]])
    outline = np.vstack([lower[::-1], upper[::-1]])
    keep = np.hypot(*(outline - np.roll(outline, 1, axis=0)).T) > 1e-9
    return outline[keep]


def measurement(
    outline: Array | None = None, doubtful: bool = True, reason: str = "tuner height not known"
) -> Measurement:
    """A full record round an outline; the numbers are what the outline says, the u95 invented."""
    outline = guitarish() if outline is None else outline
    count = len(outline)
    x, y = outline.T
    length, width = float(np.ptp(x)), float(np.ptp(y))

    def across(at: float, name_u: float) -> Quantity:
        near = np.abs(x - at) < max(2.0, 2.5 * length / count)
        return Quantity(float(np.ptp(y[near])), name_u, x=at)

    widths = {
        "lower bout": across(0.16 * length, 0.42),
        "waist": across(0.36 * length, 0.45),
        "upper bout": across(0.50 * length, 0.5),
        "nut": across(length - 112.0, 0.6),
        "headstock": across(length - 60.0, 1.13),
        "neck at the body": missing("the joint was not found"),
    }
    stretches = (
        (
            Stretch(int(0.46 * count), int(0.52 * count), reason),
            Stretch(int(0.9 * count), int(0.93 * count), "the edge is in shadow"),
        )
        if doubtful
        else ()
    )
    return Measurement(
        outline=outline,
        outline_u95=np.full(count, 0.4),
        outline_part=("body",) * count,
        doubtful=stretches,
        length=Quantity(length, 0.44),
        width=Quantity(width, 0.38),
        height=missing("no side view and no height was given"),
        widths=widths,
        box=(Quantity(length, 0.44), Quantity(width, 0.4)),
        area=Quantity(1e5, 300.0),
        heights=(PartHeight("body", Quantity(72.0, 0.4), "card 2"),),
        frame=Frame2D(0.0, (0.0, 0.0)),
        symmetric=True,
    )
