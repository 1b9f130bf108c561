"""Hollow bodies with a flat top at z = 0: straight sides, or a bowl."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.studio.curves import Curve, circle
from tests.studio.meshes import Part, loft, sheet, skirt, turned

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Shell:
    """Below the soundboard.

    Attributes:
        depth: (tail, neck) mm.
        length: mm over which the depth goes from one to the other.
        hole: x, radius of the soundhole, or None.
        bowl: how far a round back bulges out beyond the rim, as a share; None for a flat back.
    """

    depth: tuple[float, float]
    length: float
    hole: tuple[float, float] | None
    top: str
    side: str
    binding: str
    binding_mm: float = 2.2
    bowl: float | None = None

    def floor(self, x: Array) -> Array:
        """z of the back, mm."""
        a, b = self.depth
        return -(a + (b - a) * np.clip(x / self.length, 0.0, 1.1))


def shell(plan: Curve, s: Shell) -> list[Part]:
    """The closed body, with the inside that shows through the hole."""
    floor = s.floor(plan.points[:, 0])
    under = -6.0
    a = np.linspace(0.0, np.pi / 2, 6)
    # the binding's two faces with a broken edge between them
    edge = [(0.0, under), (0.0, -0.9)]
    edge += [(0.9 * (1 - np.cos(t)), -0.9 * (1 - np.sin(t))) for t in a[1:]]
    edge += [(s.binding_mm, 0.0)]
    holes = [circle(s.hole[0], 0.0, s.hole[1], 160).points[::-1]] if s.hole else []
    parts = [
        skirt("binding", plan, edge, s.binding),
        sheet("top", plan.inset(s.binding_mm), 0.0, s.top, holes),
    ]
    if s.bowl is None:
        rounded = [
            np.column_stack([plan.inset(2.5 * (1 - np.sin(t))), floor + 2.5 * (1 - np.cos(t))])
            for t in a
        ]
        upper = np.column_stack([plan.points, np.full(len(floor), under)])
        parts += [
            loft("sides", np.stack([*rounded, upper]), s.side),
            sheet("back", plan.inset(2.5), lambda p: s.floor(p[:, 0]), s.side, up=False),
            sheet("inside", plan.inset(4.0), lambda p: s.floor(p[:, 0]) + 2.2, "inside"),
        ]
    else:
        middle = np.array([0.42 * s.length, 0.0])
        rings = []
        for t in np.linspace(np.pi / 2, 0.0, 121):
            grow = np.cos(t) + s.bowl * np.sin(2 * t)
            ring = middle + (plan.points - middle) * grow
            rings.append(np.column_stack([ring, under + (s.floor(ring[:, 0]) - under) * np.sin(t)]))
        parts += [
            loft("bowl", np.stack(rings), s.side),
            sheet("inside", plan.inset(8.0), lambda p: s.floor(p[:, 0]) * 0.6, "inside"),
        ]
    if s.hole:
        x, r = s.hole
        rim = circle(x, 0.0, r, 160)
        wall = [np.column_stack([rim.points, np.full(160, z)])[::-1] for z in (-2.2, 0.0)]
        parts += [
            loft("hole wall", np.stack(wall), "spruce_end"),
            sheet("rosette", circle(x, 0.0, 1.37 * r, 200).points, 0.015, "rosette",
                  [circle(x, 0.0, 1.1 * r, 160).points]),
        ]  # fmt: skip
    return parts


def strap_button(x: float, z: float, scale: float, axis: tuple[float, float, float] = (-1, 0, 0),
                 y: float = 0.0, material: str = "black_plastic") -> Part:  # fmt: skip
    """A button that a strap hangs on, standing on the wood at a point."""
    s = scale
    profile = [(-3, 4.2), (0, 4.6), (1.5, 4.0), (4.5, 3.6), (6.5, 5.2), (8.0, 6.6), (9.2, 7.0),
               (10.2, 6.6), (11.0, 5.2), (11.3, 3.0)]  # fmt: skip
    return turned(
        "button", [(a * s, r * s) for a, r in profile], np.array(axis, dtype=float),
        np.array([x, y, z]), material, 64,
    )  # fmt: skip
