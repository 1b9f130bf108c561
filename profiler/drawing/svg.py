"""The SVG pen: size in mm, one user unit to the mm, y turned once here and nowhere else."""

from __future__ import annotations

import re
from decimal import Decimal

import svg

from profiler.drawing.frames import Frame, page_frame
from profiler.drawing.lettering import printable
from profiler.drawing.model import Area, Drawing, Inset, Line, Point, Text
from profiler.drawing.pen import draw

#: faces with the widths that the sheets were laid out with, and what comes near
FACES = "Bitstream Vera Sans, DejaVu Sans, Verdana, sans-serif"
DIGITS = 4


class SvgPen:
    """Takes one page; `finish` gives the file's bytes."""

    def __init__(self) -> None:
        self._root = svg.SVG()
        self._height = 0.0
        self._frames: list[Frame] = []
        #: where layers go and what is drawn into; one of each for the page and each open inset
        self._parents: list[svg.SVG | svg.G] = []
        self._groups: list[svg.SVG | svg.G] = []
        self._names: dict[str, int] = {}
        self._clips = 0

    def begin(self, drawing: Drawing) -> None:
        self._height = drawing.height
        self._root = svg.SVG(
            width=svg.Length(_number(drawing.width), "mm"),
            height=svg.Length(_number(drawing.height), "mm"),
            viewBox=svg.ViewBoxSpec(0, 0, _number(drawing.width), _number(drawing.height)),
            elements=[svg.Title(text=_escaped(drawing.title[:200]))],
        )
        self._frames = [page_frame(drawing.width, drawing.height)]
        self._parents = [self._root]
        self._groups = [self._root]

    def layer(self, name: str) -> None:
        group = svg.G(id=self._unique(name), elements=[])
        self._add_to(self._parents[-1], group)
        self._groups[-1] = group

    def line(self, line: Line) -> None:
        width = line.stroke.width * self._mean_scale()
        dash: list[Decimal | float | int] = [_number(d) for d in line.stroke.dash]
        self._add(
            svg.Path(
                d=self._ring(line.points, line.closed),
                fill="none",
                stroke=line.stroke.colour,
                stroke_width=_number(width),
                stroke_dasharray=dash or None,
                stroke_linejoin="round",
            )
        )

    def area(self, area: Area) -> None:
        steps = [step for ring in area.rings for step in self._ring(ring, True)]
        self._add(svg.Path(d=steps, fill=area.colour, fill_rule="evenodd"))

    def text(self, text: Text) -> None:
        content = printable(text.text)
        if not content.strip():
            return
        x, y = self._point((text.x, text.y))
        turn: list[svg.Transform] = []
        if text.angle:
            turn.append(svg.Rotate(_number(-text.angle), x, y))
        self._add(
            svg.Text(
                x=x,
                y=y,
                text=_escaped(content),
                font_size=_number(text.size * self._mean_scale()),
                font_family=FACES,
                font_weight="bold" if text.bold else None,
                text_anchor=text.anchor,
                fill=text.colour,
                transform=turn or None,
            )
        )

    def enter(self, inset: Inset) -> None:
        frame = self._frames[-1].inner(inset)
        self._frames.append(frame)
        self._clips += 1
        x0, y0, x1, y1 = frame.window
        name = f"window-{self._clips}"
        outline = svg.Rect(
            x=_number(x0),
            y=_number(self._height - y1),
            width=_number(max(0.0, x1 - x0)),
            height=_number(max(0.0, y1 - y0)),
        )
        self._add(svg.ClipPath(id=name, elements=[outline]))
        group = svg.G(clip_path=f"url(#{name})", elements=[])
        self._add(group)
        self._parents.append(group)
        self._groups.append(group)

    def leave(self) -> None:
        self._frames.pop()
        self._parents.pop()
        self._groups.pop()

    def end(self) -> None:
        """Nothing is left open."""

    def finish(self) -> bytes:
        """The whole file."""
        return ('<?xml version="1.0" encoding="UTF-8"?>\n' + str(self._root) + "\n").encode()

    def _add(self, element: svg.Element) -> None:
        self._add_to(self._groups[-1], element)

    @staticmethod
    def _add_to(parent: svg.SVG | svg.G, element: svg.Element) -> None:
        assert parent.elements is not None
        parent.elements.append(element)

    def _point(self, p: Point) -> Point:
        x, y = self._frames[-1].to_page(p)
        return _number(x), _number(self._height - y)

    def _mean_scale(self) -> float:
        x, y = self._frames[-1].scale
        return float((x * y) ** 0.5)

    def _ring(self, points: tuple[Point, ...], closed: bool) -> list[svg.PathData]:
        steps: list[svg.PathData] = []
        for i, p in enumerate(points):
            x, y = self._point(p)
            steps.append(svg.L(x, y) if i else svg.M(x, y))
        return [*steps, svg.Z()] if closed else steps

    def _unique(self, name: str) -> str:
        """An id that XML allows and that no other layer has."""
        plain = re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-") or "layer"
        plain = plain if plain[0].isalpha() else f"layer-{plain}"
        self._names[plain] = self._names.get(plain, 0) + 1
        return plain if self._names[plain] == 1 else f"{plain}-{self._names[plain]}"


def _number(value: float) -> float:
    """Rounded to 0.1 µm; whole numbers without a point, and never -0."""
    rounded = round(value, DIGITS)
    return int(rounded) if rounded == int(rounded) else rounded


def _escaped(text: str) -> str:
    return printable(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def svg_bytes(drawing: Drawing) -> bytes:
    """One drawing as an SVG file."""
    pen = SvgPen()
    draw(drawing, pen)
    return pen.finish()
