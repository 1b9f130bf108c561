"""DXF files read back: audit by ezdxf, geometry by ezdxf and by GDAL's own reader."""

from __future__ import annotations

import io
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.document import Drawing as Document

from profiler.drawing.dxf import dxf_bytes
from profiler.drawing.model import WHITE, Area, Text, rectangle
from tests.drawing.samples import AWKWARD_NAMES, ELL, ELL_AREA, drawing, plain, with_name

TOLERANCE_MM = 0.02


def read(data: bytes) -> Document:
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


def test_audit_is_clean_and_units_are_mm() -> None:
    document = read(dxf_bytes(plain()))
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1


def test_outlines_are_closed_polylines_in_their_layers() -> None:
    document = read(dxf_bytes(plain()))
    (outline,) = document.modelspace().query('LWPOLYLINE[layer=="cut"]')
    assert outline.closed
    corners = np.array([p[:2] for p in outline.get_points()])
    assert np.abs(corners - np.array(ELL)).max() < TOLERANCE_MM
    assert shapely.Polygon(corners).area == pytest.approx(ELL_AREA, abs=0.05)
    assert {e.dxf.layer for e in document.modelspace()} == {"cut", "bars", "text"}


def test_gdal_reads_the_same(tmp_path: Path) -> None:
    pyogrio = pytest.importorskip("pyogrio", reason="GDAL's reader is an optional check")
    path = tmp_path / "plain.dxf"
    path.write_bytes(dxf_bytes(plain()))
    _, _, shapes, fields = pyogrio.raw.read(path, columns=["Layer"])
    geometries = shapely.from_wkb(shapes)
    cut = [g for g, layer in zip(geometries, fields[0], strict=True) if layer == "cut"]
    assert len(cut) == 1
    assert cut[0].bounds == pytest.approx((30, 20, 150, 100), abs=TOLERANCE_MM)
    ring = shapely.get_coordinates(cut[0])
    assert shapely.Polygon(ring).area == pytest.approx(ELL_AREA, abs=0.05)
    assert np.allclose(ring[0], ring[-1])


def test_lettering_is_as_high_as_its_capitals() -> None:
    document = read(dxf_bytes(drawing(Text(50, 60, "Hx", 10.0, "middle", 90.0))))
    (text,) = document.modelspace().query("TEXT")
    assert text.dxf.height == pytest.approx(7.3)
    assert text.dxf.rotation == 90.0
    assert tuple(text.get_placement()[1])[:2] == (50.0, 60.0)


def test_white_areas_are_left_out() -> None:
    boxes = drawing(Area((rectangle(0, 0, 5, 5),), WHITE), Area((rectangle(0, 0, 9, 9),)))
    assert len(read(dxf_bytes(boxes)).modelspace()) == 1


@pytest.mark.parametrize("name", AWKWARD_NAMES, ids=range(len(AWKWARD_NAMES)))
def test_any_name_gives_a_clean_audit(name: str) -> None:
    document = read(dxf_bytes(with_name(name)))
    auditor = document.audit()
    assert not auditor.errors
    assert len(document.modelspace().query('LWPOLYLINE[layer=="cut"]')) == 1


def test_the_library_switch_is_put_back() -> None:
    before = ezdxf.options.write_fixed_meta_data_for_testing
    dxf_bytes(plain())
    assert ezdxf.options.write_fixed_meta_data_for_testing == before
