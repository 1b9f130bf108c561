"""Invented instruments with a solid that is known by its formula.

The true cross-section at any place is computed here, apart from the program: a superellipse for
the neck's back, a slanted plate or a carved box with pegs and a scroll for the headstock, turned
buttons.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from profiler.instrument.lofts import HeightLine
from profiler.instrument.record import Frame2D, Measurement, Quantity, missing
from profiler.instrument.sections import Section
from profiler.instrument.shaping import BodySides, ButtonShape, HeadShape, build_solid
from profiler.instrument.solid import Solid

Array = np.ndarray


@dataclass(frozen=True)
class Made:
    """One instrument by its numbers, mm; x from the tail.

    Attributes:
        join, nut, tip: ends of body, neck and headstock.
        width: of the lower bout.
        neck: (half width, depth) at join and at nut.
        square: exponent of the back's superellipse: 2 is round, more squarer, less a V.
        skew: how far the lowest line of the neck lies left of its middle.
        face: height of the neck's face at join and at nut.
        lowest, tilt, thick: of the headstock.
        tuners: x of each along the headstock.
        button: diameter, length, height.
        carved: the head is a box with pegs that ends in a scroll; of it the program is told its
            lowest point alone.
    """

    join: float = 300.0
    nut: float = 520.0
    tip: float = 640.0
    width: float = 226.0
    neck: tuple[tuple[float, float], tuple[float, float]] = ((22.0, 24.0), (17.5, 19.0))
    square: float = 2.3
    skew: float = 0.0
    face: tuple[float, float] = (72.0, 64.0)
    side: tuple[float, float] = (0.0, 70.0)
    lowest: float = 22.0
    tilt: float = 8.0
    thick: float = 13.0
    head: float = 33.0
    tuners: tuple[float, ...] = (550.0, 585.0)
    button: tuple[float, float, float] = (13.0, 10.0, 40.0)
    carved: bool = False

    def neck_at(self, x: float) -> tuple[float, float, float]:
        """Half width, depth, height of the face."""
        t = (x - self.join) / (self.nut - self.join)
        (a, b), (c, d) = self.neck
        return a + t * (c - a), b + t * (d - b), self.face[0] + t * (self.face[1] - self.face[0])

    def profile(self, x: float, count: int = 121) -> Array:
        """(count, 2) y and z of the neck's back in the section frame, right to left."""
        half, depth, _ = self.neck_at(x)
        a = np.linspace(-np.pi / 2, np.pi / 2, count)
        s, c = np.sin(a), np.cos(a)
        y = half * np.sign(s) * np.abs(s) ** (2 / self.square)
        z = -depth * np.abs(c) ** (2 / self.square)
        return np.column_stack([y + self.skew * (-z / depth), z])

    def true_slice(self, x: float) -> shapely.Polygon:
        """y, z above the bench of all that hangs below: neck, headstock, tuners, or button."""
        if self.join + 5 < x <= self.nut:
            return shapely.Polygon(self.profile(x) + np.array([0.0, self.neck_at(x)[2]]))
        if self.carved and self.nut < x < self.tip:
            return self.carved_slice(x)
        if self.nut < x < self.tip:
            tilt = np.radians(self.tilt)
            rise, up = np.tan(tilt), self.thick / np.cos(tilt)
            if self.tilt < 0:
                z = self.lowest - rise * (x - self.nut)
                return shapely.box(-self.head, z, self.head, z + up)
            # its end is square to its face, whose corner is the outline's
            corner = self.tip - self.thick * np.sin(tilt)
            z = self.lowest + rise * (corner - x)
            low = z if x <= corner else self.lowest + (x - corner) / rise
            return shapely.box(-self.head, low, self.head, z + up)
        if -self.button[1] <= x <= 0.0:
            return shapely.Point(0.0, self.button[2]).buffer(self.button[0] / 2, quad_segs=32)
        return shapely.Polygon()

    def carved_slice(self, x: float) -> shapely.Polygon:
        """Of the carved head: it hangs lowest three quarters along, at the scroll."""
        t = (x - self.nut) / (self.tip - self.nut)
        hangs = max(0.0, 1.0 - ((t - 0.75) / 0.75) ** 2)
        face = self.face[1]
        low = self.lowest + (1.0 - hangs) * 0.6 * (face - self.lowest)
        found = [shapely.box(-self.head, low, self.head, face)]
        out = self.head + 18.0
        found += [
            shapely.box(-out, low + 4.0, out, low + 10.0) for at in self.tuners if abs(x - at) < 6.0
        ]
        return shapely.union_all(found)

    @property
    def outline(self) -> shapely.Polygon:
        """From above, the button's end at x = -length."""
        w = self.width / 2
        t = np.linspace(0.0, np.pi, 160)
        x = self.join / 2 * (1 - np.cos(t))
        y = w * np.sin(t) ** 0.6 * (1 - 0.18 * np.sin(t) ** 4 * (np.cos(2 * t) + 1) / 2)
        body = shapely.Polygon(np.vstack([np.column_stack([x, -y]), np.column_stack([x, y])[::-1]]))
        (a, _), (c, _) = self.neck
        parts = [
            body.buffer(0),
            shapely.Polygon(
                [(self.join - 30, -a), (self.nut, -c), (self.nut, c), (self.join - 30, a)]
            ),
            shapely.box(self.nut, -self.head, self.tip, self.head),
        ]
        parts += [shapely.box(x - 6, -self.head - 18, x + 6, self.head + 18) for x in self.tuners]
        if self.button[0]:
            d, long, _ = self.button
            parts.append(shapely.box(-long, -d / 2, 2.0, d / 2))
        return shapely.orient_polygons(shapely.union_all(parts))

    def measurement(self, u95: float = 0.3) -> Measurement:
        ring = np.array(shapely.segmentize(self.outline, 1.5).exterior.coords)[:-1]
        x, y = ring.T
        part = np.where(x < self.join, "body", np.where(x < self.nut, "neck", "headstock"))
        part = part.astype("<U9")
        part[(x > self.nut) & (np.abs(y) > self.head + 0.2)] = "tuners"
        part[x < -0.2] = "button"
        length, width = float(np.ptp(x)), float(np.ptp(y))
        return Measurement(
            outline=ring,
            outline_u95=np.full(len(ring), u95),
            outline_part=tuple(map(str, part)),
            doubtful=(),
            length=Quantity(length, u95),
            width=Quantity(width, u95),
            height=Quantity(self.side[1] + 12.0, 0.5),
            widths={"nut": Quantity(2 * self.neck[1][0], 0.3, x=self.nut)},
            box=(Quantity(length, u95), Quantity(width, u95)),
            area=missing("not taken"),
            heights=(),
            frame=Frame2D(0.0, (0.0, 0.0)),
            symmetric=True,
        )

    def section(self, x: float, u95: float = 0.2) -> Section:
        points = self.profile(x)
        half, depth, face = self.neck_at(x)
        return Section(
            f"neck at {x:.0f} mm",
            x,
            points,
            Quantity(2 * half, 0.2),
            Quantity(depth, 0.2),
            missing("not taken"),
            np.full(len(points), u95),
            Quantity(face, 0.3),
            "gauge",
        )

    def solid(self, stations: tuple[float, ...] | None = None) -> Solid:
        """What the program makes of it."""
        xs = stations or (self.join + 60.0, self.nut - 25.0)
        d, long, z = self.button
        return build_solid(
            self.measurement(),
            [self.section(x) for x in xs],
            HeadShape(self.lowest, 0.0, 0.0, 0.5, carved=True)
            if self.carved
            else HeadShape(self.lowest, self.tilt, self.thick, 0.5),
            ButtonShape(d, long, z) if d else None,
            BodySides(
                HeightLine(((self.join / 2, self.side[0], 0.5),)),
                HeightLine(((self.join / 2, self.side[1], 0.5),)),
            ),
        )


