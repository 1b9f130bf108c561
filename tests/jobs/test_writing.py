"""Writing: whole or not at all, never over something else, and a sentence where it cannot be."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from profiler.errors import OutputError
from profiler.jobs.writing import (
    MARK,
    FolderTaken,
    OutputImpossible,
    OutputTaken,
    new_job_folder,
    write_atomically,
    write_together,
)


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_a_file_is_written(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.pdf", b"new")
    assert (tmp_path / "a.pdf").read_bytes() == b"new"
    assert names(tmp_path) == ["a.pdf"]


def test_a_file_has_the_users_usual_permissions(tmp_path: Path) -> None:
    (tmp_path / "usual").write_bytes(b"")
    write_atomically(tmp_path / "a.pdf", b"new")
    assert (tmp_path / "a.pdf").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_a_name_without_a_folder_goes_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write_atomically(Path("a.pdf"), b"new")
    with new_job_folder(Path("job")) as job:
        job.write("x", b"1")
    assert names(tmp_path) == ["a.pdf", "job"]


def test_a_file_is_not_overwritten_silently(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"old")
    with pytest.raises(OutputTaken, match="--force"):
        write_atomically(tmp_path / "a.pdf", b"new")
    assert (tmp_path / "a.pdf").read_bytes() == b"old"
    assert names(tmp_path) == ["a.pdf"]
    write_atomically(tmp_path / "a.pdf", b"new", overwrite=True)
    assert (tmp_path / "a.pdf").read_bytes() == b"new"


def test_a_file_that_appears_meanwhile_is_not_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.fsync

    def somebody_else_is_quicker(handle: int) -> None:
        (tmp_path / "a.pdf").write_bytes(b"theirs")
        real(handle)

    monkeypatch.setattr(os, "fsync", somebody_else_is_quicker)
    with pytest.raises(OutputTaken):
        write_atomically(tmp_path / "a.pdf", b"new")
    assert (tmp_path / "a.pdf").read_bytes() == b"theirs"
    assert names(tmp_path) == ["a.pdf"]


def test_disks_without_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(source: object, target: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    write_atomically(tmp_path / "a.pdf", b"new")
    assert (tmp_path / "a.pdf").read_bytes() == b"new"
    with pytest.raises(OutputTaken):
        write_atomically(tmp_path / "a.pdf", b"newer")
    assert names(tmp_path) == ["a.pdf"]


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.ENOSPC, "disk is full"), (errno.EROFS, "read-only"), (errno.EACCES, "not allowed")],
)
def test_what_the_system_refuses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    def refuse(handle: int) -> None:
        raise OSError(number, os.strerror(number))

    (tmp_path / "a.pdf").write_bytes(b"old")
    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OutputImpossible, match=words):
        write_atomically(tmp_path / "a.pdf", b"new", overwrite=True)
    with pytest.raises(OutputImpossible, match=words), new_job_folder(tmp_path / "job") as job:
        job.write("x", b"1")
    assert (tmp_path / "a.pdf").read_bytes() == b"old"
    assert names(tmp_path) == ["a.pdf"]


@pytest.mark.parametrize("where", ["no/a.pdf", "file/a.pdf", "folder", "x" * 300])
def test_places_that_cannot_be(tmp_path: Path, where: str) -> None:
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "folder").mkdir()
    with pytest.raises(OutputError, match="cannot be written"):
        write_atomically(tmp_path / where, b"new")
    assert names(tmp_path) == ["file", "folder"]


def test_a_folder_appears_whole(tmp_path: Path) -> None:
    with new_job_folder(tmp_path / "job") as job:
        job.write("overlay.jpg", b"picture")
        assert not (tmp_path / "job").exists()
        job.write(MARK, b"{}")
    assert names(tmp_path) == ["job"]
    assert names(tmp_path / "job") == [MARK, "overlay.jpg"]


def test_a_folder_does_not_appear_after_an_error(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), new_job_folder(tmp_path / "job") as job:
        job.write("overlay.jpg", b"picture")
        raise RuntimeError
    assert names(tmp_path) == []


def test_an_empty_folder_may_be_used(tmp_path: Path) -> None:
    (tmp_path / "job").mkdir()
    with new_job_folder(tmp_path / "job") as job:
        job.write(MARK, b"{}")
    assert names(tmp_path / "job") == [MARK]


def test_an_earlier_job_is_only_replaced_by_force(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    with new_job_folder(folder) as job:
        job.write(MARK, b"old")
    (folder / "letter.txt").write_bytes(b"mine")
    with pytest.raises(FolderTaken, match="--force"):
        new_job_folder(folder)
    with new_job_folder(folder, force=True) as job:
        job.write(MARK, b"new")
        job.write("overlay.jpg", b"picture")
        assert (folder / MARK).read_bytes() == b"old"
    assert names(folder) == ["letter.txt", MARK, "overlay.jpg"]
    assert (folder / MARK).read_bytes() == b"new"
    assert (folder / "letter.txt").read_bytes() == b"mine"
    assert names(tmp_path) == ["job"]


def test_an_error_leaves_an_earlier_job_as_it_was(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    with new_job_folder(folder) as job:
        job.write(MARK, b"old")
    with pytest.raises(RuntimeError), new_job_folder(folder, force=True) as job:
        job.write(MARK, b"new")
        raise RuntimeError
    assert (folder / MARK).read_bytes() == b"old"
    assert names(tmp_path) == ["job"]


def test_force_does_not_touch_a_folder_of_other_things(tmp_path: Path) -> None:
    folder = tmp_path / "letters"
    folder.mkdir()
    (folder / "letter.txt").write_bytes(b"mine")
    with pytest.raises(FolderTaken, match="other things"):
        new_job_folder(folder, force=True)
    assert names(tmp_path) == ["letters"] and names(folder) == ["letter.txt"]


def test_what_a_killed_run_left_is_swept_a_day_later_and_nothing_else(tmp_path: Path) -> None:
    for name in (".job.0123abcd.part", ".job.4567cdef.part", ".jobs.0123abcd.part", "job.part"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "overlay.jpg").write_bytes(b"half")
    long_ago = time.time() - 2 * 86400
    for name in (".job.0123abcd.part", ".jobs.0123abcd.part", "job.part"):
        os.utime(tmp_path / name, (long_ago, long_ago))
    with new_job_folder(tmp_path / "job") as job:
        job.write(MARK, b"{}")
    assert names(tmp_path) == [".job.4567cdef.part", ".jobs.0123abcd.part", "job", "job.part"]


def test_a_file_in_the_way_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "job").write_bytes(b"mine")
    with pytest.raises(OutputError, match="in the way"):
        new_job_folder(tmp_path / "job", force=True)
    assert (tmp_path / "job").read_bytes() == b"mine"


def test_a_folder_filled_meanwhile_is_left_alone(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    with pytest.raises(OutputError), new_job_folder(folder) as job:
        job.write(MARK, b"{}")
        folder.mkdir()
        (folder / "letter.txt").write_bytes(b"mine")
    assert names(tmp_path) == ["job"] and names(folder) == ["letter.txt"]


@pytest.mark.parametrize("name", ["../x", "a/b", "", "."])
def test_a_job_writes_only_into_its_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError), new_job_folder(tmp_path / "job") as job:
        job.write(name, b"1")
    assert names(tmp_path) == []


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="needs to drop its rights")
def test_a_place_without_permission(tmp_path: Path) -> None:
    """Root may write anywhere, so a child without rights tries."""
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o755)
    program = (
        "import os, sys; from pathlib import Path\n"
        "from profiler.errors import OutputError\n"
        "from profiler.jobs.writing import new_job_folder, write_atomically\n"
        "os.setuid(65534)\n"
        "for what in (lambda p: write_atomically(p, b'1'), new_job_folder):\n"
        "    try: what(Path(sys.argv[1]) / 'x')\n"
        "    except OutputError as error: print(error)\n"
    )
    for folder in [locked, *locked.parents][:4]:
        if folder != Path("/") and folder != Path("/tmp"):
            os.chmod(folder, 0o755)
    run = subprocess.run(
        [sys.executable, "-c", program, str(locked)], capture_output=True, text=True
    )
    assert run.stdout.count("not allowed") == 2, run.stderr
    assert names(locked) == []


SHEETS = {"template.pdf": b"pdf", "template.svg": b"svg"}


def full_after(files: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk takes so many files and no more."""
    real, left = os.fsync, [files]

    def sync(handle: int) -> None:
        if not os.path.isdir(f"/proc/self/fd/{handle}"):
            left[0] -= 1
            if left[0] < 0:
                raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", sync)


