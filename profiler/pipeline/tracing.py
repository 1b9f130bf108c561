"""The back that a drawn line or a cut-out card in a photo shows."""

from __future__ import annotations

import numpy as np

from profiler.errors import OutlineError
from profiler.findings import Finding, Level
from profiler.instrument.traced import SeenBack
from profiler.instrument.tracing import NoProfile, back_from_curve
from profiler.pipeline.laid import Laid, scale_uncertainty
from profiler.silhouette.drawn_line import find_line, is_rival
from profiler.silhouette.edge import trace_edge
from profiler.silhouette.inked import print_divisor
from profiler.silhouette.level import lay_level

#: a paper's or card's face above the mat, and its standard uncertainty: it does not lie quite flat
_HEIGHT, _U_HEIGHT = 0.2, 0.4
_CELL_MM = 0.12
#: a drawn line may have run beside what it follows by this part of its width, standard
_OFF = 0.25
#: a card's edge over print and seams, and a corner cut by hand and seen rounded off: standard, mm
#: (as rendered cards show)
_CARD_EDGE, _CARD_CORNER = 0.25, 0.3


class TwoLines(OutlineError):
    """Two curves on one paper."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: two lines of about the same length are drawn there, and only one can be the"
            " profile. Cover the other with a pale paper, or draw each on its own."
        )


class OverASeam(OutlineError):
    """A pale card over a white seam."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: no line is drawn there, and where the card crosses the mat's white seams its"
            " edge is not seen. Lay it wholly inside one sheet."
        )


def traced_back(laid: Laid) -> tuple[SeenBack, list[Finding]]:
    """Follow the line that is drawn on the paper, or else the edge of the card.

    Raises:
        TwoLines, OverASeam, NoProfile: see there.
    """
    camera = laid.scene.cameras[0]
    level = lay_level(laid.pixels, camera, laid.plan, laid.silhouette.mask, 0.0, _HEIGHT, _CELL_MM)
    line = find_line(level)
    if line is not None:
        if is_rival(line):
            raise TwoLines(laid.name)
        if line.cut:
            raise NoProfile(laid.name, "it runs out of the paper, or of what is seen of it")
        ends = camera.project(np.column_stack([line.points, np.full(len(line.points), _HEIGHT)]))
        back = back_from_curve(
            line.points,
            line.closed,
            float(np.hypot(0.05, _OFF * line.width)),
            scale_uncertainty(laid.scene, ends, _HEIGHT, _U_HEIGHT),
            "the tracing",
            laid.name,
        )
        words = f"a drawn line, {line.width:.1f} mm wide; its middle was taken"
    elif laid.parted:
        raise OverASeam(laid.name)
    else:
        divisor = print_divisor(laid.lighting, laid.plan)
        edge = trace_edge(laid.pixels, camera, laid.plan, laid.silhouette, divisor)
        back = back_from_curve(
            edge.on_mat,
            True,
            max(float(np.median(edge.sigma)), _CARD_EDGE),
            scale_uncertainty(laid.scene, edge.pixels, 0.0, _U_HEIGHT),
            "the card",
            laid.name,
            _CARD_CORNER,
        )
        words = "the edge of a cut-out card"
    face = (
        "the longest straight side"
        if line is None or line.closed
        else "the straight line between its ends"
    )
    note = Finding(
        617,
        Level.NOTE,
        f"Seen in {laid.name}: {words}. Its face is taken to be {face}.",
    )
    return back, [note]
