"""The protocol that a drawing speaks to, and the walk that speaks it."""

from __future__ import annotations

from typing import Protocol

from profiler.drawing.model import Area, Drawing, Inset, Line, Text


class Pen(Protocol):
    """Whatever can put a drawing down. All lengths are mm, y up."""

    def begin(self, drawing: Drawing) -> None:
        """A new page of the drawing's size."""

    def layer(self, name: str) -> None:
        """What follows belongs to this layer."""

    def line(self, line: Line) -> None:
        """A chain of straight pieces."""

    def area(self, area: Area) -> None:
        """A filled shape."""

    def text(self, text: Text) -> None:
        """One line of lettering."""

    def enter(self, inset: Inset) -> None:
        """Until `leave`, draw in the inset's own mm and only inside its window."""

    def leave(self) -> None:
        """Back to the drawing outside the inset."""

    def end(self) -> None:
        """The page is complete."""


def draw(drawing: Drawing, pen: Pen) -> None:
    """Put a whole drawing down as one page."""
    pen.begin(drawing)
    _layers(drawing, pen)
    pen.end()


def _layers(drawing: Drawing, pen: Pen) -> None:
    for layer in drawing.layers:
        pen.layer(layer.name)
        for item in layer.items:
            if isinstance(item, Line):
                pen.line(item)
            elif isinstance(item, Area):
                pen.area(item)
            elif isinstance(item, Text):
                pen.text(item)
            else:
                pen.enter(item)
                _layers(item.drawing, pen)
                pen.leave()
                pen.layer(layer.name)
