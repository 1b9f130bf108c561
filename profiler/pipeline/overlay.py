"""The overlay: the photo with everything that was measured drawn over it, to be checked by eye."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.drawing.lettering import shortened
from profiler.findings import Level
from profiler.instrument.record import Measurement
from profiler.jobs.turning import Pixels
from profiler.pipeline.easel import (
    FAINT,
    INK,
    PENCIL,
    PLUM,
    TEAL,
    VERMILION,
    Colour,
    Easel,
    face,
)
from profiler.pipeline.overlay_view import Marks, Seen, instrument_on, marks_on, view_of
from profiler.pipeline.wording import Wording
from profiler.scene.record import Scene

Array = NDArray[np.float64]

JPEG_QUALITY = 88
#: share of paper white washed over the photo, so that lines stand out
WASH = 0.15
#: lettering as a part of the picture's width
LETTERING = 1 / 105
#: residual arrows are enlarged by one of these, so that a typical one is about `ARROW_PX` long
ENLARGEMENTS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
ARROW_PX = 22.0


def draw_overlay(
    pixels: Pixels,
    scene: Scene,
    measurement: Measurement,
    outline_pixels: Array,
    orientation: int = 1,
    wording: Wording | None = None,
    photo: str = "",
) -> bytes:
    """The overlay as a JPEG file; the same input gives the same bytes.

    Args:
        pixels: (H, W, 3) BGR, the first photo in sensor orientation.
        scene: solved from it.
        measurement: of the instrument.
        outline_pixels: (N, 2) px of the photo, where the outline was seen.
        orientation: EXIF code that turns the photo upright.
        wording: heading and unit.
        photo: its name, for the heading.
    """
    view = view_of(scene, orientation, outline_pixels)
    wording = wording or Wording()
    # the picture is OpenCV's work: where things fall in it is reckoned meanwhile
    with ThreadPoolExecutor(max_workers=1) as beside:
        picture = beside.submit(view.picture, pixels)
        seen = instrument_on(view, measurement, outline_pixels)
        marks = marks_on(view, scene)
        easel = Easel(picture.result(), WASH)
    size = max(14, round(easel.width * LETTERING))
    enlarged = _enlargement(marks)
    _draw_marks(easel, marks, enlarged)
    _draw_instrument(easel, seen, measurement, wording, size)
    top, below = round(4.2 * size), round(10.5 * size)
    easel.frame(top, below, size)
    _heading(easel, top / 2, measurement, wording, photo, size)
    _legend(easel, easel.height - below, seen, scene, enlarged, size)
    done, coded = cv2.imencode(".jpg", easel.done(), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    assert done
    return coded.tobytes()


def _enlargement(marks: Marks) -> int:
    lengths = np.hypot(*marks.residuals[marks.used].T)
    typical = float(np.median(lengths)) if len(lengths) else 0.0
    if typical <= 0:
        return ENLARGEMENTS[-1]
    wanted = ARROW_PX / typical
    return min(ENLARGEMENTS, key=lambda e: abs(np.log(e / wanted)))


def _draw_marks(easel: Easel, marks: Marks, enlarged: int) -> None:
    used = marks.used
    easel.arrows(marks.points[used], marks.residuals[used] * enlarged, PLUM)
    easel.crosses(marks.points[used], 6.0, TEAL)
    easel.crosses(marks.points[~used], 9.0, VERMILION, slanted=True)


def _draw_instrument(
    easel: Easel, seen: Seen, measurement: Measurement, wording: Wording, size: int
) -> None:
    tail, head = seen.centreline
    along = (head - tail) / np.hypot(*(head - tail))
    easel.dashed(tail - 20 * along, head + 20 * along, PENCIL, (28, 8, 5, 8))
    for ends, _ in seen.stations.values():
        easel.cased(ends, PENCIL, 2)
        for end in ends:
            easel.cased(np.array([end - 9 * along, end + 9 * along]), PENCIL, 2)
    for colour, run in _runs(seen):
        easel.cased(run, colour, 3)
    for name, (ends, width) in seen.stations.items():
        across = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        words = f"{name.replace('_', ' ')} {wording.say(width)}"
        gap = face(size).getlength(words) / 2 * abs(across[0]) + size * (1.0 + abs(across[1]))
        places = [
            end + way * (gap + far * 2.2 * size) * across
            for far in range(4)
            for way, end in ((-1, ends[0]), (1, ends[1]))
        ]
        easel.tag(places, words, size)
    if measurement.length.value is not None:
        words = f"length {wording.say(measurement.length.value)}"
        gap = face(size).getlength(words) / 2 * abs(along[0]) + size * (2.0 + abs(along[1]))
        places = [head + (gap + f * 2 * size) * along for f in range(3)]
        easel.tag([*places, tail - gap * along], words, size)


def _runs(seen: Seen) -> list[tuple[Colour, Array]]:
    """Stretches of the seen outline of one colour; each ends where the next begins."""
    closed = np.vstack([seen.outline, seen.outline[:1]])
    flags = np.append(seen.doubtful, seen.doubtful[:1])
    cuts = [0, *(np.flatnonzero(flags[1:] != flags[:-1]) + 1).tolist(), len(closed) - 1]
    runs = []
    for a, b in pairwise(cuts):
        if b > a:
            runs.append((VERMILION if flags[a] else INK, closed[a : b + 1]))
    return sorted(runs, key=lambda run: run[0] == VERMILION)


def _heading(
    sheet: Easel, y: float, measurement: Measurement, wording: Wording, photo: str, size: int
) -> None:
    doubts = sum(f.level is Level.DOUBT for f in measurement.findings)
    cautions = sum(f.level is Level.CAUTION for f in measurement.findings)
    words, colour = "no warnings", PENCIL
    if doubts:
        words, colour = f"{_count(doubts, 'doubt')}: read the summary before you cut", VERMILION
    elif cautions:
        words = f"{_count(cautions, 'caution')}: see the summary"
    right = sheet.width - 1.5 * size
    right -= sheet.text(right, y, words, round(1.2 * size), colour, True, "rm") + 2 * size
    # what is to be read first keeps its room; names are cut to what is left
    left, large = 1.5 * size, round(1.7 * size)
    title = shortened(wording.title, large, right - left, bold=True)
    left += sheet.text(left, y, title, large, bold=True) + 1.5 * size
    if photo and right - left > 10 * size:
        seen = shortened(f"seen in {photo}", size, right - left)
        sheet.text(left, y + 0.2 * size, seen, size, FAINT)


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _legend(sheet: Easel, top: float, seen: Seen, scene: Scene, enlarged: int, size: int) -> None:
    rule_mm = 100
    rule_px = rule_mm * seen.px_per_mm
    x = sheet.width - rule_px - 2.5 * size
    y = top + 2.6 * size
    sheet.steel_rule(x, y, seen.px_per_mm, rule_mm, size)
    words = "mm, at the height of the body"
    sheet.text(x + rule_px, y - 1.1 * size, words, size, anchor="rm")

    column = (x - 3 * size) / 2
    rows = top + np.array([1.6, 3.7, 5.8, 7.9]) * size

    def entry(index: int, words: str) -> tuple[float, float]:
        left = 1.5 * size + column * (index // 4)
        at = float(rows[index % 4])
        sheet.text(left + 4.2 * size, at, words, size)
        return left, at

    def sample(index: int, words: str, colour: Colour, width: int) -> None:
        left, at = entry(index, words)
        sheet.cased(np.array([[left, at], [left + 3.2 * size, at]]), colour, width)

    sample(0, "edge of the instrument, as seen", INK, 3)
    sample(1, "the same where it is in doubt", VERMILION, 3)
    left, at = entry(2, "centreline")
    start, end = np.array([left, at]), np.array([left + 3.2 * size, at])
    sheet.dashed(start, end, PENCIL, (28, 8, 5, 8))
    sample(3, "named widths", PENCIL, 2)

    left, at = entry(4, "printed point, used to solve the scene")
    sheet.crosses(np.array([[left + 1.6 * size, at]]), 6.0, TEAL)
    left, at = entry(5, f"printed point set aside ({int((~scene.used).sum())})")
    sheet.crosses(np.array([[left + 1.6 * size, at]]), 9.0, VERMILION, slanted=True)
    left, at = entry(6, f"what the solution leaves over, enlarged {enlarged} times")
    sheet.arrows(np.array([[left + 0.4 * size, at]]), np.array([[2.4 * size, 0.0]]), PLUM)
    left, at = entry(7, f"rms of that: {scene.rms:.2f} px of the photo")
