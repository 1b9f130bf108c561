"""measurement.json: valid by its schema, the same bytes every time, and read back as it was."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import InputError
from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement, Quantity, missing
from profiler.jobs.results import (
    JobNotes,
    MeasurementFileError,
    measurement_from_record,
    measurement_record,
    notes_from_record,
    read_measurement,
    record_bytes,
    schema,
)
from tests.made_up import made_up, without_doubt

JOB = made_up()


def record(measurement: Measurement = JOB.measurement) -> dict[str, Any]:
    return measurement_record(
        measurement, JOB.scene, [JOB.photo], JobNotes("Räkkä", "Aalto & Co"), ["mat.json"]
    )


def check(data: bytes) -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.Draft202012Validator(schema()).validate(json.loads(data))


def test_it_is_valid_by_its_schema() -> None:
    check(record_bytes(record()))
    check(record_bytes(record(without_doubt(JOB.measurement))))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda r: r.pop("outline"),
        lambda r: r.update(units="in"),
        lambda r: r["envelope"]["length"].update(value=None),
        lambda r: r["envelope"]["height"].update(reason=""),
        lambda r: r["widths"]["waist"].pop("x"),
        lambda r: r["outline"].append([1.0]),
        lambda r: r["warnings"][0].update(level="shout"),
        lambda r: r["photos"][0].update(sha256="x"),
        lambda r: r.update(extra=1),
    ],
)
def test_the_schema_refuses(spoil: Callable[[dict[str, Any]], object]) -> None:
    bad = json.loads(record_bytes(record()))
    spoil(bad)
    with pytest.raises(jsonschema.ValidationError):
        check(json.dumps(bad).encode())


def test_what_others_build_on() -> None:
    """The names that the first issue promises to later ones."""
    r = json.loads(record_bytes(record()))
    assert r["units"] == "mm"
    assert np.allclose(r["outline"], JOB.measurement.outline, atol=6e-4)
    assert r["outline"][0] != r["outline"][-1]
    assert r["envelope"]["length"]["value"] == pytest.approx(JOB.measurement.length.value, abs=1e-4)
    assert r["envelope"]["height"]["value"] is None
    assert r["envelope"]["height"]["reason"] == "nobody measured the thickest place"
    assert r["widths"]["waist"]["x"] == 165.0
    assert r["camera"]["solved_from"] == "record"
    assert r["camera"]["rms_px"] == pytest.approx(JOB.scene.rms, abs=1e-4)
    assert r["camera"]["poses"][0]["height_above_mat"] == pytest.approx(1050.0)
    assert [w["level"] for w in r["warnings"]] == ["doubt", "caution", "note"]
    assert r["photos"][0]["name"] == "top-1.jpg"


def test_the_same_measurement_gives_the_same_bytes_without_paths_or_dates() -> None:
    one, other = record_bytes(record()), record_bytes(record())
    assert one == other
    assert b"folder/" not in one and b"-0.0," not in one and b"NaN" not in one


def test_the_tilt_is_that_of_the_camera() -> None:
    tilt = record()["camera"]["poses"][0]["tilt_deg"]
    axis = JOB.scene.cameras[0].camera_from_mat.rotation.T @ [0.0, 0.0, 1.0]
    assert tilt == pytest.approx(np.degrees(np.arccos(-axis[2])), abs=1e-3)
    assert 2 < tilt < 5


def same(a: Measurement, b: Measurement) -> None:
    assert np.allclose(a.outline, b.outline, atol=6e-4)
    assert np.allclose(a.outline_u95, b.outline_u95, atol=6e-4)
    assert (a.outline_part, a.doubtful, a.symmetric) == (b.outline_part, b.doubtful, b.symmetric)
    assert a.findings == b.findings
    assert list(a.widths) == list(b.widths)
    pairs = [(a.length, b.length), (a.width, b.width), (a.height, b.height), (a.area, b.area)]
    pairs += list(zip(a.box, b.box, strict=True))
    pairs += [(a.widths[n], b.widths[n]) for n in a.widths]
    for p, q in pairs:
        assert (p.mostly, p.reason) == (q.mostly, q.reason)
        for m, n in ((p.value, q.value), (p.u95, q.u95), (p.x, q.x)):
            assert (m is None) == (n is None)
            assert m is None or n is None or abs(m - n) < 6e-5
    assert a.frame.angle == pytest.approx(b.frame.angle, abs=1e-8)
    assert a.heights == b.heights


def test_written_and_read_is_what_it_was(tmp_path: Path) -> None:
    path = tmp_path / "measurement.json"
    path.write_bytes(record_bytes(record()))
    same(read_measurement(path), JOB.measurement)
    same(read_measurement(tmp_path), JOB.measurement)


characters = st.characters(codec="utf-8")
words, said = st.text(characters, max_size=20), st.text(characters, min_size=1, max_size=20)
numbers = st.floats(0.1, 5000, allow_nan=False)
unknown = st.builds(missing, said)
lengths = st.one_of(st.builds(Quantity, numbers, numbers, st.just(""), words), unknown)
stations = st.one_of(st.builds(Quantity, numbers, numbers, st.just(""), words, numbers), unknown)
SQUARE = replace(
    JOB.measurement,
    outline=np.array([[0.0, -5.0], [9.0, -5.0], [9.0, 5.0], [0.0, 5.0]]),
    outline_u95=np.full(4, 0.3),
    outline_part=("body",) * 4,
    doubtful=(),
)


@settings(max_examples=25, deadline=None)
@given(
    st.dictionaries(words, stations, max_size=5),
    st.tuples(lengths, lengths, lengths),
    st.lists(
        st.builds(Finding, st.integers(100, 999), st.sampled_from(Level), said, words),
        max_size=4,
    ),
    st.sampled_from([True, False, None]),
)
def test_any_measurement_survives(
    widths: dict[str, Quantity],
    envelope: tuple[Quantity, Quantity, Quantity],
    findings: list[Finding],
    symmetric: bool | None,
) -> None:
    length, width, height = envelope
    measurement = replace(
        SQUARE,
        widths=widths,
        length=length,
        width=width,
        height=height,
        findings=tuple(findings),
        symmetric=symmetric,
    )
    data = record_bytes(record(measurement))
    check(data)
    same(measurement_from_record(json.loads(data)), measurement)


def test_notes_are_read_back() -> None:
    assert notes_from_record(json.loads(record_bytes(record()))) == JobNotes("Räkkä", "Aalto & Co")
    for odd in ({}, {"job": 3}, {"job": {"name": 4}}):
        assert notes_from_record(odd) == JobNotes()


def test_a_name_that_no_file_can_hold_does_not_stop_the_job() -> None:
    """The terminal hands over bytes that are no text as lone surrogates."""
    check(
        record_bytes(
            measurement_record(JOB.measurement, JOB.scene, [JOB.photo], JobNotes("\udcff"))
        )
    )


def edited(change: Callable[[dict[str, Any]], object]) -> bytes:
    r = json.loads(record_bytes(record()))
    change(r)
    return json.dumps(r).encode()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not readable as JSON"),
        (b"{", "not readable as JSON"),
        (b"\xff\xfe\x00", "not readable as JSON"),
        (b"[1, 2]", "not a measurement"),
        (b'{"format": "profiler mat"}', "not a measurement"),
        (edited(lambda r: r.update(version=99)), "Update the program"),
        (edited(lambda r: r.update(units="in")), "not in mm"),
        (edited(lambda r: r.pop("outline")), "lacks 'outline'"),
        (edited(lambda r: r["envelope"].pop("width")), "lacks 'width'"),
        (edited(lambda r: r.update(outline=[[0, 0], [1, "x"]])), "where a number of 'outline'"),
        (edited(lambda r: r.update(outline=[[0, 0], [1, True]])), "where a number of 'outline'"),
        (edited(lambda r: r["outline"].insert(3, [10**400, 0])), "that cannot be: 1000"),
        (edited(lambda r: r["outline"].insert(3, [float("nan"), 0])), "that cannot be: nan"),
        (edited(lambda r: r["outline"].insert(3, None)), "no pair of numbers"),
        (edited(lambda r: r.update(outline=[0, 0, 9, 0, 9, 9])), "no pair of numbers"),
        (edited(lambda r: r.update(outline=[[0, 0]] * 200_000)), "of 200000 points"),
        (edited(lambda r: r["outline"].reverse()), "the wrong way round"),
        (edited(lambda r: r.update(outline_u95=[-0.1] * 5)), "'outline_u95' that cannot be"),
        (edited(lambda r: r["envelope"]["length"].update(value=-5)), "'length' that cannot be"),
        (edited(lambda r: r["envelope"]["length"].update(value="5")), "a number of 'length'"),
        (edited(lambda r: r["envelope"]["width"].update(u95=float("inf"))), "cannot be: inf"),
        (edited(lambda r: r["area"].update(value=-5)), "'area' that cannot be"),
        (edited(lambda r: r["widths"]["waist"].update(x=float("nan"))), "width 'waist'"),
        (edited(lambda r: r["doubtful"][0].update(end=1.5)), "a whole number of 'doubtful'"),
        (edited(lambda r: r.update(outline=[[0, 0], [1, 1]])), "at least three points"),
        (edited(lambda r: r.update(outline_u95=[1.0])), "another number"),
        (edited(lambda r: r["warnings"][0].update(level="shout")), "not built as"),
        (edited(lambda r: r["frame"].update(origin=[1.0])), "not built as"),
        (
            edited(
                lambda r: r.update(
                    outline=[[0, 0], [1, 1], [1, 0], [0, 1]],
                    outline_u95=[0.1] * 4,
                    outline_part=["body"] * 4,
                )
            ),
            "crosses itself",
        ),
        (edited(lambda r: r["doubtful"][0].update(end=10**6)), "beyond"),
    ],
)
def test_bad_files_are_named_with_what_to_do(tmp_path: Path, data: bytes, says: str) -> None:
    path = tmp_path / "measurement.json"
    path.write_bytes(data)
    with pytest.raises(MeasurementFileError, match=says) as caught:
        read_measurement(path)
    assert isinstance(caught.value, InputError)
    assert str(path) in str(caught.value)


def test_a_folder_that_is_no_job(tmp_path: Path) -> None:
    with pytest.raises(MeasurementFileError, match=r"holds no measurement\.json"):
        read_measurement(tmp_path)
    with pytest.raises(MeasurementFileError, match="is not there"):
        read_measurement(tmp_path / "nothing")
