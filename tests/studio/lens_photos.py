"""`python -m tests.studio.lens_photos OUT`: photos of the bare mat, to learn a lens from."""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

from profiler.optics.lens import LENS_TERMS
from tests.studio.produce import produce
from tests.studio.recipe import Recipe, Shot
from tests.studio.samples import POCKET

#: mm, near the middle of the default mat on A4
_MIDDLE = (395.0, 240.0)
#: tilt and the side it leans to, degrees; distance and aim off the middle, mm; turn, degrees
_SHOTS = (
    (36.0, -90.0, 760.0, (-60.0, 20.0), 1.5),
    (34.0, 90.0, 780.0, (70.0, -10.0), 178.0),
    (37.0, 180.0, 740.0, (90.0, 60.0), -88.0),
    (35.0, 0.0, 750.0, (-80.0, -50.0), 92.5),
    (32.0, -45.0, 720.0, (130.0, -90.0), 3.0),
    (33.0, 135.0, 720.0, (-130.0, 90.0), -2.0),
    (38.0, 45.0, 760.0, (110.0, 100.0), 88.0),
    (31.0, -135.0, 730.0, (-120.0, -100.0), -91.0),
    (6.0, 20.0, 700.0, (10.0, -5.0), 1.0),
)
#: shots that are kept: six are enough for a good lens, and every photo weighs 1.5 MB
_KEPT = (1, 3, 4, 7, 8, 9)
_WINDOW = {
    "azimuth_deg": 118.0,
    "elevation_deg": 40.0,
    "distance": 1700.0,
    "width": 900.0,
    "height": 1000.0,
    "ratio": 0.52,
}


def _shot(number: int) -> Shot:
    tilt, side, distance, off, turn = _SHOTS[number]
    lean, to = math.radians(tilt), math.radians(side)
    look = (_MIDDLE[0] + off[0], _MIDDLE[1] + off[1])
    reach = distance * math.sin(lean)
    nadir = (look[0] + reach * math.cos(to), look[1] + reach * math.sin(to))
    taken = f"2026:05:09 10:{10 + number}:12"
    return Shot(nadir, distance * math.cos(lean), look, turn, 1, taken)


def recipe() -> Recipe:
    """The mat with the instrument three metres away, out of sight."""
    shots = tuple(_shot(i) for i in range(len(_SHOTS)))
    return Recipe(
        "lens", "wren", POCKET, shots, (-3000.0, -3000.0, 0.0), (), _WINDOW,
        scale=(0.9972, 1.0018), seed=21,
    )  # fmt: skip


def main() -> None:
    """Photos, the mat's record, and the lens as truth."""
    out = Path(sys.argv[1])
    produce(recipe(), out, say=lambda text: print(text, flush=True), truth=False)
    (out / "cards.json").unlink(missing_ok=True)
    for number in range(1, len(_SHOTS) + 1):
        photo = out / f"top-{number}.jpg"
        if number in _KEPT:
            photo.rename(out / f"tilted-{_KEPT.index(number) + 1}.jpg")
        else:
            photo.unlink()
    lens = POCKET.lens
    facts = {
        "width": lens.width,
        "height": lens.height,
        "terms": {n: float(v) for n, v in zip(LENS_TERMS, lens.vector, strict=True)},
    }
    (out / "lens-truth.json").write_text(json.dumps({"lens": facts}, indent=2) + "\n")


if __name__ == "__main__":
    main()
