"""SVG files read back by svgpathtools, svgelements and the standard XML reader."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import svgelements
import svgpathtools

from profiler.drawing.model import Area, Drawing, Inset, Layer, Line, Text, rectangle
from profiler.drawing.svg import svg_bytes
from tests.drawing.samples import (
    AWKWARD_NAMES,
    ELL,
    ELL_AREA,
    ELL_LENGTH,
    drawing,
    plain,
    with_name,
)

TOLERANCE_MM = 0.02
SVG = "{http://www.w3.org/2000/svg}"


def test_size_is_in_mm_and_one_unit_is_one_mm() -> None:
    root = ET.fromstring(svg_bytes(plain()))
    assert (root.get("width"), root.get("height")) == ("210mm", "140mm")
    assert [float(v) for v in root.get("viewBox", "").split()] == [0, 0, 210, 140]


def test_a_reader_that_applies_units_finds_true_lengths() -> None:
    # CSS Values and Units 3: 1 in = 25.4 mm = 96 px, which svgelements works in.
    document = svgelements.SVG.parse(io.BytesIO(svg_bytes(plain())), ppi=96.0)
    shapes = [e for e in document.elements() if isinstance(e, svgelements.Path)]
    closed = next(s for s in shapes if abs(s.length() - ELL_LENGTH * 96 / 25.4) < 1)
    assert closed.length() * 25.4 / 96 == pytest.approx(ELL_LENGTH, abs=TOLERANCE_MM)
    x0, y0, x1, y1 = (v * 25.4 / 96 for v in closed.bbox())
    assert (x0, 140 - y1, x1, 140 - y0) == pytest.approx((30, 20, 150, 100), abs=TOLERANCE_MM)


def test_area_and_corners() -> None:
    paths, attributes = svgpathtools.svgstr2paths(svg_bytes(plain()).decode())
    outline = paths[0]
    assert outline.isclosed()
    assert abs(outline.area()) == pytest.approx(ELL_AREA, abs=0.05)
    corners = np.array([(s.start.real, 140 - s.start.imag) for s in outline])
    assert np.abs(corners - np.array(ELL)).max() < TOLERANCE_MM
    assert attributes[0]["fill"] == "none"


def test_layers_are_groups_with_their_names() -> None:
    root = ET.fromstring(svg_bytes(plain()))
    assert [g.get("id") for g in root.findall(f"{SVG}g")] == ["cut", "bars", "text"]


def test_text_stands_upright_and_turns_anticlockwise() -> None:
    turned = drawing(Text(50.0, 60.0, "up", 5.0, angle=90.0), Text(10.0, 20.0, "flat", 5.0))
    up, flat = ET.fromstring(svg_bytes(turned)).iter(f"{SVG}text")
    assert up.get("transform", "").replace(",", " ").split("(")[1].split()[0] == "-90"
    assert float(up.get("y", "")) == 140 - 60
    assert flat.get("transform") is None


def test_insets_are_moved_scaled_and_cut_off() -> None:
    inner = drawing(Line(ELL, closed=True))
    page = Drawing(
        "page", 100, 100, (Layer("a", (Inset(inner, (20, 10, 60, 50), (5, 7), (1.5, 1.25)),)),)
    )
    root = ET.fromstring(svg_bytes(page))
    rect = root.find(f".//{SVG}clipPath/{SVG}rect")
    assert rect is not None
    values = [float(rect.get(k, "nan")) for k in ("x", "y", "width", "height")]
    assert values == pytest.approx([5, 100 - 7 - 50, 60, 50], abs=1e-3)
    paths, _ = svgpathtools.svgstr2paths(svg_bytes(page).decode())
    x0, x1, y0, y1 = paths[0].bbox()
    assert (x0, x1) == pytest.approx((5 + 10 * 1.5, 5 + 130 * 1.5), abs=1e-3)
    assert (100 - y1, 100 - y0) == pytest.approx((7 + 10 * 1.25, 7 + 90 * 1.25), abs=1e-3)


@pytest.mark.parametrize("name", AWKWARD_NAMES, ids=range(len(AWKWARD_NAMES)))
def test_any_name_gives_sound_xml(name: str) -> None:
    root = ET.fromstring(svg_bytes(with_name(name)))
    assert not list(root.iter(f"{SVG}script"))
    ids = [g.get("id") for g in root.iter(f"{SVG}g")]
    assert len(ids) == len(set(ids))
    if name.startswith("<b>"):
        assert any(t.text == name for t in root.iter(f"{SVG}text"))


def test_areas_are_filled_by_the_even_odd_rule() -> None:
    ring = Area((rectangle(0, 0, 10, 10), rectangle(3, 3, 7, 7)))
    path = next(ET.fromstring(svg_bytes(drawing(ring))).iter(f"{SVG}path"))
    assert path.get("fill-rule") == "evenodd"
