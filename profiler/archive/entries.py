"""What comes out of the archive: plain values, no database in them."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class FileEntry:
    """A file of a revision; see `tables.attachment`."""

    role: str
    name: str
    sha256: str
    elsewhere: str
    kept: bool


@dataclass(frozen=True)
class RevisionEntry:
    """One measurement of an instrument; lengths mm, None where not known."""

    id: int
    uid: str
    number: int
    measured: str
    added: str
    program: str
    kept_by: str
    notes: str
    length: float | None
    width: float | None
    height: float | None
    sha256: str
    files: tuple[FileEntry, ...] = field(default_factory=tuple)


@dataclass(frozen=True)
class InstrumentEntry:
    """An instrument with its customer ('' where none was named) and its revisions, oldest first."""

    id: int
    uid: str
    name: str
    customer: str
    customer_uid: str
    maker: str
    kind: str
    notes: str
    tags: tuple[str, ...]
    added: str
    revisions: tuple[RevisionEntry, ...]

    @property
    def latest(self) -> RevisionEntry:
        return self.revisions[-1]

    def revision(self, number: int | None) -> RevisionEntry | None:
        """The one of that number, the latest for None."""
        if number is None:
            return self.latest
        return next((r for r in self.revisions if r.number == number), None)


@dataclass(frozen=True)
class Details:
    """What a user says about a job; None leaves what is there."""

    customer: str | None = None
    name: str | None = None
    maker: str | None = None
    kind: str | None = None
    measured: str | None = None
    notes: str | None = None
    revision_notes: str | None = None
    tags: tuple[str, ...] = ()
