"""The mat: one or several printed sheets, each identifiable by itself.

Mat frame: mm, x right, y up, z towards the viewer; the origin is the lower left corner of sheet 1.
Sheets are numbered from 1 along the bottom row, left to right, then the next row up. A sheet lies
on top of its right and its upper neighbour, so that the strip with the scale and the check bars
shows only along the left and lower edge of the whole mat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from profiler.errors import RequestError
from profiler.paper import Paper
from profiler.target.panel import Bar, Cluster, Panel, Rect
from profiler.target.tags import CODES, MAT_CODES, UPRIGHT_CODE_START

#: white rim that office printers cannot print on, mm
RIM_MM = 6.0
#: strip inside the rim, on the left and lower side, with scale, numbers and check bars, mm
STRIP_MM = 13.0
#: what a neighbour covers of a sheet: the rim and most of the strip, mm
OVERLAP_MM = 18.0
#: distance that clusters aim for, mm
SPACING_MM = 95.0
TAG_MM = 18.0
CHECK_MM = 4.5
#: from the tag's centre to the centre of a check, mm
CHECK_OFFSET_MM = 16.0
CROSS = (
    (CHECK_OFFSET_MM, 0.0),
    (0.0, CHECK_OFFSET_MM),
    (-CHECK_OFFSET_MM, 0.0),
    (0.0, -CHECK_OFFSET_MM),
)
#: default size of the mat: a 26 in instrument with the ground seen all round it, mm
DEFAULT_WIDTH_MM = 770.0
DEFAULT_HEIGHT_MM = 460.0
#: default width of the upright row: from the side it has to reach past both ends, mm
DEFAULT_UPRIGHT_MM = 820.0
#: linear-light-friendly pale blue: wood, black, white binding and sunburst are all far from it
DEFAULT_TINT = "#b4d2ee"


@dataclass(frozen=True)
class MatDesign:
    """Everything that decides how a mat is printed.

    Attributes:
        paper: one sheet; a roll is a paper of the roll's width and the mat's length.
        landscape: the sheets are turned, paper height along x.
        columns: sheets along x.
        rows: sheets along y.
        tint: the ground's colour as #rrggbb.
        upright: no mat but the row of sheets that stands behind the instrument for a side view,
            with identities of its own. Its sheets' frames are a mat's, stood up.
    """

    paper: Paper
    landscape: bool
    columns: int
    rows: int
    tint: str = DEFAULT_TINT
    upright: bool = False

    @property
    def sheet_width(self) -> float:
        return self.paper.height_mm if self.landscape else self.paper.width_mm

    @property
    def sheet_height(self) -> float:
        return self.paper.width_mm if self.landscape else self.paper.height_mm

    @property
    def pitch(self) -> tuple[float, float]:
        """From one sheet's corner to the next, mm."""
        return self.sheet_width - OVERLAP_MM, self.sheet_height - OVERLAP_MM

    @property
    def count(self) -> int:
        return self.columns * self.rows

    @property
    def width(self) -> float:
        """Of the whole assembled mat, paper included, mm."""
        return self.pitch[0] * (self.columns - 1) + self.sheet_width

    @property
    def height(self) -> float:
        return self.pitch[1] * (self.rows - 1) + self.sheet_height

    @property
    def clusters_per_sheet(self) -> int:
        nx, ny = self._grid()
        return nx * ny

    @property
    def most_clusters(self) -> int:
        """Identities that there are for a design of this kind."""
        return CODES - UPRIGHT_CODE_START if self.upright else MAT_CODES

    def _grid(self) -> tuple[int, int]:
        px, py = self.pitch
        return max(1, round(px / SPACING_MM)), max(1, round(py / SPACING_MM))

    def origin(self, index: int) -> tuple[float, float]:
        """Mat frame, mm: where sheet `index` (from 0) has its lower left paper corner."""
        row, column = divmod(index, self.columns)
        return column * self.pitch[0], row * self.pitch[1]

    @cached_property
    def sheets(self) -> tuple[Panel, ...]:
        return tuple(self._sheet(i) for i in range(self.count))

    @property
    def strip_up(self) -> float:
        """How far above a mat sheet's place the lower strip is printed, mm: a sheet that stands
        has it on top, since what hangs low over the bench is seen before its foot."""
        return self.sheet_height - 2 * RIM_MM - STRIP_MM if self.upright else 0.0

    @property
    def bar_x(self) -> Bar:
        """The check bar across, the same on every sheet; panel frame."""
        y = RIM_MM + STRIP_MM - 2.5 + self.strip_up
        length = 10.0 * math.floor((self.sheet_width - 2 * RIM_MM - STRIP_MM) / 10.0)
        x = RIM_MM + STRIP_MM
        return Bar(x, y, x + length, y)

    @property
    def bar_y(self) -> Bar:
        """The check bar up the sheet; panel frame."""
        x = RIM_MM + STRIP_MM - 2.5
        length = 10.0 * math.floor((self.sheet_height - 2 * RIM_MM - STRIP_MM) / 10.0)
        y = RIM_MM + STRIP_MM
        return Bar(x, y, x, y + length)

    def _sheet(self, index: int) -> Panel:
        w, h = self.sheet_width, self.sheet_height
        nx, ny = self._grid()
        px, py = self.pitch
        first = (UPRIGHT_CODE_START if self.upright else 0) + index * nx * ny
        clusters = tuple(
            Cluster(
                code=first + j * nx + i,
                x=OVERLAP_MM - RIM_MM / 2 + (i + 0.5) * px / nx,
                y=OVERLAP_MM - RIM_MM / 2 + (j + 0.5) * py / ny,
                tag_mm=TAG_MM,
                check_mm=CHECK_MM,
                offsets=CROSS,
            )
            for j in range(ny)
            for i in range(nx)
        )
        edge = RIM_MM + STRIP_MM
        return Panel(
            name=f"{'upright' if self.upright else 'sheet'} {index + 1}",
            width=w,
            height=h,
            tinted=Rect(RIM_MM, RIM_MM, w - RIM_MM, h - RIM_MM),
            plain=Rect(edge, RIM_MM, w - RIM_MM, h - edge)
            if self.upright
            else Rect(edge, edge, w - RIM_MM, h - RIM_MM),
            clusters=clusters,
        )


