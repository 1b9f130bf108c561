"""What is seen of a photo, point by point: what it means, where it is, and the one thing to do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from profiler.errors import Places, ProfilerError
from profiler.findings import Finding, Level
from profiler.jobs.exposure import PhotoHopeless
from profiler.pipeline.ground import TooLittleGround
from profiler.pipeline.measure import NoColour
from profiler.pipeline.scene import (
    AnotherMat,
    Blurred,
    LensDoesNotFit,
    NoMat,
    NoRecord,
    ScaleContradicted,
    TooFewTargets,
)
from profiler.pipeline.seeing import BeyondTheMat, NoInstrument, Seen, TwoObjects
from profiler.scene.record import Scene
from profiler.target.tags import CARD_CODE_START

Array = NDArray[np.float64]

#: degrees: a phone held so is level enough; further, the far end is seen small
_LEVEL_DEG = 12.0
#: mm: nearer than this, what stands high hides much beside it
_NEAR_MM = 700.0
#: px of the photo for one mm on the mat: with fewer, an edge is not known to a tenth
_LEAST_PX_PER_MM = 2.0
#: cards that tell body and neck apart at least
_ENOUGH_CARDS = 2


class Weight(Enum):
    """What a point of a check means for the photo."""

    #: it cannot be measured
    STOP = "stop"
    #: it can, but would be surer otherwise
    BETTER = "better"
    #: as it should be
    GOOD = "good"


@dataclass(frozen=True)
class Point:
    """One thing that was looked at.

    Attributes:
        what: 'photo', 'light', 'mat', 'sharp', 'level', 'cards' or 'frame'.
        weight: what it means.
        message: what is the matter, and what to do.
        do: the one thing to do, in a few words; '' where there is none.
        places: where it is, px of the photo.
    """

    what: str
    weight: Weight
    message: str
    do: str = ""
    places: Places = ()


def refused(error: ProfilerError, message: str) -> Point:
    """Why the photo cannot be measured, as a point with the one thing to do."""
    what, do = _cure(error)
    return Point(what, Weight.STOP, message, do, error.places)


_STILL = "Hold the phone still: the photo is blurred."


def smeared() -> Point:
    """Nothing at all is sharp: there may be a mat, but nobody can tell."""
    message = (
        "Nothing in the photo is sharp. Tap on the mat to focus, rest your elbows, add light, and"
        " wipe the lens."
    )
    return Point("sharp", Weight.STOP, message, _STILL)


def most_urgent(points: tuple[Point, ...]) -> Point | None:
    """What to do first: what cannot be before what could be better, light before what it spoils."""

    def rank(point: Point) -> tuple[bool, int]:
        spoilt = bad_light and point.what == "frame" and "outside" not in point.do
        return point.weight is not Weight.STOP or spoilt, _URGENT.index(point.what)

    wrong = [p for p in points if p.weight is not Weight.GOOD]
    bad_light = any(p.what == "light" for p in wrong)
    return min(wrong, key=rank, default=None)


def _cure(error: ProfilerError) -> tuple[str, str]:
    if isinstance(error, PhotoHopeless):
        return "light", _LIGHT[error.finding.code]
    if isinstance(error, NoColour):
        return "light", "Take a colour photo."
    if isinstance(error, Blurred):
        return "sharp", _STILL
    if isinstance(error, NoMat):
        return "mat", "Show the mat: none of its printed squares is seen."
    if isinstance(error, TooFewTargets):
        if len(error.places) >= error.needed:  # they are there, but cannot be measured
            return "sharp", _STILL
        return "mat", "Show more of the mat: come higher."
    if isinstance(error, AnotherMat):
        return "mat", "Lay out this bench's own mat."
    if isinstance(error, NoRecord):
        return "mat", "Put this mat's mat.json beside the photo."
    if isinstance(error, LensDoesNotFit):
        return "photo", "Take it at zoom 1, with the lens that was calibrated."
    if isinstance(error, ScaleContradicted):
        return "mat", "Read both check bars of the mat again."
    if isinstance(error, TooLittleGround):
        return "mat", "Show more of the mat: its colour is not seen."
    if isinstance(error, NoInstrument):
        return "frame", "Lay the instrument on the mat."
    if isinstance(error, TwoObjects):
        return "frame", "Take away what lies beside the instrument."
    if isinstance(error, BeyondTheMat):
        if error.leaves_photo:
            return "frame", f"Come higher: {error.end} is outside the photo."
        return "frame", f"Move the instrument to the middle: {error.end} hangs over the mat's edge."
    return "mat", ""


#: what spoils the rest comes first
_URGENT = ("photo", "light", "sharp", "mat", "frame", "level", "cards")
_LIGHT = {
    101: "Less light: no flash, no direct sun.",
    102: "More light: switch on a lamp or go to the window.",
    103: "Show the mat and the instrument.",
}


def light_points(findings: tuple[Finding, ...]) -> tuple[Point, ...]:
    """Of what was noticed when the photo was opened."""
    told = [_light_point(f) for f in findings if f.code in _LIGHT]
    cropped = [
        Point("photo", Weight.BETTER, f.message, "Take it at zoom 1 and send the original.")
        for f in findings
        if f.code == 110
    ]
    good = Point("light", Weight.GOOD, "The light is good.")
    return (*cropped, *(told or [good]))


def _light_point(finding: Finding) -> Point:
    if finding.level is Level.NOTE:
        return Point("light", Weight.GOOD, finding.message)
    return Point("light", Weight.BETTER, finding.message, _LIGHT[finding.code], finding.places)


@dataclass(frozen=True)
class Stand:
    """Where the camera stood and what it saw: `targets` of the mat, `cards` on the instrument."""

    targets: int
    cards: int
    tilt_deg: float
    height_mm: float
    px_per_mm: float


def stand_of(scene: Scene) -> Stand:
    """Of the scene's first photo."""
    codes = scene.observations[0].code
    camera = scene.cameras[0]
    tilt = float(np.degrees(np.arccos(np.clip(-camera.camera_from_mat.rotation[2, 2], -1, 1))))
    height = float(camera.centre[2])
    return Stand(
        len({c for c in codes.tolist() if c < CARD_CODE_START}),
        len(scene.cards),
        tilt,
        height,
        camera.lens.f / max(height, 1.0),
    )


