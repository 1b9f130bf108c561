"""What can be wrong with an archive, or with what is asked of it."""

from __future__ import annotations

from profiler.errors import InputError, OutputError, RequestError


class ArchiveUnusable(InputError):
    """It cannot be opened: not there, not an archive, damaged, or out of reach."""


class ArchiveNewer(InputError):
    """A later program wrote it; `found` is the version of its tables."""

    def __init__(self, where: str, found: str, known: str) -> None:
        super().__init__(
            f"The archive {where} was written by a newer program (tables {found}; this program"
            f" knows up to {known}). It was left as it is. Update this program, then open it again."
        )
        self.found, self.known = found, known


class ArchiveBusy(OutputError):
    """Another program holds it for longer than one waits."""


class NotInArchive(RequestError):
    """A number or a name that the archive does not have."""


class AmbiguousInArchive(RequestError):
    """What was said fits several."""


class CannotKeep(InputError):
    """A job, photo or document that is not fit to be kept."""


class PortableUnusable(InputError):
    """An exported file that cannot be read."""
