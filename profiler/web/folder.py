"""The working folder: ordinary job folders, and beside each what the page has to remember of it.

`job.json` in a job folder says what is to be measured: names, photos in order, units. The folder
`.bench` in it holds what can be made again at any time: undistorted photo, checks, small copies.
A folder that `profiler measure` wrote is a job too, without either.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import shutil
import time
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from profiler.errors import OutputError
from profiler.jobs.corrections import (
    CORRECTIONS_NAME,
    Corrections,
    CorrectionsUnusable,
    corrections_bytes,
    read_corrections,
)
from profiler.jobs.manifest import PHOTO_ENDINGS
from profiler.jobs.reading import MEASUREMENT_NAME
from profiler.jobs.results import record_bytes
from profiler.jobs.side import side_photos
from profiler.jobs.writing import write_atomically
from profiler.web.answers import Refused, missing
from profiler.web.names import folder_stem, plain_line

STATE_NAME = "job.json"
BENCH_NAME = ".bench"
REMOVED_NAME = ".removed"
FORMAT = "profiler bench job"
VERSION = 1
MOST_PHOTOS = 8
#: of a photo that is on its way; an upload takes 10 min at most, and this long nobody sends it
DRAFT_ENDING, _DRAFT_S = ".part", 3600.0
#: kinds of file that a page may fetch from a job folder
KINDS = {
    ".pdf": "pdf",
    ".svg": "svg",
    ".dxf": "dxf",
    ".json": "json",
    ".csv": "csv",
    ".jpg": "jpg",
}
#: what a page does not list: its own, and the photos, which it lists apart
_OWN = (STATE_NAME,)


@dataclass(frozen=True)
class JobState:
    """What the page remembers of a job.

    Attributes:
        revision: goes up with every change.
        name, customer: for headings.
        units: 'mm' or 'in', which comes first.
        inch_step: inches to the nearest 1/N.
        accept_crop: take cropped photos too.
        sample: it came with the program.
        photos: file name in the folder and the name under which it came.
        problem: code and sentence of what measuring said no to; None for nothing.
        used: which records were used, a line each.
        refused: why the last correction was not taken; '' where it was.
        refused_at: where that was, px of the photo.
        worked_in: which corrections the results hold; '' where that is not known.
        measured_with: names of the photos that the results belong to; the one from the side
            comes last, after 'side/'.
        side: name of the photo that is the view from the side; '' for none.
        own_records: the mat's and the cards' records in the folder are its own, not the bench's.
    """

    revision: int = 0
    name: str = ""
    customer: str = ""
    units: str = "mm"
    inch_step: int = 64
    accept_crop: bool = False
    sample: bool = False
    photos: tuple[tuple[str, str], ...] = ()
    problem: tuple[str, str] | None = None
    used: tuple[str, ...] = ()
    own_records: bool = False
    refused: str = ""
    refused_at: tuple[tuple[float, float], ...] = ()
    worked_in: str = ""
    measured_with: tuple[str, ...] = ()
    side: str = ""


class JobPlace:
    """One job's folder."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.id = path.name
        self.bench = path / BENCH_NAME

    @property
    def measured(self) -> bool:
        """Whether there are results."""
        return (self.path / MEASUREMENT_NAME).is_file()

    def state(self) -> JobState:
        """As it was left; for a folder of the command line, what can be read off it."""
        try:
            record = json.loads((self.path / STATE_NAME).read_text(encoding="utf-8"))
            return _state_from(record)
        except FileNotFoundError:
            return self._found()
        except (OSError, ValueError, TypeError, KeyError, RecursionError, OverflowError):
            return self._found()

    def keep(self, state: JobState) -> None:
        """Remember.

        Raises:
            OutputError: the disk refuses.
        """
        said = asdict(state)
        record = {"format": FORMAT, "version": VERSION, **said}
        write_atomically(self.path / STATE_NAME, record_bytes(_plain(record)), overwrite=True)

    def photo_paths(self, state: JobState) -> tuple[Path, ...]:
        """From above, first that which gives the outline; those that are gone are left out."""
        return tuple(
            p
            for name, _ in state.photos
            if name != state.side and (p := self.path / name).is_file()
        )

    def side_path(self, state: JobState) -> Path | None:
        """The photo from the side, None without one."""
        if state.side not in (name for name, _ in state.photos):
            return None
        path = self.path / state.side
        return path if path.is_file() else None

    def corrections(self) -> Corrections:
        """Those that were made; none where the file is no good."""
        try:
            if (self.path / CORRECTIONS_NAME).is_file():
                return read_corrections(self.path)
        except CorrectionsUnusable:
            pass
        return Corrections()

    def corrections_key(self) -> str:
        """What stands for the corrections that are made now."""
        return corrections_key(self.corrections())

    def keep_corrections(self, corrections: Corrections) -> None:
        """Raises:
        OutputError: the disk refuses.
        """
        write_atomically(
            self.path / CORRECTIONS_NAME, corrections_bytes(corrections), overwrite=True
        )

    def bench_file(self, name: str) -> Path:
        """Where the page keeps something that can be made again; the folder is made."""
        self.bench.mkdir(exist_ok=True)
        return self.bench / name

    def bench_json(self, name: str) -> dict[str, Any] | None:
        """A file of the page's own; None where there is none or it is no good."""
        try:
            found = json.loads((self.bench / name).read_text(encoding="utf-8"))
            json.dumps(found, allow_nan=False)
        except (OSError, ValueError, RecursionError):
            return None
        return found if isinstance(found, dict) else None

    def files(self) -> list[tuple[str, Path]]:
        """Results: path in the job with / and where it lies; photos and the page's own left out."""
        photos = {name for name, _ in self.state().photos}
        found = []
        for folder in (self.path, *sorted(p for p in self.path.iterdir() if p.is_dir())):
            if folder.name.startswith(".") or folder.is_symlink():
                continue
            for path in sorted(folder.iterdir()):
                if (
                    path.suffix.lower() in KINDS
                    and not path.name.startswith(".")
                    and path.is_file()
                    and not path.is_symlink()
                    and not (folder == self.path and path.name in (*_OWN, *photos))
                ):
                    found.append((path.relative_to(self.path).as_posix(), path))
        return found

    def _found(self) -> JobState:
        from profiler.jobs.reading import MeasurementFileError, notes_from_record, read_record

        try:
            record = read_record(self.path)
        except MeasurementFileError:
            record = {}
        notes = notes_from_record(record)
        names = [p.get("name") for p in record.get("photos", []) if isinstance(p, dict)]
        sides = side_photos(record)
        photos = tuple(
            (name, name)
            for name in (*names, *sides)
            if isinstance(name, str)
            and Path(name).name == name
            and Path(name).suffix.lower() in PHOTO_ENDINGS
            and (self.path / name).is_file()
        )
        # further ones are known by what stands in them
        side = next((name for name, _ in photos if name in sides[:1]), "")
        return JobState(
            name=notes.name,
            customer=notes.customer,
            photos=photos,
            own_records=True,
            measured_with=roles((name for name, _ in photos), side),
            side=side,
        )


