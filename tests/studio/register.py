"""Writes samples/README.md: origin, licence and hash of every file."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

HEAD = """# Sample photos with exact truth

Origin: rendered by `tests/studio` in this repository, a small ray tracer. The instruments, their
names, the phones and their makers are our own inventions; no real product was imitated, and no
picture from elsewhere is in them. Licence: that of the repository.

Why: no public set of multi-megapixel phone photos with truth in millimetres was found, so these
are as like real ones as we could make them. What they do not show: paper that curls, rolling
shutter, lenses that Brown's model does not fit, computational photography.

In each folder: `top-N.jpg` as the phone wrote it; `mat.json` and `cards.json`, what a user keeps
beside the photos (with readings of a steel rule, rounded as people do); `truth.json`, which the
program never reads: `outline`, the vertical projection of the whole instrument at rest in its own
frame, mm; `length`, `width`, `height`, `widths`; and `recipe`, everything the scene was made from.
`wren/gauge-N.jpg` are photos of a contour gauge that was pressed to `wren`'s neck (and laid on the
same mat); the true sections are in its `gauge-truth.json`.
`side-1.jpg` is the instrument as it lies, from the side, a row of upright sheets behind it
(`upright.json` is their record), `side-2.jpg` the same from beside the tail, as it comes out of a
messenger; `side-truth.json` has the highest and the lowest point along it, the middle of the strap
button's end and the headstock's tilt.
`lens/` holds tilted photos of a mat alone, from the phone of `wren`; the true lens is in its
`lens-truth.json`.

Render again (a few minutes each; geometry and truth come out the same, the noise in a photo depends
on the versions of the libraries):

    pip install -e '.[test,studio]'     # Debian also needs libusb-1.0-0
    python -m tests.studio render all
    python -m tests.studio.lens_photos samples/lens
    python -m tests.studio.gauge_photos samples samples/wren
    python -m tests.studio.upright wren samples/wren --sample
    python -m tests.studio.upright skerry samples/skerry --sample
    python -m tests.studio register     # this file

## Photos

| folder | instrument | length × width × height, mm | mat | photos | phone |
|---|---|---|---|---|---|
"""
WORDS = {
    "wren": "small four-string, pale top, white binding",
    "moor": "large six-string, dark and glossy",
    "skerry": "thin blue six-string with one cutaway, warm mat",
    "dunlin": "pear-shaped four-string, round back, hard light",
    "heron": "violin family: corners, arching, overhanging plates",
    "lens": "none: for calibrating the lens",
}


def listed_files(folder: Path) -> list[Path]:
    """Every file of the samples; `pictures/` holds small copies for the main README, no samples."""
    return [f for f in sorted(folder.glob("*/*")) if f.parent.name != "pictures"]


def write_readme(folder: Path) -> None:
    """Look through the samples and write their README."""
    rows, hashes = [], []
    for truth_file in sorted(folder.glob("*/truth.json")):
        name = truth_file.parent.name
        truth = json.loads(truth_file.read_text())
        recipe = truth["recipe"]
        size = (
            f"{truth['length']:.2f} × {truth['width']:.2f} × {truth['height']:.2f}"
            if "length" in truth
            else ""
        )
        photos = len(list(truth_file.parent.glob("top-*.jpg")))
        phone = recipe["phone"]
        rows.append(
            f"| `{name}` | {WORDS.get(name, '')} | {size} | {recipe['paper']}, {recipe['tint']} |"
            f" {photos} | {phone['make']} {phone['model']} |\n"
        )
    for file in listed_files(folder):
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        hashes.append(f"| `{file.relative_to(folder)}` | `{digest}` |\n")
    text = HEAD + "".join(rows) + "\n## SHA-256\n\n| file | hash |\n|---|---|\n" + "".join(hashes)
    (folder / "README.md").write_text(text)
