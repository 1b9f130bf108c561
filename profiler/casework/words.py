"""Lengths in sentences for people of either rule."""

from __future__ import annotations

from profiler.units import format_inches, format_mm


def both(mm: float) -> str:
    """As '12.7 mm (1/2 in)'."""
    return f"{format_mm(mm)} ({format_inches(mm)})"
