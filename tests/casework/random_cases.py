"""Instruments and workshops at random, violin to guitar, metric and inch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from profiler.casework.body import Body, Place
from profiler.casework.stock import stock_for
from profiler.casework.wishes import CaseWishes, Hardware, Joints, Room, SheetSize, Storage

IN = 25.4


@dataclass(frozen=True)
class RandomCase:
    body: Body
    wishes: CaseWishes


def random_case(seed: int) -> RandomCase:
    rng = np.random.default_rng(seed)
    inch = bool(rng.random() < 0.5)
    return RandomCase(random_body(rng), random_wishes(rng, inch))


def random_body(rng: np.random.Generator) -> Body:
    """Two bouts, a waist, a neck, a headstock with or without tuners; a little askew."""
    scale = rng.uniform(0.0, 1.0)
    body_length = 230 + 290 * scale + rng.uniform(-15, 15)
    lower = (0.55 + 0.25 * rng.random()) * body_length
    upper = lower * rng.uniform(0.65, 1.0)
    waist = upper * rng.uniform(0.6, 1.0)
    neck_length = rng.uniform(0.6, 1.1) * body_length
    neck = rng.uniform(28, 62)
    head_length = rng.uniform(90, 210)
    head = neck * rng.uniform(1.2, 2.0)
    skew = rng.uniform(-4, 4)
    middle = body_length / 2
    parts = [
        shapely.Point(0.3 * body_length, skew).buffer(1, quad_segs=24),
        shapely.Point(0.75 * body_length, 0).buffer(1, quad_segs=24),
    ]
    parts[0] = shapely.affinity.scale(parts[0], 0.3 * body_length, lower / 2)
    parts[1] = shapely.affinity.scale(parts[1], 0.25 * body_length, upper / 2)
    parts.append(shapely.box(0.3 * body_length, -waist / 2, 0.75 * body_length, waist / 2))
    end = body_length + neck_length
    parts.append(shapely.box(middle, -neck / 2, end + 1, neck / 2))
    parts.append(shapely.box(end, -head / 2, end + head_length, head / 2))
    for i in range(int(rng.integers(0, 4))):
        x = end + (i + 0.5) * head_length / 4
        reach = head / 2 + rng.uniform(8, 22)
        parts.append(shapely.box(x, -reach, x + 12, reach))
    outline = shapely.union_all(parts)
    x0, y0, x1, y1 = outline.bounds
    outline = shapely.affinity.translate(outline, -x0, -(y0 + y1) / 2)
    return Body(
        outline=outline,
        length=x1 - x0,
        width=y1 - y0,
        height=float(rng.uniform(55, 150)),
        places=(Place("nut", end, neck),),
    )


def random_wishes(rng: np.random.Generator, inch: bool) -> CaseWishes:
    def actual(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    step = IN / 32 if inch else 0.5
    board = actual(11.0, 12.8) if rng.random() < 0.7 else actual(8.5, 18.5)
    panel, wall = actual(4.0, 12.5), actual(3.6, 9.5)
    stocks = {
        use: stock_for(use, 12.0, mm)
        for use, mm in (("boards", board), ("panels", panel), ("walls", wall))
    }
    solid = rng.random() < 0.3
    return CaseWishes(
        **stocks,
        room=Room(
            side=float(rng.uniform(2, 14)),
            ends=float(rng.uniform(2, 20)),
            above=float(rng.uniform(2, 15)),
            lining=float(rng.choice([0.0, 1.0, 3.0])),
            foam=float(rng.uniform(0, 25)),
        ),
        joints=Joints(
            kerf=float(rng.choice([2.4, IN / 8, 1.6])),
            proud=float(rng.choice([0.0, min(panel - 1.5, 3 / 16 * IN)])),
            finger=board * rng.uniform(0.75, 1.3) if rng.random() < 0.3 else None,
        ),
        hardware=Hardware(
            latch_upper=float(rng.uniform(10, 26)),
            latch_lower=float(rng.uniform(10, 32)),
            lid=float(rng.uniform(30, 50)) if rng.random() < 0.2 else None,
        ),
        storage=Storage(
            cover=str(rng.choice(["red oak", "walnut"])) if solid else "plywood",
            closure=str(rng.choice(["hole", "magnet"])),
        ),
        sheets={
            use: (SheetSize(1250, 625), SheetSize(2500, 1250))
            for use in ("boards", "panels", "walls")
        },
        step=step,
    )
