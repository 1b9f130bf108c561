"""Numbered remarks: what the program noticed, for terminal, report and page alike.

Codes by hundred: 100 photo, 200 mat and cards, 300 lens and scene, 400 outline, 500 heights,
600 frame and numbers, 700 sheets for cutting, 800 the case.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from profiler.errors import Places


class Level(Enum):
    """How much a finding matters."""

    #: good to know
    NOTE = "note"
    #: a number is less certain than it could be
    CAUTION = "caution"
    #: a number must not be used without checking it
    DOUBT = "doubt"


@dataclass(frozen=True)
class Finding:
    """One remark: what, how serious, where, and what to do about it in `message`.

    `places` are rings of px in the (first) photo, where it can be pointed at; they live no longer
    than the measuring does.
    """

    code: int
    level: Level
    message: str
    where: str = ""
    places: Places = field(default=(), compare=False)
