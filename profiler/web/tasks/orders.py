"""What the measuring process is told and what it gives back; apart from it, so that the server need
not load the measuring."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from profiler.jobs.corrections import Corrections
from profiler.jobs.reading import JobNotes


@dataclass(frozen=True)
class Order:
    """What is to be measured; plain values, for another process.

    Attributes:
        photos: first the one that gives the outline.
        corrections: by hand.
        notes: for headings.
        sides: photos from the side.
        shown: key of the picture that the page has already, '' for none.
    """

    photos: tuple[Path, ...]
    corrections: Corrections = field(default_factory=Corrections)
    notes: JobNotes = field(default_factory=JobNotes)
    units: str = "mm"
    inch_step: int = 64
    accept_crop: bool = False
    sides: tuple[Path, ...] = ()
    shown: str = ""


@dataclass(frozen=True)
class Done:
    """What came of it.

    Attributes:
        files: of the job folder, the measurement last; none where it was refused. The report is
            drawn afterwards.
        bench: the page's own files.
        seen: what the page draws; None where not even the scene was solved.
        problem: code and sentence of a refusal.
        used: a line on each record.
        side: name of the photo that was used as the view from the side; '' for none.
    """

    files: dict[str, bytes] = field(default_factory=dict)
    bench: dict[str, bytes] = field(default_factory=dict)
    seen: dict[str, Any] | None = None
    problem: tuple[str, str] | None = None
    used: tuple[str, ...] = ()
    side: str = ""
