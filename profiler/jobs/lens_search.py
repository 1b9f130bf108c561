"""Where lens records lie, and which of them belongs to a photo."""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import platformdirs

from profiler.errors import InputError, RequestError
from profiler.jobs.lenses import LensRecord, mismatch, read_lens

#: name of a record that lies beside its photos
BESIDE = "lens.json"


@dataclass(frozen=True)
class LensChoice:
    """A record that fits a photo, or none, and what was passed over on the way."""

    record: LensRecord | None
    path: Path | None
    #: sentences about records that look meant for the photo but were not taken
    remarks: tuple[str, ...] = ()


def user_folder() -> Path:
    """The user's own lens records; the folder may not exist yet."""
    return Path(platformdirs.user_data_dir("profiler", appauthor=False)) / "lenses"


def packaged_folder() -> Path | None:
    """The records that come with the program.

    An installed wheel carries them as profiler/calib; in a checkout they lie at the top level.
    """
    package = Path(str(resources.files("profiler")))
    for folder in (package / "calib", package.parent / "calib"):
        if folder.is_dir():
            return folder
    return None


def find_lens(
    photo: Path,
    make: str,
    model: str,
    f35: float | None,
    width: int,
    height: int,
    explicit: Path | None = None,
) -> LensChoice:
    """The first record that fits: the one that was asked for, beside the photo, the user's, ours.

    A photo that names no phone is only matched with a record that was asked for or lies beside it.

    Args:
        photo: the photo's path.
        make, model: from EXIF, '' where missing.
        f35: EXIF 35 mm equivalent, mm, or None.
        width, height: sensor orientation, px.
        explicit: a record the user asked for.

    Raises:
        RequestError: the record that was asked for does not fit the photo.
        InputError: the record that was asked for, or the one beside the photo, cannot be read.
    """
    if explicit is not None:
        record = read_lens(explicit)
        if why := mismatch(record, make, model, f35, width, height):
            raise RequestError(
                f"The lens record {explicit} does not fit {photo.name}: {why}."
                " Leave it out, or calibrate this camera with 'profiler calibrate'."
            )
        return LensChoice(record, explicit)

    remarks: list[str] = []
    beside = photo.parent / BESIDE
    if beside.is_file():
        record = read_lens(beside)
        why = mismatch(record, make, model, f35, width, height)
        if not why:
            return LensChoice(record, beside)
        remarks.append(f"{beside} was not used for {photo.name}: {why}.")

    if model:
        for folder in (user_folder(), packaged_folder()):
            if folder is None or not folder.is_dir():
                continue
            fitting = []
            for path in sorted(folder.glob("*.json")):
                try:
                    record = read_lens(path)
                except InputError as error:
                    remarks.append(f"{error}")
                    continue
                # here only a record that names this very phone will do
                if record.model and not mismatch(record, make, model, f35, width, height):
                    fitting.append((record, path))
            if fitting:
                # the size that was calibrated before others, then the newest
                fitting.sort(key=lambda f: (f[0].lens.width == width, f[0].date, f[1].name))
                record, path = fitting[-1]
                return LensChoice(record, path, tuple(remarks))
    return LensChoice(None, None, tuple(remarks))


def install_path(record: LensRecord) -> Path:
    """Where a record is kept for all later photos: one file per camera and photo size."""
    lens = record.lens
    parts = [record.make, record.model, f"{record.f35:g}mm" if record.f35 else ""]
    words = "-".join(p for p in parts if p) or record.name or "lens"
    stem = re.sub(r"[^a-z0-9]+", "-", f"{words}-{lens.width}x{lens.height}".lower()).strip("-")
    return user_folder() / f"{stem}.json"