@pytest.mark.parametrize("files", [0, 1])
def test_a_full_disk_leaves_no_new_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, files: int
) -> None:
    full_after(files, monkeypatch)
    with pytest.raises(OutputImpossible, match="the disk is full"):
        write_together(tmp_path / "new", SHEETS)
    assert names(tmp_path) == []


@pytest.mark.parametrize("files", [0, 1])
def test_a_full_disk_leaves_an_old_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, files: int
) -> None:
    for name in SHEETS:
        (tmp_path / name).write_bytes(b"old")
    full_after(files, monkeypatch)
    with pytest.raises(OutputImpossible, match="the disk is full"):
        write_together(tmp_path, SHEETS, overwrite=True)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == dict.fromkeys(SHEETS, b"old")


def test_files_together_are_not_written_into_a_file(tmp_path: Path) -> None:
    (tmp_path / "mat.json").write_bytes(b"{}")
    with pytest.raises(OutputImpossible, match="in the way"):
        write_together(tmp_path / "mat.json", {"template.pdf": b"new"}, overwrite=True)
    assert names(tmp_path) == ["mat.json"]


def test_files_are_written_together_or_refused_together(tmp_path: Path) -> None:
    paths = write_together(tmp_path / "new", SHEETS)
    assert [p.read_bytes() for p in paths] == [b"pdf", b"svg"]
    paths[0].unlink()
    with pytest.raises(OutputTaken, match=r"template\.svg"):
        write_together(tmp_path / "new", SHEETS)
    assert names(tmp_path / "new") == ["template.svg"]
    assert write_together(tmp_path / "new", SHEETS, overwrite=True) == paths
    with pytest.raises(OutputImpossible, match="Make it first"):
        write_together(tmp_path / "no" / "such", SHEETS)
