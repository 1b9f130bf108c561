"""Is this photo good enough to measure, and what would make it better: told before measuring.

The same steps as measuring, as far as the edge. What is found is kept in the memory, so that
measuring afterwards only has the rest to do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from profiler.errors import OutlineError, ProfilerError, SceneError
from profiler.findings import Finding, Level
from profiler.jobs.exposure import PhotoHopeless
from profiler.jobs.photo_errors import PhotoError
from profiler.pipeline.job import JobWishes, Prepared, prepare
from profiler.pipeline.measure import NoColour, causes_of, solved
from profiler.pipeline.memory import Memory
from profiler.pipeline.scene import AnotherMat, Blurred, NoMat, ScaleContradicted, TooFewTargets
from profiler.pipeline.shape import BeyondTheMat, NoInstrument, TwoObjects, see_edge
from profiler.scene.record import Scene
from profiler.scene.single import of_photo
from profiler.target.tags import CARD_CODE_START

Progress = Callable[[str, float], None]

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
    """

    what: str
    weight: Weight
    message: str


@dataclass(frozen=True)
class Check:
    """What was seen; None where it did not come to that.

    Attributes:
        points: in the order in which they were looked at.
        targets, cards: of the mat and on the instrument, that were seen.
        tilt_deg, height_mm: of the camera.
        phone, width, height: of the photo.
    """

    points: tuple[Point, ...]
    targets: int | None = None
    cards: int | None = None
    tilt_deg: float | None = None
    height_mm: float | None = None
    phone: str = ""
    width: int | None = None
    height: int | None = None

    @property
    def ok(self) -> bool:
        """Whether it can be measured."""
        return all(p.weight is not Weight.STOP for p in self.points)


def check_photo(
    wishes: JobWishes,
    progress: Progress = lambda _words, _share: None,
    memory: Memory | None = None,
) -> Check:
    """Look at the first photo of a job as far as measuring would before it lifts the edge.

    Nothing is raised that the user can put right: it is a point of the check.
    """
    memory = memory or Memory()
    try:
        made = prepare(wishes, progress, memory)
    except PhotoHopeless as error:
        return Check((Point("light", Weight.STOP, error.finding.message),))
    except PhotoError as error:
        return Check((Point("photo", Weight.STOP, _bare(error, wishes)),))
    except ProfilerError as error:
        return Check((Point("mat", Weight.STOP, _bare(error, wishes)),))
    photo = made.request.photos[0]
    check = Check(_light(made), phone=photo.phone, width=photo.width, height=photo.height)
    try:
        progress("looking for mat and cards", 0.1)
        scene, _ = solved(made.request, memory)
    except NoColour as error:
        return _with(check, Point("light", Weight.STOP, _bare(error, wishes)))
    except Blurred as error:
        seen = Point("mat", Weight.GOOD, "The mat is seen.")
        return _with(check, seen, Point("sharp", Weight.STOP, _bare(error, wishes)))
    except (NoMat, TooFewTargets, AnotherMat, ScaleContradicted, SceneError) as error:
        return _with(check, Point("mat", Weight.STOP, _bare(error, wishes)))
    check = _scene(check, scene)
    try:
        progress("looking for the instrument", 0.6)
        own = of_photo(scene, 0)
        traced = see_edge(photo.pixels, photo.name, own, (), memory, causes_of(made.request))[-1]
    except (NoInstrument, TwoObjects, BeyondTheMat, OutlineError) as error:
        return _with(check, Point("frame", Weight.STOP, _bare(error, wishes)))
    whole = Point("frame", Weight.GOOD, "The whole instrument is in the photo, with mat round it.")
    crumbs = [Point("frame", Weight.BETTER, f.message) for f in traced.findings]
    return _with(check, *(crumbs or [whole]))


def _bare(error: ProfilerError, wishes: JobWishes) -> str:
    """The sentence without the photo's name; who looks knows which photo it is."""
    text, path = str(error), wishes.photos[0]
    for name in (str(path), path.name):
        text = text.removeprefix(f"{name}: ").replace(name, "the photo")
    return text[:1].upper() + text[1:]


def _with(check: Check, *points: Point) -> Check:
    return replace(check, points=(*check.points, *points))


def _light(made: Prepared) -> tuple[Point, ...]:
    told = [_light_point(f) for f in made.findings if f.code in (101, 102, 103)]
    cropped = [Point("photo", Weight.BETTER, f.message) for f in made.findings if f.code == 110]
    good = Point("light", Weight.GOOD, "The light is good.")
    return (*cropped, *(told or [good]))


def _light_point(finding: Finding) -> Point:
    weight = Weight.GOOD if finding.level is Level.NOTE else Weight.BETTER
    return Point("light", weight, finding.message)


def _scene(check: Check, scene: Scene) -> Check:
    codes = scene.observations[0].code
    cards = len(scene.cards)
    targets = len({c for c in codes.tolist() if c < CARD_CODE_START})
    camera = scene.cameras[0]
    tilt = float(np.degrees(np.arccos(np.clip(-camera.camera_from_mat.rotation[2, 2], -1, 1))))
    height = float(camera.centre[2])
    per_mm = camera.lens.f / max(height, 1.0)
    points = [
        Point("mat", Weight.GOOD, "The mat is seen."),
        Point("sharp", Weight.GOOD, "The photo is sharp."),
    ]
    if cards >= _ENOUGH_CARDS:
        points.append(Point("cards", Weight.GOOD, f"{cards} height cards are seen."))
    else:
        none = "No height card is seen" if not cards else "Only one height card is seen"
        points.append(
            Point(
                "cards",
                Weight.BETTER,
                f"{none}: lay cards flat on soundboard, fretboard and headstock, wholly in sight,"
                " or type the heights afterwards. Without heights the outline comes out too large.",
            )
        )
    if tilt > _LEVEL_DEG:
        points.append(
            Point(
                "level",
                Weight.BETTER,
                f"The phone was tilted by {tilt:.0f}°: hold it level over the middle.",
            )
        )
    elif height < _NEAR_MM:
        points.append(
            Point(
                "level",
                Weight.BETTER,
                f"The phone was only {height / 10:.0f} cm above the mat: come higher, 1 to 1.3 m.",
            )
        )
    elif per_mm < _LEAST_PX_PER_MM:
        points.append(
            Point(
                "level",
                Weight.BETTER,
                f"The photo shows only {per_mm:.1f} pixels to the millimetre: come nearer.",
            )
        )
    else:
        points.append(
            Point("level", Weight.GOOD, f"Level, and {height / 10:.0f} cm above the mat.")
        )
    return replace(
        _with(check, *points), targets=targets, cards=cards, tilt_deg=tilt, height_mm=height
    )
