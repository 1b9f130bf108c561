"""The README's pictures, made again by the commands that the README shows.

python -m tests.docs.pictures
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import pypdfium2
from PIL import Image

from tests.docs.readme import ROOT, run

FOLDER = ROOT / "samples" / "pictures"
WIDTH = 1400
PHOTO = ROOT / "samples" / "wren" / "top-1.jpg"


def make() -> None:
    """Write photo, overlay and template, reduced."""
    FOLDER.mkdir(exist_ok=True)
    with TemporaryDirectory() as temp:
        place = Path(temp)
        run(f"profiler measure '{PHOTO}' -o job --name Wren", place).check_returncode()
        run("profiler template job --clearance 3mm --format pdf", place).check_returncode()
        _reduced(Image.open(PHOTO)).save(FOLDER / "photo.jpg", quality=80)
        _reduced(Image.open(place / "job" / "overlay.jpg")).save(FOLDER / "overlay.jpg", quality=82)
        page = pypdfium2.PdfDocument(place / "job" / "template.pdf")[0]
        sheet = page.render(scale=2 * WIDTH / page.get_width()).to_pil()
        run("profiler case job --height 80mm --format pdf", place).check_returncode()
        page = pypdfium2.PdfDocument(place / "job" / "case" / "case.pdf")[0]
        _reduced(page.render(scale=2 * WIDTH / page.get_width()).to_pil()).convert(
            "P", palette=Image.Palette.ADAPTIVE, colors=48
        ).save(FOLDER / "case.png", optimize=True)
        head = "profiler headstock job --tilt 15 --thickness 12.5mm --lowest 9mm"
        run(head, place).check_returncode()
        neck = "--neck-at 496mm --neck-depth 19mm --neck-height 39.5mm"
        run(f"profiler cradle job {neck}", place).check_returncode()
        page = pypdfium2.PdfDocument(place / "job" / "cradle" / "cradle.pdf")[1]
        view = _reduced(page.render(scale=2 * WIDTH / page.get_width()).to_pil())
        view = view.crop((0, 0, WIDTH, round(0.91 * view.height)))
        view.convert("P", palette=Image.Palette.ADAPTIVE, colors=48).save(
            FOLDER / "cradle.png", optimize=True
        )
        _reduced(sheet).convert("P", palette=Image.Palette.ADAPTIVE, colors=16).save(
            FOLDER / "template.png", optimize=True
        )


def _reduced(picture: Image.Image) -> Image.Image:
    height = round(picture.height * WIDTH / picture.width)
    return picture.convert("RGB").resize((WIDTH, height), Image.Resampling.LANCZOS)


if __name__ == "__main__":
    make()
