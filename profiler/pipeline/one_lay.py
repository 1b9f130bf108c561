"""Whether several photos show one lay of the sheets, or the mat was laid anew between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from profiler.errors import SceneError
from profiler.scene.record import Scene

Array = NDArray[np.float64]

#: photos of one lay keep 99 of 100 points on the samples; of two lays a half to nine tenths
_WELL_KEPT = 0.92
#: mm: sheets that lie so far from where another photo has them were moved. One photo tells a
#: sheet's place to some tenths. A single one may be curled instead, and seen from two sides:
#: `scene.oddities` sees to that, so two are asked for
_MOVED_MM = 1.5


class LaidAnew(SceneError):
    """Between two photos the sheets were moved, or they are of different days."""

    def __init__(self, photo: str, like: str, sheet: str, by: float) -> None:
        self.photo, self.like, self.sheet, self.by = photo, like, sheet, by
        super().__init__(
            f"{photo}: the mat does not lie as in {like} ({sheet} is {by:.0f} mm elsewhere)."
            " Something was moved between them, or they are of different days. Measure together"
            " only photos between which nothing was touched."
        )


def check_one_lay(scene: Scene, photos: Sequence[str], alone: Callable[[int], Scene]) -> None:
    """Ask only where the joint solution leaves points over: then look at each photo by itself.

    Args:
        scene: the joint solution.
        photos: their names.
        alone: the solution of one photo.

    Raises:
        LaidAnew: names the photo that differs from most, and the sheet.
    """
    ends = np.cumsum([0, *(len(o) for o in scene.observations)])
    kept = [float(scene.used[a:b].mean()) for a, b in pairwise(ends)]
    if len(photos) < 2 or min(kept) >= _WELL_KEPT:
        return
    try:
        lays = [_places(alone(i)) for i in range(len(photos))]
    except SceneError:
        return  # a photo that is bad by itself is told by what is asked next
    moved = [[_moved(one, other) for other in lays] for one in lays]
    alike = [sum(by <= _MOVED_MM for _, by in row) for row in moved]
    like = int(np.argmax(alike))
    for photo, (sheet, by) in zip(photos, moved[like], strict=True):
        if by > _MOVED_MM:
            raise LaidAnew(photo, photos[like], sheet, by)


def _places(scene: Scene) -> dict[str, Array]:
    """Middle of each sheet, mm, in a frame of that photo's own."""
    return {
        sheet.panel.name: sheet.to_mat(np.array([(sheet.panel.width / 2, sheet.panel.height / 2)]))[
            0, :2
        ]
        for sheet in scene.sheets
    }


def _moved(one: dict[str, Array], other: dict[str, Array]) -> tuple[str, float]:
    """The sheet that lies most differently once both lays are turned and pushed together, mm."""
    names = sorted(set(one) & set(other))
    if len(names) < 2:
        return "", 0.0
    a, b = (np.array([lay[name] for name in names]) for lay in (one, other))
    a, b = a - a.mean(axis=0), b - b.mean(axis=0)
    turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    c, s = np.cos(turn), np.sin(turn)
    apart = np.hypot(*(b - a @ np.array([[c, s], [-s, c]])).T)
    if np.sort(apart)[-2] <= _MOVED_MM:
        return "", 0.0
    worst = int(np.argmax(apart))
    return names[worst], float(apart[worst])
