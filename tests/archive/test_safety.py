"""Verify names every kind of damage; backup and restore; migrations; forgetting, with its proof."""

from __future__ import annotations

import os
import shutil
import sqlite3
import threading
import zlib
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import insert

from profiler.archive import tables as t
from profiler.archive.backup import backup, restore
from profiler.archive.database import Archive, open_archive
from profiler.archive.entries import Details
from profiler.archive.erase import forget_customer, forget_instrument
from profiler.archive.errors import ArchiveNewer, ArchiveUnusable, NotInArchive
from profiler.archive.files import FilesInFolder
from profiler.archive.find import Wanted, entry, find
from profiler.archive.intake import KeptFile, job_from_folder
from profiler.archive.keep import add_job
from profiler.archive.place import place_of
from profiler.archive.verify import tidy, verify
from profiler.errors import OutputError
from tests.archive.made import folder, job, quick_job

MIGRATIONS = Path(t.__file__).parent / "migrations"


def stocked(archive: Archive, count: int = 3) -> Archive:
    for seed in range(count):
        add_job(archive, quick_job(seed), Details())
    return archive


def everything(place: Path) -> dict[str, bytes]:
    return {str(p.relative_to(place)): p.read_bytes() for p in place.rglob("*") if p.is_file()}


# -- verify --------------------------------------------------------------------------------------


def test_a_sound_archive_is_sound(either: Archive) -> None:
    found = verify(stocked(either))
    assert found.problems == ()
    assert (found.instruments, found.revisions, found.files) == (3, 3, 4)


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("DELETE FROM measurement WHERE revision_id = 2", "2.1: its measurement is missing"),
        (
            "UPDATE measurement SET packed = '\\x00' WHERE revision_id = 2",
            "2.1: its measurement is",
        ),
        ("UPDATE revision SET length = 1 WHERE id = 2", "2.1: length, width"),
        ("UPDATE shape SET signature = '\\x00' WHERE revision_id = 2", "2.1: the signature"),
        ("DELETE FROM plan WHERE revision_id = 2", "2.1: the coarse outline"),
        ("DELETE FROM attachment WHERE revision_id = 2", "no record speaks of it"),
        ("UPDATE content SET size = 7 WHERE size > 1000", "bytes instead of 7"),
    ],
)
def test_damaged_records_are_named(either: Archive, sql: str, said: str) -> None:
    stocked(either)
    with either.write() as connection:
        connection.exec_driver_sql(
            sql.replace("'\\x00'", "'\\x00'" if not either.embedded else "x'00'")
        )
    assert any(said in str(p) for p in verify(either).problems)


@pytest.mark.parametrize(
    ("damage", "said", "sound"),
    [
        (lambda p: p.unlink(), "the file is missing", False),
        (lambda p: p.write_bytes(b"?" + p.read_bytes()[1:]), "is damaged (hash differs)", False),
        (lambda p: p.write_bytes(p.read_bytes()[:-1]), "bytes instead of", False),
        (lambda p: shutil.copy(p, p.with_name("0" * 64)), "no record speaks of", True),
        (lambda p: shutil.copy(p, p.with_name("x.part")), "a draft", True),
    ],
)
def test_damaged_files_are_named(shelf: Archive, damage: object, said: str, sound: bool) -> None:
    stocked(shelf)
    assert isinstance(shelf.files, FilesInFolder) and callable(damage)
    damage(shelf.files.path(quick_job(1).files[0].sha256))
    found = verify(shelf)
    assert any(said in str(p) for p in found.problems)
    assert found.sound == sound
    if sound:
        assert tidy(shelf) == 1
        assert verify(shelf).problems == ()


def test_a_damaged_database_is_a_sentence(tmp_path: Path) -> None:
    place = tmp_path / "archive"
    with open_archive(place_of(str(place)), make=True) as archive:
        stocked(archive)
    raw = bytearray((place / "archive.db").read_bytes())
    raw[4096 * 3 : 4096 * 6] = os.urandom(4096 * 3)
    (place / "archive.db").write_bytes(raw)
    with open_archive(place_of(str(place))) as archive:
        try:
            assert not verify(archive).sound
        except ArchiveUnusable as error:
            assert "damaged" in str(error) or "cannot be used" in str(error)
    (place / "archive.db").write_bytes(b"not a database at all, and long enough" * 100)
    with pytest.raises(ArchiveUnusable, match="damaged"):
        open_archive(place_of(str(place)))


# -- backup and restore --------------------------------------------------------------------------


