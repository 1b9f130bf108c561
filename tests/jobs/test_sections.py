"""Sections and headstock in measurement.json: there and back, nothing lost, damage told."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from profiler.findings import Finding, Level
from profiler.instrument.headstock import FacePlane, headstock_from
from profiler.instrument.record import Quantity
from profiler.instrument.sections import Section
from profiler.instrument.shapes import shape_named, typed_section
from profiler.jobs.reading import MeasurementFileError, measurement_from_record
from profiler.jobs.results import (
    JobNotes,
    headstock_from_record,
    measurement_record,
    record_bytes,
    schema,
    sections_from_record,
)
from profiler.jobs.sections import (
    HeadstockTaken,
    NoSection,
    SectionTaken,
    carried_over,
    change_record,
    face_planes,
    with_headstock,
    with_section,
    without_section,
)
from profiler.jobs.writing import OutputImpossible
from tests.made_up import made_up


def record() -> dict[str, Any]:
    job = made_up()
    return measurement_record(job.measurement, job.scene, [job.photo], JobNotes("Wren"))


def section(name: str = "neck at 400 mm", x: float = 400.0) -> Section:
    made = typed_section(name, x, shape_named("D"), Quantity(44.0, 0.7), Quantity(21.0, 0.3), 0.2)
    finding = Finding(610, Level.CAUTION, "A word is a word.", name)
    return replace(made, photo_sha256="ab" * 32, findings=(finding,))


def test_there_and_back() -> None:
    whole = with_section(with_section(record(), section("b", 450.0)), section("a", 300.0))
    head = headstock_from(
        520.0, 630.0, FacePlane(580.0, 40.0, -0.25, 1.2, 0.02, "card 5"), None,
        Quantity(12.5, 0.3), None, Quantity(1.0, 0.3),
    )  # fmt: skip
    whole = json.loads(record_bytes(with_headstock(whole, head)))
    jsonschema.validate(whole, schema())
    first, second = sections_from_record(whole)
    assert (first.name, second.name) == ("a", "b")  # by station
    for field in fields(Section):
        mine, theirs = getattr(section("a", 300.0), field.name), getattr(first, field.name)
        if isinstance(mine, np.ndarray):
            assert np.allclose(mine, theirs, atol=6e-4), field.name
        elif isinstance(mine, Quantity):
            assert (mine.value is None) == (theirs.value is None)
            assert mine.value is None or theirs.value == pytest.approx(mine.value, abs=1e-4)
        else:
            assert mine == theirs, field.name
    read = headstock_from_record(whole)
    assert read is not None and read.tilt.value == pytest.approx(14.036, abs=1e-3)
    assert read.lowest_wood.value == pytest.approx(head.lowest_wood.value, abs=1e-4)
    assert read.edge.value == 1.0 and read.edge.u95 == 0.3
    assert not read.lowest and "--lowest" in read.lowest.reason
    del whole["headstock"]["edge"]  # as it was written before there was one
    older = headstock_from_record(whole)
    assert older is not None and not older.edge and "--edge" in older.edge.reason
    # what reads measurements only is not disturbed
    measurement_from_record(whole)
    assert sections_from_record(record()) == () and headstock_from_record(record()) is None


def test_nothing_is_replaced_silently() -> None:
    whole = with_section(record(), section())
    with pytest.raises(SectionTaken, match="--force"):
        with_section(whole, section())
    other = replace(section(), detail="another")
    forced = with_section(whole, other, force=True)
    assert [s.detail for s in sections_from_record(forced)] == ["another"]
    with pytest.raises(NoSection, match="'neck at 400 mm'"):
        without_section(whole, "nut")
    assert sections_from_record(without_section(whole, "neck at 400 mm")) == ()
    head = headstock_from(520.0, 630.0, None, None, None, None)
    with pytest.raises(HeadstockTaken):
        with_headstock(with_headstock(record(), head), head)


def test_a_new_measurement_keeps_them() -> None:
    old, new = with_section(record(), section()), record()
    assert len(carried_over(old, new)["sections"]) == 1
    assert carried_over(new, record()).keys() == new.keys()


def test_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "measurement.json"
    path.write_bytes(record_bytes(record()))
    before = path.read_bytes()
    change_record(tmp_path, lambda r: with_section(r, section()))
    again = path.read_bytes()
    assert len(sections_from_record(json.loads(again))) == 1
    # all the rest is byte for byte as it was
    assert again.startswith(before[: before.rindex(b"\n}")])
    change_record(tmp_path, lambda r: without_section(r, section().name) | {})
    with pytest.raises(SectionTaken):
        change_record(tmp_path, lambda r: with_section(with_section(r, section()), section()))

    def meddled(r: dict[str, Any]) -> dict[str, Any]:
        path.write_bytes(before + b" ")
        return with_section(r, section())

    with pytest.raises(OutputImpossible, match="changed meanwhile"):
        change_record(tmp_path, meddled)
    assert path.read_bytes() == before + b" "
    assert [p.name for p in tmp_path.iterdir()] == ["measurement.json"]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda s: s.pop("points"),
        lambda s: s.update(points=[[0, 0]] * 3),
        lambda s: s.update(points=s["points"][::-1]),
        lambda s: s["u95"].pop(),
        lambda s: s.update(x="far"),
        lambda s: s.update(source="guess"),
        lambda s: s["width"].update(value=float("nan")),
        lambda s: s["depth"].update(u95=None),
        lambda s: s.update(name=7),
        lambda s: s.update(warnings=[{"code": 1}]),
    ],
)
def test_damage_is_told(spoil: Any) -> None:
    whole = json.loads(record_bytes(with_section(record(), section())))
    spoil(whole["sections"][0])
    with pytest.raises(MeasurementFileError, match="section"):
        sections_from_record(whole)


def test_cards_planes_travel() -> None:
    planes = face_planes(record())
    assert len(planes) == 1 and planes[0].source == "card 1"
    assert planes[0].z == pytest.approx(72.0, abs=0.3)
    assert planes[0].u95_z > 0