def design_mat(
    paper: Paper,
    width_mm: float = DEFAULT_WIDTH_MM,
    height_mm: float = DEFAULT_HEIGHT_MM,
    tint: str = DEFAULT_TINT,
) -> MatDesign:
    """The fewest sheets that cover a mat of at least this size; the paper is turned if that helps.

    Raises:
        RequestError: a size that no mat can have, or more identities than the family has.
    """
    if not (100 <= width_mm <= 3000 and 100 <= height_mm <= 3000):
        raise RequestError(
            f"A mat of {width_mm:.0f} x {height_mm:.0f} mm cannot be made: each side must be"
            " between 100 and 3000 mm."
        )
    candidates = []
    for landscape in (False, True):
        one = MatDesign(paper, landscape, 1, 1, tint)
        columns = max(1, math.ceil((width_mm - one.sheet_width) / one.pitch[0]) + 1)
        rows = max(1, math.ceil((height_mm - one.sheet_height) / one.pitch[1]) + 1)
        candidates.append(MatDesign(paper, landscape, columns, rows, tint))
    best = min(candidates, key=lambda d: (d.count, d.width * d.height))
    if best.count * best.clusters_per_sheet > MAT_CODES:
        raise RequestError(
            f"A mat of {width_mm:.0f} x {height_mm:.0f} mm on {paper.name} would need"
            f" {best.count * best.clusters_per_sheet} identities; there are {MAT_CODES}."
            " Ask for a smaller mat."
        )
    return best


def design_upright(
    paper: Paper, width_mm: float = DEFAULT_UPRIGHT_MM, tint: str = DEFAULT_TINT
) -> MatDesign:
    """The fewest sheets, lying side by side on their long edges, that make a row of this width.

    Raises:
        RequestError: a width that no row can have, or more identities than there are.
    """
    if not 100 <= width_mm <= 3000:
        raise RequestError(
            f"An upright row of {width_mm:.0f} mm cannot be made: it must be between 100 and 3000"
            " mm wide."
        )
    one = MatDesign(paper, paper.height_mm >= paper.width_mm, 1, 1, tint, upright=True)
    columns = max(1, math.ceil((width_mm - one.sheet_width) / one.pitch[0]) + 1)
    row = replace(one, columns=columns)
    if row.count * row.clusters_per_sheet > row.most_clusters:
        raise RequestError(
            f"An upright row of {width_mm:.0f} mm on {paper.name} would need"
            f" {row.count * row.clusters_per_sheet} identities; there are {row.most_clusters}."
            " Take a smaller paper, as --paper A3, or a shorter row."
        )
    return row