def random_made(seed: int) -> Made:
    """Ukulele to guitar, round backs and Vs, askew ones, heads tilted either way or carved."""
    rng = np.random.default_rng(seed)
    join = rng.uniform(220, 520)
    nut = join + rng.uniform(0.6, 0.95) * join
    tip = nut + rng.uniform(95, 200)
    half = rng.uniform(15, 26)
    depth = rng.uniform(17, 27)
    wide = half + rng.uniform(0.5, 7)
    deep = depth + rng.uniform(0.2, 6)
    face = rng.uniform(62, 110)
    fall = rng.uniform(-18, 6)
    posts = tuple(nut + rng.uniform(18, 28) + 33.0 * k for k in range(int(rng.integers(0, 4))))
    tilt = rng.uniform(-6, 16)
    return Made(
        join,
        nut,
        tip,
        rng.uniform(0.62, 0.85) * join,
        ((wide, deep), (half, depth)),
        rng.uniform(1.25, 3.2),
        rng.uniform(-3, 3),
        (face, face + fall),
        (rng.uniform(0, 10), rng.uniform(45, 60)),
        rng.uniform(14, 34),
        tilt,
        rng.uniform(10, 16),
        rng.uniform(26, 42),
        tuple(x for x in posts if x < tip - 12),
        (rng.uniform(9, 15), rng.uniform(7, 13), rng.uniform(18, 38)),
        bool(np.random.default_rng([seed, 1]).random() < 1 / 3),
    )
