"""Writing results: a file or a folder appears whole or not at all; nothing is lost on the way."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import BinaryIO

from profiler.errors import OutputError

#: written last into a job folder, and what marks one as this program's
MARK = "measurement.json"
#: a draft that nobody has touched for this long is a killed run's
_STALE_S = 86400.0


class OutputTaken(OutputError):
    """There is something already; nothing is ever overwritten silently."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"{path} is there already and was left as it is. Choose another name, or say --force to"
            " replace it."
        )
        self.path = path


class FolderTaken(OutputError):
    """An output folder with something in it; `ours` tells whether an earlier job wrote it."""

    def __init__(self, path: Path, ours: bool) -> None:
        advice = (
            "holds an earlier job. Choose another folder, or say --force to replace its results"
            if ours
            else "holds other things, which are left alone. Choose a new or an empty folder"
        )
        super().__init__(f"The folder {path} {advice}.")
        self.path, self.ours = path, ours


class OutputImpossible(OutputError):
    """The system refused; `path` is what could not be written."""

    def __init__(self, path: Path, why: str) -> None:
        super().__init__(f"{path} cannot be written: {why}.")
        self.path = path


def write_atomically(path: Path, data: bytes, overwrite: bool = False) -> None:
    """Write one file so that it is never seen half-written.

    Args:
        path: where to; its folder must exist.
        data: the whole file.
        overwrite: replace a file that is there already.

    Raises:
        OutputTaken: there is a file and `overwrite` is off.
        OutputImpossible: no such folder, no permission, no space.
    """
    with _refusals_named(path):
        _check_parent(path)
        _check_free(path, overwrite)
        draft = _draft_beside(path)
        try:
            _write_through(draft, data)
            if overwrite:
                os.replace(draft, path)
            else:
                _move_without_clobber(draft, path)
            settle(path.parent)
        finally:
            draft.unlink(missing_ok=True)


def write_together(folder: Path, files: Mapping[str, bytes], overwrite: bool = False) -> list[Path]:
    """Write several files into one folder. A refusal or a full disk leaves no file and no folder.

    Args:
        folder: made if only its last part is missing; what else it holds stays.
        files: whole files by name, without folders.
        overwrite: replace files that are there already.

    Returns:
        where they are, in the order given.

    Raises:
        OutputTaken: one of them is there and `overwrite` is off.
        OutputImpossible: no such place, no permission, no space.
    """
    paths = [folder / name for name in files]
    if not folder.exists():
        with new_job_folder(folder) as new:
            for name, data in files.items():
                new.write(name, data)
        return paths
    if not folder.is_dir():
        raise OutputImpossible(folder, "a file of that name is in the way")
    for path in paths:
        with _refusals_named(path):
            _check_free(path, overwrite)
    drafts = [_draft_beside(path) for path in paths]
    try:
        # what can fail for want of space fails before the first file is in its place
        for path, draft, data in zip(paths, drafts, files.values(), strict=True):
            with _refusals_named(path):
                _write_through(draft, data)
        for path, draft in zip(paths, drafts, strict=True):
            with _refusals_named(path):
                os.replace(draft, path) if overwrite else _move_without_clobber(draft, path)
        settle(folder)
    finally:
        for draft in drafts:
            draft.unlink(missing_ok=True)
    return paths


@contextmanager
def whole_file(path: Path, overwrite: bool = False) -> Iterator[BinaryIO]:
    """A file too large for memory: written beside its place, moved there if all went well.

    Raises:
        OutputTaken: there is a file and `overwrite` is off.
        OutputImpossible: no such folder, no permission, no space.
    """
    with _refusals_named(path):
        _check_parent(path)
        _check_free(path, overwrite)
        draft = _draft_beside(path)
        try:
            with open(draft, "x+b") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            if overwrite:
                os.replace(draft, path)
            else:
                _move_without_clobber(draft, path)
            settle(path.parent)
        finally:
            draft.unlink(missing_ok=True)


