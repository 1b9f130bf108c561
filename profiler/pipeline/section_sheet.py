"""A section to the files of its sheet: bytes by file name, nothing written yet."""

from __future__ import annotations

import re

from profiler.drawing.dxf import dxf_bytes
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.svg import svg_bytes
from profiler.instrument.sections import Section
from profiler.jobs.reading import JobNotes
from profiler.plates.section import section_drawing

Files = dict[str, bytes]


def section_files(section: Section, notes: JobNotes) -> Files:
    """PDF, SVG and DXF of a section at full size, named after it."""
    drawing = section_drawing(section, notes.name, notes.customer)
    stem = "section-" + (re.sub(r"[^a-z0-9]+", "-", section.name.lower()).strip("-")[:60] or "x")
    return {
        f"{stem}.pdf": pdf_bytes([drawing], drawing.title, "Section at full size"),
        f"{stem}.svg": svg_bytes(drawing),
        f"{stem}.dxf": dxf_bytes(drawing),
    }
