"""What a drawing task gives back; apart from it, so that the server need not load the pens."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from profiler.findings import Finding

#: (file, number from 1, width mm, height mm)
Pages = list[tuple[str, int, float, float]]


@dataclass(frozen=True)
class Sheets:
    """What was drawn.

    Attributes:
        files: by name.
        pages: of every PDF among them.
        findings: what had to be said.
        more: what only this kind of sheet has, as plain values.
    """

    files: dict[str, bytes]
    pages: Pages = field(default_factory=list)
    findings: tuple[Finding, ...] = ()
    more: dict[str, Any] = field(default_factory=dict)