def test_a_backup_while_others_write_is_whole(tmp_path: Path, shelf: Archive) -> None:
    stocked(shelf, 12)
    stop = threading.Event()
    written: list[int] = []
    failed: list[BaseException] = []

    def busy() -> None:
        try:
            with open_archive(shelf.place) as other:
                for seed in range(100, 400):
                    if stop.is_set():
                        return
                    kept = add_job(other, quick_job(seed), Details())
                    if seed % 4 == 0:
                        forget_instrument(other, kept.instrument)
                    written.append(seed)
        except BaseException as error:
            failed.append(error)

    writer = threading.Thread(target=busy)
    writer.start()
    try:
        while not written and not failed:
            stop.wait(0.01)
        for turn in range(3):
            backup(shelf, tmp_path / f"copy{turn}")
    finally:
        stop.set()
        writer.join()
    assert not failed
    for turn in range(3):
        with open_archive(place_of(str(tmp_path / f"copy{turn}"))) as copy:
            found = verify(copy)
            assert found.problems == () and found.instruments >= 12
    assert not [p for p in tmp_path.iterdir() if p.name.endswith(".part")]


def test_there_and_back(tmp_path: Path, shelf: Archive) -> None:
    before = find(stocked(shelf), Wanted())
    backup(shelf, tmp_path / "copy")
    restore(tmp_path / "copy", place_of(str(tmp_path / "new" / "home")))
    with open_archive(place_of(str(tmp_path / "new" / "home"))) as again:
        assert find(again, Wanted()) == before and verify(again).problems == ()
    assert everything(tmp_path / "copy").keys() == everything(tmp_path / "archive").keys()


def test_nothing_is_overwritten_and_damage_is_not_copied(tmp_path: Path, shelf: Archive) -> None:
    stocked(shelf)
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "mine.txt").write_text("mine")
    with pytest.raises(OutputError, match="there already"):
        backup(shelf, tmp_path / "taken")
    with pytest.raises(OutputError, match="there already"):
        restore(tmp_path / "archive", place_of(str(tmp_path / "taken")))
    assert isinstance(shelf.files, FilesInFolder)
    shelf.files.path(quick_job(1).files[0].sha256).unlink()
    with pytest.raises(ArchiveUnusable, match="missing or damaged"):
        backup(shelf, tmp_path / "copy")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["archive", "taken"]


# -- versions ------------------------------------------------------------------------------------


def test_the_steps_make_the_tables_that_the_program_uses(either: Archive) -> None:
    with either.read() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, t.metadata) == []
    script = ScriptDirectory(str(MIGRATIONS))
    assert script.get_current_head() == t.VERSION


def first_version(place: Path) -> None:
    """An archive as the first step made it, with one instrument in it."""
    from alembic import command
    from alembic.config import Config
    from sqlalchemy import create_engine

    place.mkdir()
    engine = create_engine(f"sqlite:///{place / 'archive.db'}")
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    made = job(1, "Wren", "Åsa Mårtenson")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.exec_driver_sql(
            "INSERT INTO customer (id, uid, key, name, added)"
            " VALUES (1, 'u', 'k', 'Åsa Mårtenson', '')"
        )
        connection.exec_driver_sql(
            "INSERT INTO instrument (id, uid, customer_id, name, maker, added)"
            " VALUES (1, 'u', 1, 'Wren', 'TERN', '')"
        )
        connection.exec_driver_sql(
            "INSERT INTO revision (id, uid, instrument_id, number, measured, added, program,"
            f" kept_by, sha256) VALUES (1, 'u', 1, 1, '2026-01-01', '', '', '', '{'0' * 64}')"
        )
        connection.execute(
            insert(t.measurement), {"revision_id": 1, "packed": zlib.compress(made.raw)}
        )
    engine.dispose()


def test_an_old_archive_is_brought_up_to_date_with_all_it_holds(tmp_path: Path) -> None:
    first_version(tmp_path / "old")
    with open_archive(place_of(str(tmp_path / "old"))) as archive:
        assert archive.found == "0001"
        assert entry(archive, 1).customer == "Åsa Mårtenson"
        assert find(archive, Wanted(customer="asa martenson"))[1] == 1  # what the step is for
        assert find(archive, Wanted(maker="tern"))[1] == 1
    with open_archive(place_of(str(tmp_path / "old"))) as archive:
        assert archive.found == t.VERSION


