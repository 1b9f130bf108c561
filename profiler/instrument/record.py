"""The measured instrument: one frozen value that everything after the photo works from.

Instrument frame: mm, x from the tail along the centreline towards the headstock, y to the left,
z up from the bench.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding
from profiler.geometry.frames import Frame2D

Array = NDArray[np.float64]

__all__ = [
    "Frame2D",
    "Measurement",
    "PartHeight",
    "Quantity",
    "SideProfile",
    "Stretch",
    "missing",
]


@dataclass(frozen=True)
class Quantity:
    """A number with its 95 % expanded uncertainty, or the reason why there is none.

    Attributes:
        value: mm (mm² for an area), None where unknown.
        u95: same unit, None where the value is.
        reason: why the value is missing, '' where it is there.
        mostly: the largest contributor to u95 in words, '' where none stands out.
        x: mm, where along the centreline it was taken; None where that has no meaning.
        budget: what u95 is made of: source in words and its own u95, the largest first. Squared
            they add up to u95 squared. Empty where it was not worked out.
    """

    value: float | None
    u95: float | None
    reason: str = ""
    mostly: str = ""
    x: float | None = None
    budget: tuple[tuple[str, float], ...] = ()

    def __bool__(self) -> bool:
        return self.value is not None


def missing(reason: str) -> Quantity:
    """A number that the program does not know."""
    return Quantity(None, None, reason)


@dataclass(frozen=True)
class Stretch:
    """A run of outline points, `start` to `end` inclusive (wrapping), that needs a word."""

    start: int
    end: int
    reason: str

    def indices(self, count: int) -> NDArray[np.intp]:
        """Of its points, on an outline of so many."""
        span = (self.end - self.start) % count + 1
        return (self.start + np.arange(span)) % count


@dataclass(frozen=True)
class PartHeight:
    """The height that the outline of one part was lifted to.

    Attributes:
        part: 'body', 'back', 'neck', 'headstock', 'tuners', 'button' or 'side-button'.
        height: of the visible edge above the bench at the part's middle, mm.
        source: 'card 2', 'typed', 'assumed' or the like.
    """

    part: str
    height: Quantity
    source: str


@dataclass(frozen=True)
class SideProfile:
    """What a photo from the side showed, along the centreline.

    Attributes:
        photo: its name.
        x: (N,) mm.
        upper, lower: (N,) mm above the bench, of what is highest and lowest there; NaN where it
            was not seen.
        upper_u95, lower_u95: (N,) mm.
        upper_of, lower_of: (N,) what it is: 'rim', 'over' (what stands above the rim), 'strings',
            'neck', 'head', 'tuners', 'button', 'bench' (the back, where it rests); '' unknown.
        thickest: mm above the bench, with its x.
        rests_from, rests_to: mm, between which the back lies on the bench.
        rest: mm, how high that part of the back is seen above the mat: about 0.
        tilt: degrees, how far the headstock falls away from the bench's plane.
        button: mm above the bench, middle of the strap button's end, with its x.
        face: mm above the bench, of the headstock's face at its x.
        also: further photos from the side that added to it.
    """

    photo: str
    x: Array
    upper: Array
    upper_u95: Array
    lower: Array
    lower_u95: Array
    upper_of: tuple[str, ...]
    lower_of: tuple[str, ...]
    thickest: Quantity
    rests_from: Quantity
    rests_to: Quantity
    rest: Quantity
    tilt: Quantity
    button: Quantity
    face: Quantity = field(default_factory=lambda: missing("no side view told it"))
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class Measurement:
    """What was measured.

    Attributes:
        outline: (N, 2) mm, instrument frame, closed, anticlockwise, first point not repeated.
        outline_u95: (N,) mm, across the outline at each point.
        outline_part: (N,) which part each point belongs to.
        doubtful: stretches whose height or edge is not known well.
        length, width, height: the envelope.
        widths: named stations; each Quantity carries its x.
        box: sides of the smallest rectangle round the outline, long side first.
        area: mm².
        heights: what each part was lifted to.
        frame: where the instrument lay on the mat.
        symmetric: whether the body is a mirror image of itself within the uncertainty.
        findings: remarks, worst first.
        side: the heights that a photo from the side showed, None without one.
    """

    outline: Array
    outline_u95: Array
    outline_part: tuple[str, ...]
    doubtful: tuple[Stretch, ...]
    length: Quantity
    width: Quantity
    height: Quantity
    widths: dict[str, Quantity]
    box: tuple[Quantity, Quantity]
    area: Quantity
    heights: tuple[PartHeight, ...]
    frame: Frame2D
    symmetric: bool | None
    findings: tuple[Finding, ...] = field(default_factory=tuple)
    side: SideProfile | None = None
