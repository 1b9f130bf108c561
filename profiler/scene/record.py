"""The solved scene: what one joint least-squares solution knows, and how well."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.target.panel import Panel

Array = NDArray[np.float64]


@dataclass(frozen=True)
class PrintScale:
    """Printed length over designed length, along the panel's x and y, with standard uncertainty."""

    x: float = 1.0
    y: float = 1.0
    u_x: float = 0.005
    u_y: float = 0.005
    #: whether somebody laid a rule on the bars
    read: bool = False


@dataclass(frozen=True)
class PaperDoubt:
    """How little a sheet is the plane with the drawing on it: standard uncertainties.

    Attributes:
        rises: mm, how high a target lies over the sheet's plane.
        wanders: mm, how far it was printed from its place.
        stretches: by how much, relative, the sheet was printed larger than the others.
    """

    rises: float
    wanders: float
    stretches: float


#: a chessboard, made with care
NO_PAPER_DOUBT = PaperDoubt(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class PlacedPanel:
    """A sheet or card with its solved place.

    `mat_from_panel` takes panel millimetres (already times the print scale) to the mat frame.
    """

    panel: Panel
    mat_from_panel: Pose
    scale: PrintScale
    #: saddles of it that were used, over all photos
    points: int
    #: px, over those points
    rms: float

    def to_mat(self, local: Array) -> Array:
        """(N, 2) designed panel mm to (N, 3) mat mm."""
        flat = local * np.array([self.scale.x, self.scale.y])
        return self.mat_from_panel.apply(np.column_stack([flat, np.zeros(len(flat))]))

    @property
    def corners(self) -> Array:
        """(4, 3) mat mm: of its paper, anticlockwise from the lower left one."""
        w, h = self.panel.width, self.panel.height
        return self.to_mat(np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]))


@dataclass(frozen=True)
class OddSheet:
    """A sheet that is not as the others, and that the scene was solved without, wholly or in part.

    Attributes:
        name: as printed.
        kind: 'scale' printed at another scale, 'raised' not lying flat, 'unseen'.
        scale: its print scale over that of the others, along its x and y.
        rise: mm by which what rises most of it rises.
        left_out: whether the scene was solved without it, or without what rises of it.
    """

    name: str
    kind: str
    scale: tuple[float, float] = (1.0, 1.0)
    rise: float = 0.0
    left_out: bool = False


@dataclass(frozen=True)
class Scene:
    """Everything solved from the photos.

    Attributes:
        cameras: one per photo.
        sheets: the mat's sheets that were seen.
        cards: the height cards that were seen.
        parameters: (P,) names of the solved parameters, as 'lens f', 'photo 1 turn x'.
        covariance: (P, P) of those parameters, in their own units.
        rms: px over all used points.
        residuals: (N, 2) px, observed minus predicted, over all observations.
        used: (N,) bool, False for the points set aside as outliers.
        observations: one per photo, in the order of `residuals`.
        lens_source: 'record', 'photo' (solved from the photo alone) or 'fixed'.
        odd: sheets that are not as the others.
        presumed: sheets of which nothing was measured, where their neighbours put them.
    """

    cameras: tuple[Camera, ...]
    sheets: tuple[PlacedPanel, ...]
    cards: tuple[PlacedPanel, ...]
    parameters: tuple[str, ...]
    covariance: Array
    rms: float
    residuals: Array
    used: NDArray[np.bool_]
    observations: tuple[Observations, ...]
    lens_source: str
    odd: tuple[OddSheet, ...] = ()
    presumed: tuple[PlacedPanel, ...] = ()

    @property
    def lying(self) -> tuple[PlacedPanel, ...]:
        """All sheets that lie there, in the order of their design: each lies on those after it."""
        both = (*self.sheets, *self.presumed)
        return tuple(sorted(both, key=lambda s: s.panel.clusters[0].code))


@dataclass(frozen=True)
class LensPrior:
    """What is believed of a lens before this photo: value and standard uncertainty of each term.

    `sigma` has the order of `optics.lens.LENS_TERMS`; 0 holds a term fixed.
    """

    lens: Lens
    sigma: Array
    source: str
