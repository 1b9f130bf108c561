"""A contour gauge: needles in a bar, pressed against a neck's back and laid on the mat."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray

from tests.studio.bodies.body import Body, Place
from tests.studio.curves import rectangle
from tests.studio.cuts import STEP, Cut
from tests.studio.meshes import Part, joined, slab, turned

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Gauge:
    """The tool.

    Attributes:
        count, pitch, thick: of the needles, mm.
        length: of a needle.
        tips: 'round' or 'flat'.
        bar: thickness and width of the bar; the needles run through its middle.
        over: how far the needles beside the neck stand beyond its face.
        metal, frame: materials of needles and bar.
        looseness: how far a needle stays off the wood, at random, mm.
    """

    count: int = 140
    pitch: float = 1.0
    thick: float = 0.95
    length: float = 86.0
    tips: str = "round"
    bar: tuple[float, float] = (12.0, 20.0)
    over: float = 4.0
    metal: str = "steel"
    frame: str = "black_plastic"
    looseness: float = 0.02


@dataclass(frozen=True)
class Pressed:
    """How it was pressed on and laid down.

    Attributes:
        lean_deg: how far the hand held it from square to the face.
        offset: of the middle needle from the neck's middle, mm.
        from_head: it lies as seen from the head, not from the tail.
    """

    lean_deg: float = 0.0
    offset: float = 0.0
    from_head: bool = False


def tips_on(gauge: Gauge, cut: Cut, pressed: Pressed, rng: np.random.Generator) -> Array:
    """(count, 2) mm: where each needle's tip ends, along and across, in the cut's own frame turned.

    A needle rises until its tip touches wood anywhere across its thickness.
    """
    a = np.radians(pressed.lean_deg)
    y, z = cut.y, cut.back
    turned_y, turned_z = y * np.cos(a) - z * np.sin(a), y * np.sin(a) + z * np.cos(a)
    grid = np.arange(turned_y.min(), turned_y.max(), STEP)
    order = np.argsort(turned_y)
    back = np.interp(grid, turned_y[order], turned_z[order])
    places = (np.arange(gauge.count) - (gauge.count - 1) / 2) * gauge.pitch + pressed.offset
    r = gauge.thick / 2
    ends = np.empty(gauge.count)
    for k, at in enumerate(places):
        under = np.abs(grid - at) <= r
        drop = (
            r - np.sqrt(np.maximum(r**2 - (grid[under] - at) ** 2, 0.0))
            if gauge.tips == "round"
            else np.zeros(int(under.sum()))
        )
        touch = (back[under] + drop).min() if under.any() else np.inf
        ends[k] = min(touch - abs(rng.normal(0, gauge.looseness)), gauge.over)
    return np.column_stack([places, ends])


def gauge_body(gauge: Gauge, cut: Cut, pressed: Pressed, seed: int) -> Body:
    """The gauge in its own frame: x along the bar, y as the tips point, z up from the bench."""
    tips = tips_on(gauge, cut, pressed, np.random.default_rng(seed))
    side = 1.0 if pressed.from_head else -1.0  # seen from the tail, left is left
    height, r = gauge.bar[0] / 2, gauge.thick / 2
    axis = np.array([0.0, 1.0, 0.0])
    needles: list[Part] = []
    t = np.linspace(0.0, np.pi / 2, 6)
    for at, end in tips:
        if gauge.tips == "round":
            near = [(-gauge.length + r * (1 - np.cos(a)), max(r * np.sin(a), 0.02)) for a in t]
            far = [(-r * (1 - np.cos(a)), max(r * np.sin(a), 0.02)) for a in t[::-1]]
            profile = [*near, *far]
        else:
            profile = [(-gauge.length, r), (0.0, r)]
        base = np.array([side * at, end, height])
        needles.append(turned("needle", profile, axis, base, gauge.metal, 14))
    low = tips[:, 1].min() - 9.0
    x0, x1 = tips[:, 0].min() - 7.0, tips[:, 0].max() + 7.0
    frame = rectangle(x0, low - gauge.bar[1], x1, low, 2.0)
    bar = slab("bar", frame, 0.0, gauge.bar[0], gauge.frame, 0.8)
    on_bar = Place(
        "bar", np.array([0.0, low - gauge.bar[1] / 2, gauge.bar[0]]), np.array([1.0, 0, 0]),
        np.array([0, 0, 1.0]),
    )  # fmt: skip
    return Body("gauge", (joined("needles", needles), bar), (on_bar,), {})


def gauge_truth(gauge: Gauge, cut: Cut, pressed: Pressed) -> dict[str, object]:
    """What the accuracy table compares with; the program never reads it."""
    return {
        "section": [[round(float(v), 4) for v in p] for p in cut.polyline()],
        "width": round(cut.width, 4),
        "depth": round(cut.depth, 4),
        "gauge": asdict(gauge),
        "pressed": asdict(pressed),
    }
