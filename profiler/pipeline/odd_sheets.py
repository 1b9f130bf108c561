"""Sheets that are not as the others: solved without them, and told by their number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.findings import Finding, Level
from profiler.scene.oddities import misprinted, placed_alone, raised
from profiler.scene.record import OddSheet, Scene
from profiler.target.mat import MatDesign
from profiler.target.tags import CARD_CODE_START

#: which of one photo's points count for nothing, to the scene solved so
Solve = Callable[[Callable[[Observations], NDArray[np.bool_]]], Scene]

#: so many misprinted sheets are set aside at most
_MOST_ODD = 3
#: a sheet of which so many targets should be in the frame and none was found is told
_FRAMED_TARGETS = 3


def without_odd_sheets(solve: Solve, design: MatDesign, least_targets: int) -> Scene:
    """Solved again and again, each time without the sheet or the targets that stand out most.

    They stay in the scene, where they lie: what is printed on them is still ground to the eye.

    Args:
        solve: see `Solve`.
        design: of the mat.
        least_targets: that have to be left.
    """
    numbers = {sheet.name: k for k, sheet in enumerate(design.sheets)}
    gone: dict[str, int] = {}
    high: dict[int, tuple[str, float]] = {}

    def out(seen: Observations) -> NDArray[np.bool_]:
        """Of observations as they were made: `panel` counts the design's sheets."""
        left_out: NDArray[np.bool_] = np.isin(seen.panel, list(gone.values()))
        return left_out | np.isin(seen.code, list(high))

    scene = solve(out)
    odd: list[OddSheet] = []
    for _ in range(_MOST_ODD):
        found = [o for o in misprinted(scene) if o.name not in gone]
        # of two nobody can say which is right: both stay, and both are named
        if len(found) != 1 or len(scene.sheets) - len(gone) <= 2:
            odd += found
            break
        gone[found[0].name] = numbers[found[0].name]
        odd.append(replace(found[0], left_out=True))
        scene = solve(out)
    high.update({code: told for code, told in raised(scene).items() if told[0] not in gone})
    codes = {code for o in scene.observations for code in o.code.tolist()}
    if high and sum(code < CARD_CODE_START for code in codes - set(high)) >= least_targets:
        scene = solve(out)
        for name in dict.fromkeys(name for name, _ in high.values()):
            rise = max(mm for other, mm in high.values() if other == name)
            odd.append(OddSheet(name, "raised", rise=rise, left_out=True))
    else:
        high.clear()
    for name, rise in raised(scene, noticed=True).values():
        if name not in {o.name for o in odd}:
            odd.append(OddSheet(name, "raised", rise=rise))
    if not odd:
        return scene
    lying = tuple(
        placed_alone(scene, k) if sheet.panel.name in gone else sheet
        for k, sheet in enumerate(scene.sheets)
    )
    aside = np.concatenate(
        [
            np.isin(o.code, list(high))
            | np.isin(o.panel, [k for k, s in enumerate(scene.sheets) if s.panel.name in gone])
            for o in scene.observations
        ]
    )
    used = scene.used & ~aside
    rms = float(np.sqrt((scene.residuals[used] ** 2).sum(axis=1).mean()))
    return replace(scene, sheets=lying, used=used, rms=rms, odd=tuple(odd))


def unseen(scene: Scene, seen: Sequence[Observations], design: MatDesign) -> tuple[OddSheet, ...]:
    """Sheets of which no target was found, although several should be in the frame."""
    found = {k for o in seen for k in o.panel.tolist()}
    told = []
    for k, sheet in enumerate(design.sheets):
        if k in found:
            continue
        x, y = design.origin(k)
        middles = np.array([(x + c.x, y + c.y, 0.0) for c in sheet.clusters])
        for camera in scene.cameras:
            pixels = camera.project(middles)
            size = (camera.lens.width, camera.lens.height)
            if np.all((pixels > 0) & (pixels < size), axis=1).sum() >= _FRAMED_TARGETS:
                told.append(OddSheet(sheet.name, "unseen"))
                break
    return tuple(told)


def sheet_findings(scene: Scene) -> list[Finding]:
    """What a person is told about odd sheets."""
    found = []
    misprints = [odd for odd in scene.odd if odd.kind == "scale"]
    for odd in misprints:
        name = odd.name.capitalize()
        across, along = (100 * (ratio - 1) for ratio in odd.scale)
        by = f"{across:+.1f} % along its X bar and {along:+.1f} % along its Y bar"
        if odd.left_out:
            found.append(
                Finding(
                    203,
                    Level.CAUTION,
                    f"{name} was printed at another scale than the other sheets ({by}): it was not"
                    " used to measure. Print it again at 100 %; and if it is the sheet whose bars"
                    " you read, read those of another.",
                    odd.name,
                )
            )
        else:
            found.append(
                Finding(
                    203,
                    Level.DOUBT,
                    f"{name} was printed at another scale than the other sheet ({by}), and nothing"
                    " tells which of them the bar readings belong to. Read the bars of both, print"
                    " the wrong one again at 100 %, and measure again.",
                    odd.name,
                )
            )
    for odd in scene.odd:
        name = odd.name.capitalize()
        if odd.kind == "raised" and not odd.left_out:
            found.append(
                Finding(
                    204,
                    Level.NOTE,
                    f"{name} does not lie quite flat: its print rises by about {odd.rise:.1f} mm,"
                    " and its edge by more. That did no harm here; tape it down before the next"
                    " photo.",
                    odd.name,
                )
            )
        elif odd.kind == "raised":
            found.append(
                Finding(
                    204,
                    Level.CAUTION,
                    f"{name} does not lie flat: it rises by {odd.rise:.1f} mm or more. The targets"
                    " there were not used. Tape it down; if the instrument lies on the bulge,"
                    " measure again.",
                    odd.name,
                )
            )
        elif odd.kind == "unseen":
            found.append(
                Finding(
                    205,
                    Level.NOTE,
                    f"No target of {odd.name} is seen: it is missing, covered or hidden below the"
                    " instrument. The other sheets were enough.",
                    odd.name,
                )
            )
    return found
