"""Marks that several sheets need: check bars and register crosses."""

from __future__ import annotations

import math

from profiler.drawing.model import Area, Item, Line, Point, Stroke

#: height of a bar's body and of its end ticks, and width of those ticks, mm
BAR_BODY_MM = 0.6
BAR_TICK_MM = 2.4
BAR_END_MM = 0.35


def check_bar(start: Point, end: Point) -> Area:
    """A bar whose end ticks' outer edges are exactly at `start` and `end`."""
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    c, s = math.cos(angle), math.sin(angle)
    body, tick, tip = BAR_BODY_MM / 2, BAR_TICK_MM / 2, BAR_END_MM
    ring = (
        (0.0, -tick),
        (tip, -tick),
        (tip, -body),
        (length - tip, -body),
        (length - tip, -tick),
        (length, -tick),
        (length, tick),
        (length - tip, tick),
        (length - tip, body),
        (tip, body),
        (tip, tick),
        (0.0, tick),
    )
    x, y = start
    return Area((tuple((x + u * c - v * s, y + u * s + v * c) for u, v in ring),))


def cross(at: Point, arm: float = 4.0, width: float = 0.15) -> list[Item]:
    """A register cross, its arms `arm` mm long."""
    x, y = at
    return [
        Line(((x - arm, y), (x + arm, y)), Stroke(width)),
        Line(((x, y - arm), (x, y + arm)), Stroke(width)),
    ]