def test_a_step_that_fails_leaves_the_old_archive(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first_version(tmp_path / "old")
    before = everything(tmp_path / "old")

    def fail(_text: str) -> str:
        raise OSError("pulled the plug")

    monkeypatch.setattr("profiler.archive.words.folded", fail)
    with pytest.raises(OutputError):
        open_archive(place_of(str(tmp_path / "old")))
    monkeypatch.undo()
    with closing(sqlite3.connect(tmp_path / "old" / "archive.db")) as raw:
        assert raw.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
        assert "name_folded" not in str(raw.execute("SELECT sql FROM sqlite_master").fetchall())
    assert before.keys() == everything(tmp_path / "old").keys()


def test_a_newer_archive_is_refused_and_left_alone(either: Archive, tmp_path: Path) -> None:
    stocked(either, 1)
    with either.write() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0999'")
    before = everything(tmp_path)
    with pytest.raises(ArchiveNewer, match=r"newer program \(tables 0999"):
        open_archive(place_of(either.place.url or either.place.shown), make=True)
    assert everything(tmp_path) == before


def test_other_things_are_not_taken_for_an_archive(tmp_path: Path) -> None:
    with pytest.raises(ArchiveUnusable, match="no archive"):
        open_archive(place_of(str(tmp_path / "none")))
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("dear")
    with pytest.raises(ArchiveUnusable, match="holds other things"):
        open_archive(place_of(str(tmp_path / "full")), make=True)
    (tmp_path / "other").mkdir()
    with closing(sqlite3.connect(tmp_path / "other" / "archive.db")) as raw:
        raw.execute("CREATE TABLE letters (x)")
        raw.commit()
    with pytest.raises(ArchiveUnusable, match="not an archive of this program"):
        open_archive(place_of(str(tmp_path / "other")), make=True)
    assert [p.name for p in (tmp_path / "full").iterdir()] == ["letter.txt"]


# -- forgetting ----------------------------------------------------------------------------------


def test_nothing_of_a_forgotten_customer_is_left(either: Archive, tmp_path: Path) -> None:
    stocked(either, 4)
    secret = b"a photo that only Wilhelmina sent " * 5000
    document = b'{"format": "cradle", "for": "Wilhelmina Oystercatcher"}'
    made = job(50, "her own one", "Wilhelmina Oystercatcher", secret)
    from profiler.archive.files import digest

    files = (*made.files, KeptFile("cradle", "cradle.json", digest(document), document))
    made = type(made)(made.raw, made.record, made.measurement, made.notes, files)
    add_job(either, made, Details(notes="plays left-handed, Plover Street 7", tags=("Plover",)))
    before = everything(tmp_path)
    if either.embedded:
        assert any(b"Oystercatcher" in data for data in before.values())
    done = forget_customer(either, "wilhelmina  OYSTERCATCHER")
    assert (done.instruments, done.revisions, done.files, done.found) == (1, 1, 2, ())
    assert done.freed is None or done.freed > (len(secret) if either.embedded else 0)
    assert find(either, Wanted())[1] == 4 and verify(either).problems == ()
    if either.embedded:
        for data in everything(tmp_path).values():
            for trace in (b"ystercatcher", b"Wilhelmina", b"Plover", digest(secret).encode()):
                assert trace not in data
        assert len(b"".join(everything(tmp_path).values())) < len(b"".join(before.values()))
    with pytest.raises(NotInArchive):
        forget_customer(either, "Wilhelmina Oystercatcher")


def test_the_proof_notices_what_is_left(shelf: Archive) -> None:
    add_job(shelf, job(1, "one", "Wilhelmina Oystercatcher"), Details())
    add_job(shelf, job(2, "two", "Bo"), Details(notes="a friend of Wilhelmina Oystercatcher"))
    done = forget_customer(shelf, "Wilhelmina Oystercatcher")
    assert len(done.found) == 1 and "what is written about 2" in done.found[0]


def test_a_photo_that_others_need_stays(shelf: Archive) -> None:
    photo = b"the same picture" * 100
    add_job(shelf, job(1, "one", "Ada Marsh", photo), Details())
    add_job(shelf, job(2, "two", "Bo Reed", photo), Details())
    done = forget_customer(shelf, "Ada Marsh")
    assert done.shared == 2 and done.files == 0  # the photo, and the mat's record
    assert verify(shelf).problems == ()


# -- what a job folder brings --------------------------------------------------------------------


def test_a_folder_comes_with_photo_records_and_documents(tmp_path: Path) -> None:
    path = folder(tmp_path / "bench" / "job", 3, "Wren", "Ada")
    (path / "cradle.json").write_text('{"format": "profiler cradle"}')
    (path / "order.json").write_text('{"format": "profiler order"}')
    (path / "overlay.jpg").write_bytes(b"picture")
    found = job_from_folder(path)
    assert [(f.role, f.name) for f in found.files] == [
        ("photo", "top-1.jpg"),
        ("mat", "mat.json"),
        ("overlay", "overlay.jpg"),
        ("cradle", "cradle.json"),
    ]
    reference = job_from_folder(path, by_reference=True)
    assert reference.files[0].data is None
    assert reference.files[0].elsewhere == str((tmp_path / "bench" / "top-1.jpg").resolve())
    with open_archive(place_of(str(tmp_path / "shelf")), make=True) as shelf:
        add_job(shelf, reference, Details())
        assert verify(shelf).problems == ()
        (tmp_path / "bench" / "top-1.jpg").rename(tmp_path / "gone.jpg")
        found = verify(shelf)
        assert found.sound and "where it was left" in str(found.problems[0])
    (tmp_path / "bench" / "top-1.jpg").write_bytes(b"another")
    with pytest.raises(Exception, match="not the photo that was measured"):
        job_from_folder(path)
    (tmp_path / "bench" / "top-1.jpg").unlink()
    with pytest.raises(Exception, match="was not found"):
        job_from_folder(path)
    assert job_from_folder(path, without_photos=True).files[0].role == "mat"