def scene_points(stand: Stand, finer: float | None = 1.0) -> tuple[Point, ...]:
    """Of mat, cards and camera.

    Args:
        finer: px of the photo itself for each px looked at; None where that is not known.
    """
    return (
        Point("mat", Weight.GOOD, "The mat is seen."),
        _cards_point(stand.cards),
        _level_point(stand, finer),
    )


def _cards_point(cards: int) -> Point:
    if cards >= _ENOUGH_CARDS:
        return Point("cards", Weight.GOOD, f"{cards} height cards are seen.")
    none = "No height card is seen" if not cards else "Only one height card is seen"
    return Point(
        "cards",
        Weight.BETTER,
        f"{none}: lay cards flat on soundboard, fretboard and headstock, wholly in sight,"
        " or type the heights afterwards. Without heights the outline comes out too large.",
        "Lay height cards on soundboard, fretboard and headstock."
        if not cards
        else "Lay one more height card, on the fretboard or the headstock.",
    )


def _level_point(stand: Stand, finer: float | None) -> Point:
    tilt, high = stand.tilt_deg, f"{stand.height_mm / 10:.0f} cm"
    if tilt > _LEVEL_DEG:
        message = f"The phone was tilted by {tilt:.0f}°: hold it level over the middle."
        return Point("level", Weight.BETTER, message, "Hold the phone level over the middle.")
    if stand.height_mm < _NEAR_MM:
        message = f"The phone was only {high} above the mat: come higher, 1 to 1.3 m."
        return Point("level", Weight.BETTER, message, "Come higher: 1 to 1.3 m above the mat.")
    per_mm = None if finer is None else stand.px_per_mm * finer
    if per_mm is not None and per_mm < _LEAST_PX_PER_MM:
        message = f"The photo shows only {per_mm:.1f} pixels to the millimetre: come nearer."
        return Point("level", Weight.BETTER, message, "Come nearer: the photo shows too little.")
    return Point("level", Weight.GOOD, f"Level, and {high} above the mat.")


def frame_points(seen: Seen, crumbs: bool = True) -> tuple[Point, ...]:
    """Of the instrument that was found; `crumbs` beside it are no matter of a glance."""
    small = tuple(
        Point("frame", Weight.BETTER, f.message, "Take away what lies beside it.", f.places)
        for f in seen.findings
        if crumbs
    )
    whole = "The whole instrument is in the photo, with mat round it."
    return small or (Point("frame", Weight.GOOD, whole),)
