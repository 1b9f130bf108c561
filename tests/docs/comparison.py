"""The README's picture of a comparison: a drawn outline, and the same with its neck turned.

python -m tests.docs.comparison
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2

from profiler.archive.compare import compare
from profiler.instrument.record import Measurement
from profiler.pipeline.comparison import Headings, comparison_files
from profiler.pipeline.wording import Wording
from tests.docs.readme import ROOT
from tests.made_up import made_up_measurement

TARGET = ROOT / "samples" / "pictures" / "comparison.png"
JOINT_MM = 285.0


def neck_turned(degrees: float) -> Measurement:
    """The made-up instrument with everything beyond the body turned about the joint."""
    m = made_up_measurement()
    outline = m.outline.copy()
    beyond = np.array(m.outline_part) != "body"
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    arm = outline[beyond] - [JOINT_MM, 0.0]
    outline[beyond] = arm @ np.array([[c, s], [-s, c]]) + [JOINT_MM, 0.0]
    return replace(m, outline=outline)


def draw(target: Path = TARGET) -> None:
    """Write the picture."""
    found = compare(made_up_measurement(), neck_turned(0.4))
    heads = Headings("Wren", "Ada Marsh", "12.1, 2025-11-03", "12.2, 2026-11-25")
    data = comparison_files(found, heads, Wording("Wren", "Ada Marsh"))["comparison.pdf"]
    page = pypdfium2.PdfDocument(data)[0].render(scale=1.5).to_pil()
    width, height = page.size
    page.crop((0, 0, width, int(height * 0.86))).convert("P", colors=64).save(target, optimize=True)


if __name__ == "__main__":
    draw()