class JobFolder:
    """A folder of results, built beside its place and moved there when everything is in it.

    Use it as a context: leaving without an error publishes it, an error leaves no trace.
    """

    def __init__(self, path: Path, draft: Path, replaces: bool) -> None:
        self.path = path
        self._draft = draft
        self._replaces = replaces
        self._names: list[str] = []

    def write(self, name: str, data: bytes) -> None:
        """Put a file into the folder to be.

        Args:
            name: of the file, without folders.
            data: the whole file.

        Raises:
            OutputImpossible: no permission, no space.
        """
        if not name or Path(name).name != name or name in self._names:
            raise ValueError(f"not a new plain file name: {name!r}")
        with _refusals_named(self.path / name):
            _write_through(self._draft / name, data)
        self._names.append(name)

    def __enter__(self) -> JobFolder:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if kind is None:
                self._publish()
        finally:
            shutil.rmtree(self._draft, ignore_errors=True)

    def _publish(self) -> None:
        with _refusals_named(self.path):
            if self._replaces:
                # the mark goes last, so that it never speaks of files that are not there yet
                for name in sorted(self._names, key=lambda n: n == MARK):
                    os.replace(self._draft / name, self.path / name)
            else:
                if self.path.is_dir():
                    self.path.rmdir()  # only succeeds on an empty one
                elif self.path.exists():
                    raise OutputTaken(self.path)
                os.rename(self._draft, self.path)
            settle(self.path.parent)


def new_job_folder(path: Path, force: bool = False) -> JobFolder:
    """Begin a folder of results. Called before long work, so that a bad place is told at once.

    Args:
        path: the folder to be; its parent must exist.
        force: replace the results of an earlier job in it. Other files there stay.

    Raises:
        FolderTaken: it holds an earlier job and `force` is off, or it holds other things.
        OutputTaken: there is a file of that name.
        OutputImpossible: no such parent, no permission, no space.
    """
    with _refusals_named(path):
        _check_parent(path)
        if path.exists() and not path.is_dir():
            raise OutputImpossible(path, "a file of that name is in the way")
        used = path.is_dir() and any(path.iterdir())
        if used:
            ours = (path / MARK).is_file()
            if not (force and ours):
                raise FolderTaken(path, ours)
            if not os.access(path, os.W_OK):
                raise OutputImpossible(path, "writing there is not allowed")
        _sweep(path)
        draft = _draft_beside(path)
        draft.mkdir()
        return JobFolder(path, draft, replaces=used)


def _draft_beside(path: Path) -> Path:
    """On the same disk as its place, so that moving it there is one step."""
    where = Path(os.path.abspath(path))
    return where.parent / f".{where.name[:60]}.{secrets.token_hex(4)}.part"


def _sweep(path: Path) -> None:
    """Clear away folders that a killed run left beside this place: a live one is no day old."""
    draft = _draft_beside(path)
    begins = draft.name[: -len("01234567.part")]
    with suppress(OSError):  # a folder that may not be listed can still be written to
        for old in draft.parent.iterdir():
            name = old.name
            ours = name.startswith(begins) and name.endswith(".part")
            if not ours or len(name) != len(draft.name) or not old.is_dir():
                continue
            if time.time() - old.stat().st_mtime > _STALE_S:
                shutil.rmtree(old, ignore_errors=True)


def _check_free(path: Path, overwrite: bool) -> None:
    if path.is_dir():
        raise OutputImpossible(path, "it is a folder; add the name of a file")
    if path.exists() and not overwrite:
        raise OutputTaken(path)


def _check_parent(path: Path) -> None:
    parent = Path(os.path.abspath(path)).parent
    if not parent.exists():
        raise OutputImpossible(path, f"there is no folder {parent}. Make it first")
    if not parent.is_dir():
        raise OutputImpossible(path, f"{parent} is not a folder")


def _write_through(path: Path, data: bytes) -> None:
    with open(path, "xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _move_without_clobber(draft: Path, path: Path) -> None:
    try:
        os.link(draft, path)
    except FileExistsError:
        raise OutputTaken(path) from None
    except OSError:  # memory cards and some network disks know no links
        if path.exists():
            raise OutputTaken(path) from None
        os.rename(draft, path)


def settle(folder: Path) -> None:
    """Make what was moved in a folder outlive a power cut, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # Windows opens no folders
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)


_WHY = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your quota of disk space is used up",
    errno.EROFS: "the disk is read-only",
    errno.EACCES: "writing there is not allowed",
    errno.EPERM: "writing there is not allowed",
    errno.ENAMETOOLONG: "the name is too long",
}


@contextmanager
def _refusals_named(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        why = _WHY.get(error.errno or 0, (error.strerror or str(error)).lower())
        raise OutputImpossible(path, why) from error
