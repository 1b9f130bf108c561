"""Everything that decides a photo, as plain values that truth.json repeats."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tests.studio.ground import Curl
from tests.studio.phone import Phone


@dataclass(frozen=True)
class CardPut:
    """A card, the instrument's place it lies on, and how the hand put it down."""

    number: int
    place: int
    turn_deg: float = 0.0
    slide: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Shot:
    """One photo: see `phone.held`; `look` and `nadir` in mat mm."""

    nadir: tuple[float, float]
    height: float
    look: tuple[float, float]
    spin: float
    orientation: int = 1
    taken: str = "2026:05:09 11:20:31"


@dataclass(frozen=True)
class SheetTrouble:
    """What is the matter with one sheet of the mat.

    Attributes:
        missing: it was not laid.
        covered: a blank sheet lies on it, or it lies upside down.
        off: mm and mm beside its place, and degrees turned; None for what chance does to all.
        scale: printed over designed along its x and y; None for the scale of the others.
        curl: an edge that rises.
    """

    missing: bool = False
    covered: bool = False
    off: tuple[float, float, float] | None = None
    scale: tuple[float, float] | None = None
    curl: Curl | None = None


@dataclass(frozen=True)
class Recipe:
    """A scene and its photos.

    Attributes:
        paper, mat_width, mat_height, tint: of the mat, as asked of `design_mat`; paper may be
            'roll' with `roll_width`.
        scale: what the printer did, printed over designed length, across and along the feed.
        rule_step: the user's rule is read to this, mm.
        pose: where the instrument's tail lies, and how far its centreline is turned from mat x.
        light: arguments of `light.window` after the target.
        sheets: number of a sheet, from 1, to what is the matter with it.
    """

    name: str
    body: str
    phone: Phone
    shots: tuple[Shot, ...]
    pose: tuple[float, float, float]
    cards: tuple[CardPut, ...]
    light: Mapping[str, Any]
    paper: str = "A4"
    mat_width: float = 770.0
    mat_height: float = 460.0
    tint: str = "#b4d2ee"
    scale: tuple[float, float] = (1.0, 1.0)
    rule_step: float = 0.1
    sheet_shift: float = 2.5
    sheet_turn: float = 0.6
    bench: tuple[tuple[float, float, float], tuple[float, float, float]] = (
        (0.20, 0.12, 0.07),
        (0.33, 0.21, 0.12),
    )
    exposure: float = 1.12
    seed: int = 1
    sheets: Mapping[int, SheetTrouble] = field(default_factory=dict)
