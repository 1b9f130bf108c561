"""What is put in comes out again; words about it can be changed, what was measured not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import func, select

from profiler.archive import tables as t
from profiler.archive.database import Archive
from profiler.archive.entries import Details
from profiler.archive.errors import AmbiguousInArchive, NotInArchive
from profiler.archive.find import Wanted, entry, find, measurement_bytes, number_of
from profiler.archive.keep import add_job, edit
from profiler.errors import RequestError
from tests.archive.made import job, photo_bytes


def test_everything_comes_out_as_it_went_in(either: Archive) -> None:
    made = job(1, "Wren", "Ada Marsh")
    kept = add_job(
        either,
        made,
        Details(maker="Tern & Sons", kind="viola", measured="2031-05-24", notes="two\nlines",
                revision_notes="first", tags=("sold", "blue")),
    )  # fmt: skip
    found = entry(either, kept.instrument)
    assert (found.name, found.customer, found.maker) == ("Wren", "Ada Marsh", "Tern & Sons")
    assert (found.kind, found.notes, found.tags) == ("viola", "two\nlines", ("blue", "sold"))
    revision = found.latest
    assert (revision.number, revision.measured, revision.notes) == (1, "2031-05-24", "first")
    assert revision.program.startswith("profiler ") and revision.kept_by.startswith("profiler ")
    assert [f.role for f in revision.files] == ["photo", "mat"]
    with either.read() as connection:
        assert measurement_bytes(connection, revision) == made.raw
        for file, original in zip(revision.files, made.files, strict=True):
            assert either.files.get(connection, file.sha256) == original.data


def test_a_revision_is_added_and_the_older_one_stays(either: Archive) -> None:
    first = add_job(either, job(1, "Wren", "Ada"), Details())
    again = add_job(either, job(2, "Wren", "Ada"), Details(), revision_of=first.instrument)
    assert (again.instrument, again.revision) == (first.instrument, 2)
    found = entry(either, first.instrument)
    assert [r.number for r in found.revisions] == [1, 2]
    assert found.revisions[0].sha256 != found.revisions[1].sha256


def test_the_same_job_is_kept_once_and_a_namesake_needs_a_word(either: Archive) -> None:
    first = add_job(either, job(1, "Wren", "Ada"), Details())
    assert add_job(either, job(1, "Wren", "Ada"), Details()) == replace(first, known=True)
    with pytest.raises(AmbiguousInArchive, match=f"--revision-of {first.instrument}"):
        add_job(either, job(2, " wren ", "ADA"), Details())
    second = add_job(either, job(2, "Wren", "Ada"), Details(), another=True)
    assert second.instrument != first.instrument
    assert find(either, Wanted())[1] == 2


def test_photos_of_the_same_content_are_kept_once(either: Archive) -> None:
    photo = photo_bytes(9)
    for seed in range(3):
        add_job(either, job(seed, f"No. {seed}", "Ada", photo), Details())
    with either.read() as connection:
        names = list(either.files.names(connection))
        rows = connection.execute(select(func.count()).select_from(t.content)).scalar()
    assert len(names) == rows == 2  # one photo, one mat record


def test_another_customer_is_no_revision(either: Archive) -> None:
    first = add_job(either, job(1, "Wren", "Ada"), Details())
    with pytest.raises(RequestError, match="belongs to Ada"):
        add_job(either, job(2), Details(customer="Bo"), revision_of=first.instrument)
    with pytest.raises(NotInArchive):
        add_job(either, job(2), Details(), revision_of=999)
    assert find(either, Wanted())[1] == 1


def test_edits_change_words_and_leave_the_measurement(either: Archive) -> None:
    kept = add_job(either, job(1, "Wren", "Ada"), Details(tags=("new",)))
    before = entry(either, kept.instrument).latest
    edit(
        either,
        kept.instrument,
        Details(customer="Bo", notes="has moved", measured="2030-01-02", tags=("-new", "old")),
    )
    found = entry(either, kept.instrument)
    assert (found.customer, found.notes, found.tags) == ("Bo", "has moved", ("old",))
    assert found.latest.measured == "2030-01-02"
    assert found.latest.sha256 == before.sha256
    assert find(either, Wanted(words="moved"))[1] == 1
    assert find(either, Wanted(customer="Ada"))[1] == 0  # nobody is left of that name


@pytest.mark.parametrize("text", ["", "x", "1.2.3", "-1", "1.", "１２x", "1e3"])
def test_numbers_are_read_strictly(text: str) -> None:
    with pytest.raises(RequestError):
        number_of(text)


@pytest.mark.parametrize("day", ["24.5.2031", "2031-13-01", "yesterday", ""])
def test_dates_are_read_strictly(either: Archive, day: str) -> None:
    with pytest.raises(RequestError, match="no date"):
        add_job(either, job(1, "Wren"), Details(measured=day or "?"))
    assert find(either, Wanted())[1] == 0
