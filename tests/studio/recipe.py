"""Everything that decides a photo, as plain values that truth.json repeats."""

from __future__ import annotations

from dataclasses import dataclass

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
class Recipe:
    """A scene and its photos.

    Attributes:
        paper, mat_width, mat_height, tint: of the mat, as asked of `design_mat`; paper may be
            'roll' with `roll_width`.
        scale: what the printer did, printed over designed length, across and along the feed.
        rule_step: the user's rule is read to this, mm.
        pose: where the instrument's tail lies, and how far its centreline is turned from mat x.
        light: arguments of `light.window` after the target.
    """

    name: str
    body: str
    phone: Phone
    shots: tuple[Shot, ...]
    pose: tuple[float, float, float]
    cards: tuple[CardPut, ...]
    light: dict[str, float]
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
