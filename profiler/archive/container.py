"""The line that something has to fit into: a rectangle, a drawing, a document."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.archive.errors import CannotKeep
from profiler.archive.intake import read_file
from profiler.errors import RequestError
from profiler.units import parse_length

Array = NDArray[np.float64]

#: what a ring of points may be called in a JSON document, the best first
RINGS = ("interior", "inside", "opening", "cavity", "outline")
LONGEST_MM = 10_000.0


def rectangle_line(text: str, unit: str) -> Array:
    """(4, 2) mm from '900x300', '36 x 12 in', '35 1/2in x 12in'.

    Raises:
        RequestError: it is no rectangle.
    """
    parts = text.lower().replace("×", "x").split("x")
    if len(parts) != 2:
        raise RequestError(f"'{text[:60]}' is no rectangle: write LENGTHxWIDTH, as 900mmx300mm.")
    length, width = (parse_length(part, unit) for part in parts)
    if not (0 < length <= LONGEST_MM and 0 < width <= LONGEST_MM):
        raise RequestError(f"'{text[:60]}' is no case: both sides lie between 0 and 10 m.")
    return _rectangle(length, width)


def line_from_file(path: Path) -> Array:
    """(N, 2) mm from a DXF drawing (its largest closed line), the plan of a case (its inside), or
    another JSON document (its largest ring).

    Raises:
        CannotKeep: there is no closed line in it.
    """
    if path.suffix.lower() == ".dxf":
        rings = list(_dxf_rings(path))
    else:
        try:
            document = json.loads(read_file(path).decode("utf-8"))
        except (ValueError, RecursionError):
            raise CannotKeep(f"{path} is neither a DXF drawing nor readable as JSON.") from None
        if (inside := _inside_of_case(document)) is not None:
            return inside
        rings = _best_rings(document)
    shapes = [shapely.Polygon(ring) for ring in rings if len(ring) >= 3]
    shapes = [s for s in shapes if s.is_valid and s.area > 1.0]
    if not shapes:
        raise CannotKeep(f"{path} holds no closed line that does not cross itself.")
    largest = max(shapes, key=lambda s: s.area)
    return np.asarray(largest.exterior.coords, dtype=np.float64)[:-1]


def _inside_of_case(document: Any) -> Array | None:
    """The inside of a planned case, along and across, None where it is another document."""
    box = document.get("box") if isinstance(document, dict) else None
    inside = box.get("inside") if isinstance(box, dict) else None
    if not isinstance(inside, list) or len(inside) != 3:
        return None
    try:
        length, width = float(inside[0]), float(inside[1])
    except (TypeError, ValueError):
        return None
    if not (0 < length <= LONGEST_MM and 0 < width <= LONGEST_MM):
        return None
    return _rectangle(length, width)


def _rectangle(length: float, width: float) -> Array:
    return np.array([(0, 0), (length, 0), (length, width), (0, width)], dtype=np.float64)


def _best_rings(document: Any) -> list[Array]:
    found: dict[str, list[Array]] = {}
    for name, ring in _json_rings(document, 0):
        found.setdefault(name, []).append(ring)
    return next((found[name] for name in RINGS if name in found), [])


def _json_rings(value: Any, depth: int) -> Iterator[tuple[str, Array]]:
    """Lists of points anywhere in a document, with the name they go by."""
    if depth > 20:
        return
    if isinstance(value, dict):
        for name, inner in value.items():
            if name in RINGS and (ring := _ring(inner)) is not None:
                yield name, ring
            else:
                yield from _json_rings(inner, depth + 1)
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for inner in value:
            yield from _json_rings(inner, depth + 1)


def _ring(value: Any) -> Array | None:
    try:
        points = np.array(value, dtype=np.float64)
    except (TypeError, ValueError):
        return None
    if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
        return None
    return points


def _dxf_rings(path: Path) -> Iterator[Array]:
    from ezdxf import path as paths
    from ezdxf.enums import InsertUnits
    from ezdxf.filemanagement import readfile
    from ezdxf.lldxf.const import DXFError
    from ezdxf.units import conversion_factor

    read_file(path)  # its sentences
    try:
        drawing = readfile(path)
    except (OSError, DXFError, ValueError):
        raise CannotKeep(f"{path} is not readable as DXF.") from None
    code = InsertUnits(drawing.units)
    scale = conversion_factor(code, InsertUnits.Millimeters) if code else 1.0
    for entity in drawing.modelspace().query("LWPOLYLINE POLYLINE SPLINE CIRCLE ELLIPSE"):
        try:
            made = paths.make_path(entity)
        except TypeError:
            continue
        if made.is_closed:
            points = np.array([(p.x, p.y) for p in made.flattening(0.05)], dtype=np.float64)
            yield points[:-1] * scale
