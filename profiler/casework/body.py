"""The instrument as the case sees it: a plan outline, a thickest height, places along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.errors import RequestError
from profiler.instrument.record import Measurement

Array = NDArray[np.float64]

#: longest and shortest instrument that a case is planned for, mm
SHORTEST_MM, LONGEST_MM = 120.0, 2500.0


class SizeMissing(RequestError):
    """A size that the plan cannot do without."""


@dataclass(frozen=True)
class Place:
    """A named place along the instrument: x from the tail and the width there, mm."""

    name: str
    x: float
    width: float | None


@dataclass(frozen=True)
class Body:
    """What has to go into the case; instrument frame, x shifted so that the tail is 0.

    Attributes:
        outline: plan outline, mm.
        length, width, height: envelope, mm.
        u_length, u_width, u_height: their 95 % uncertainty, mm; 0 for typed sizes.
        source: 'measured' or 'typed', as a rule's name.
        has_neck: whether the outline tells the neck from the body.
        places: stations, tail first.
        doubts: why parts of the outline are in doubt.
        mostly: what the uncertainty of length, width and height is mostly, '' where nothing stands
            out.
    """

    outline: shapely.Polygon
    length: float
    width: float
    height: float
    u_length: float = 0.0
    u_width: float = 0.0
    u_height: float = 0.0
    source: str = "typed"
    has_neck: bool = True
    places: tuple[Place, ...] = ()
    doubts: tuple[str, ...] = ()
    mostly: tuple[str, str, str] = ("", "", "")


def from_measurement(m: Measurement, height: float | None) -> Body:
    """The measured instrument.

    Args:
        m: the measurement.
        height: typed thickest height, mm; it goes before the measured one.

    Raises:
        SizeMissing: the thickest height was neither measured nor typed.
    """
    measured = m.height.value
    if height is None and measured is None:
        # the reason's own advice is for another command; this one's follows
        why = m.height.reason.partition(":")[0].rstrip(".") or "it was not measured"
        raise SizeMissing(
            f"How deep the case must be is not known: {why}. Lay a straightedge over the thickest"
            " place, strings and bridge included, measure down to the bench and give it here as"
            " --height 80mm."
        )
    x0, y0, x1, y1 = shapely.Polygon(m.outline).bounds
    outline = shapely.transform(
        shapely.Polygon(m.outline), lambda p: p - np.array([x0, (y0 + y1) / 2])
    )
    places = tuple(
        Place(name.replace("_", " "), float(q.x) - x0, q.value)
        for name, q in sorted(m.widths.items(), key=lambda i: i[1].x or 0.0)
        if q.x is not None and q.value is not None
    )
    deep = float(height if height is not None else measured or 0.0)
    body = Body(
        outline=outline,
        length=max(x1 - x0, m.length.value or 0.0),
        width=max(y1 - y0, m.width.value or 0.0),
        height=deep,
        u_length=m.length.u95 or 0.0,
        u_width=m.width.u95 or 0.0,
        u_height=0.0 if height is not None else (m.height.u95 or 0.0),
        source="measured",
        places=places,
        doubts=tuple(dict.fromkeys(s.reason for s in m.doubtful)),
        mostly=(m.length.mostly, m.width.mostly, "" if height is not None else m.height.mostly),
    )
    return _checked(body)


def from_sizes(
    length: float,
    width: float,
    height: float,
    body_length: float | None = None,
    neck_width: float | None = None,
    head_width: float | None = None,
    head_length: float | None = None,
) -> Body:
    """An instrument of typed sizes: rectangles for body, neck and headstock, mm.

    Without `body_length` and `neck_width` the outline is the envelope's rectangle, and nobody
    knows what is free beside the neck.

    Raises:
        RequestError: sizes that contradict each other.
    """
    if (body_length is None) != (neck_width is None):
        raise RequestError(
            "The body's length and the neck's width go together: give both --body-length and"
            " --neck-width, or neither."
        )
    if body_length is None and (head_width is not None or head_length is not None):
        raise RequestError(
            "A headstock's size is of use with --body-length and --neck-width only: give them too."
        )
    parts = [shapely.box(0.0, -width / 2, length, width / 2)]
    places: list[Place] = []
    if body_length is not None and neck_width is not None:
        if not 0 < body_length < length:
            raise RequestError(
                f"A body {body_length:g} mm long does not fit an instrument of {length:g} mm: the"
                " body's length is less than the whole."
            )
        head = neck_width if head_width is None else head_width
        for name, value in (("neck", neck_width), ("headstock", head)):
            if not 0 < value <= width:
                raise RequestError(
                    f"The {name} cannot be {value:g} mm wide when the instrument's widest place is"
                    f" {width:g} mm."
                )
        # Where the head starts is not known without its length: then all of the neck may be it.
        neck_end = length - head_length if head_length is not None else body_length
        if not body_length <= neck_end < length:
            raise RequestError(
                f"A headstock {head_length:g} mm long leaves no neck: body and headstock together"
                f" are less than {length:g} mm."
            )
        parts = [
            shapely.box(0.0, -width / 2, body_length, width / 2),
            shapely.box(0.0, -neck_width / 2, length, neck_width / 2),
            shapely.box(neck_end, -head / 2, length, head / 2),
        ]
        places = [Place("neck joint", body_length, neck_width)]
        if head_length is not None:
            places.append(Place("nut", neck_end, neck_width))
    return _checked(
        Body(
            outline=shapely.union_all(parts),
            length=length,
            width=width,
            height=height,
            has_neck=len(parts) > 1,
            places=tuple(places),
        )
    )


def _checked(body: Body) -> Body:
    for name, value in (("length", body.length), ("width", body.width), ("height", body.height)):
        if not 0 < value <= LONGEST_MM or (name == "length" and value < SHORTEST_MM):
            raise RequestError(
                f"An instrument with a {name} of {value:g} mm cannot be planned for. Was the unit"
                " meant?"
            )
    if body.width > body.length:
        raise RequestError(
            f"The instrument is said to be wider ({body.width:g} mm) than long"
            f" ({body.length:g} mm). Change them round."
        )
    return body
