"""The sample that travels with the program: a rendered photo, as a smaller sensor would see it.

    python -m tests.web.sample

The photo was rendered by `tests.studio`. Reduced by areas it is what a phone with fewer and larger
pixels would have taken, and its EXIF says that size; nothing is drawn in or taken out.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

SAMPLES = Path(__file__).parents[2] / "samples" / "wren"
PLACE = Path(__file__).parents[2] / "profiler" / "web" / "sample"
SIZE = (2800, 2100)
QUALITY = 88
#: EXIF of the Exif block: width, height, focal lengths
WIDTH, HEIGHT, FOCAL, FOCAL_35 = 40962, 40963, 37386, 41989
MAKE, MODEL, ORIENTATION = 271, 272, 274
EXIF_BLOCK = 0x8769


def make() -> None:
    """Write the sample's files."""
    whole = Image.open(SAMPLES / "top-1.jpg")
    given = whole.getexif()
    notes = Image.Exif()
    for key in (MAKE, MODEL, ORIENTATION):
        notes[key] = given[key]
    inner, told = notes.get_ifd(EXIF_BLOCK), given.get_ifd(EXIF_BLOCK)
    inner[WIDTH], inner[HEIGHT] = SIZE
    inner[FOCAL], inner[FOCAL_35] = float(told[FOCAL]), int(told[FOCAL_35])
    reduced = cv2.resize(np.asarray(whole), SIZE, interpolation=cv2.INTER_AREA)
    PLACE.mkdir(exist_ok=True)
    Image.fromarray(reduced).save(PLACE / "photo-1.jpg", quality=QUALITY, exif=notes, subsampling=0)
    for name in ("mat.json", "cards.json"):
        shutil.copyfile(SAMPLES / name, PLACE / name)


if __name__ == "__main__":
    make()