def has(state: JobState, photo: str) -> bool:
    """Whether a photo of that name in the folder is one of the job's."""
    return any(name == photo for name, _ in state.photos)


def roles(photos: Iterable[str], side: str) -> tuple[str, ...]:
    """Names of a job's photos as `JobState.measured_with` has them."""
    above = tuple(name for name in photos if name != side)
    return (*above, f"side/{side}") if side else above


def put(path: Path, data: bytes) -> None:
    """Write a file of the page's, over the one before.

    Raises:
        OutputError: the disk refuses.
    """
    write_atomically(path, data, overwrite=True)


def corrections_key(corrections: Corrections) -> str:
    """The same for the same corrections, whatever could be redone."""
    done = Corrections(done=corrections.done)
    return hashlib.sha256(corrections_bytes(done)).hexdigest()[:16]


class WorkingFolder:
    """All jobs of the bench."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def place(self, job_id: str) -> JobPlace:
        """A job by its id, which is the name of its folder.

        Raises:
            Refused: there is none. Whatever tries to lead elsewhere is none.
        """
        if (
            not job_id
            or len(job_id) > 200
            or job_id.startswith(".")
            or any(c in "/\\:\0" or not c.isprintable() for c in job_id)
        ):
            raise missing("This job")
        path = self.path / job_id
        try:
            if path.is_symlink() or not path.is_dir() or not _is_job(path):
                raise missing("This job")
        except OSError:
            raise missing("This job") from None
        return JobPlace(path)

    def places(self) -> list[JobPlace]:
        """All jobs, what was changed last first."""
        found = []
        for path in self.path.iterdir():
            if path.name.startswith(".") or path.is_symlink() or not path.is_dir():
                continue
            if _is_job(path):
                found.append((changed(path), path))
        return [JobPlace(path) for _, path in sorted(found, key=lambda f: (-f[0], f[1].name))]

    def new(self, state: JobState) -> JobPlace:
        """A new job's folder.

        Raises:
            OutputError: the disk refuses.
        """
        stem = folder_stem(state.name or "job")
        for count in range(1, 10_000):
            path = self.path / (stem if count == 1 else f"{stem}-{count}")
            try:
                path.mkdir()
            except FileExistsError:
                continue
            except OSError as error:
                raise OutputError(
                    f"{path} cannot be made: {(error.strerror or str(error)).lower()}."
                ) from None
            place = JobPlace(path)
            place.keep(replace(state, revision=1))
            return place
        raise OutputError(f"There are too many jobs named {stem}.")

    def remove(self, place: JobPlace) -> None:
        """Into `.removed`, from where a person can take it back.

        Raises:
            OutputError: the disk refuses.
        """
        bin_ = self.path / REMOVED_NAME
        try:
            bin_.mkdir(exist_ok=True)
            target = bin_ / place.id
            if target.exists():
                target = bin_ / f"{place.id}.{secrets.token_hex(3)}"
            os.rename(place.path, target)
        except OSError as error:
            raise OutputError(
                f"{place.path} cannot be taken away: {(error.strerror or str(error)).lower()}."
            ) from None

    def sweep(self) -> None:
        """Take away what an upload has left that ended with the server in its middle."""
        for place in self.places():
            for draft in place.path.glob(f".*{DRAFT_ENDING}"):
                with suppress(OSError):
                    if time.time() - draft.stat().st_mtime > _DRAFT_S and not draft.is_symlink():
                        draft.unlink()

    def room_for(self, size: int) -> None:
        """Raises:
        Refused: the disk has no room for a file of this size and the work on it.
        """
        if shutil.disk_usage(self.path).free < size + 100_000_000:
            raise Refused(507, "write", "The disk is almost full. Make room first.")


def changed(path: Path) -> float:
    """When a job was changed last, seconds since 1970; 0 where it is gone."""
    times = []
    for name in (STATE_NAME, MEASUREMENT_NAME):
        try:
            times.append((path / name).stat().st_mtime)
        except OSError:
            continue
    return max(times, default=0.0)


def _is_job(path: Path) -> bool:
    return (path / STATE_NAME).is_file() or (path / MEASUREMENT_NAME).is_file()


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(v) for v in value]
    return value


def _state_from(record: Any) -> JobState:
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise ValueError("no state of ours")
    problem = record.get("problem")
    photos = tuple(
        (str(name), plain_line(str(said)))
        for name, said in record["photos"]
        if Path(str(name)).name == name and not str(name).startswith(".")
    )
    return JobState(
        revision=int(record["revision"]),
        name=plain_line(str(record["name"])),
        customer=plain_line(str(record["customer"])),
        units="in" if record["units"] == "in" else "mm",
        inch_step=min(max(int(record["inch_step"]), 1), 128),
        accept_crop=record["accept_crop"] is True,
        sample=record["sample"] is True,
        photos=photos[:MOST_PHOTOS],
        problem=(str(problem[0]), str(problem[1])) if problem else None,
        used=tuple(str(line) for line in record["used"]),
        own_records=record["own_records"] is True,
        refused=str(record.get("refused", "")),
        refused_at=tuple((float(x), float(y)) for x, y in record.get("refused_at", ())),
        measured_with=tuple(str(n) for n in record.get("measured_with", ())),
        worked_in=str(record.get("worked_in", "")),
        side=side if (side := str(record.get("side", ""))) in (n for n, _ in photos) else "",
    )
