"""Mat and cards records: write and read is identity; what is broken says so in a sentence."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiler.errors import SceneError
from profiler.jobs.records import (
    cards_from_record,
    cards_record,
    design_from_record,
    load_record,
    mat_record,
    record_bytes,
)
from profiler.paper import PAPERS, Paper
from profiler.target.card import BAR_X_MM, BAR_Y_MM, THICKNESS_MM
from profiler.target.mat import MatDesign, design_mat

A4 = design_mat(PAPERS["A4"])

papers = st.one_of(
    st.sampled_from(sorted(PAPERS.values(), key=lambda p: p.name)),
    st.builds(Paper, st.just("roll"), st.floats(250, 1200), st.floats(250, 2000)),
)
designs = st.builds(
    MatDesign,
    papers,
    st.booleans(),
    st.integers(1, 2),
    st.integers(1, 2),
    st.sampled_from(["#b4d2ee", "#f6cba8"]),
)
factors = st.one_of(st.none(), st.floats(0.971, 1.029))


@given(design=designs, fx=factors, fy=factors)
def test_write_and_read_is_identity(design: MatDesign, fx: float | None, fy: float | None) -> None:
    if design.count * design.clusters_per_sheet > 500:
        return
    bars = design.bar_x.length, design.bar_y.length
    x, y = (None if f is None else f * b for f, b in zip((fx, fy), bars, strict=True))
    record = json.loads(record_bytes(mat_record(design, x, y)))
    again, scale = design_from_record(record)
    assert again == design
    assert again.sheets == design.sheets
    assert scale.x == pytest.approx(fx or 1.0)
    assert scale.y == pytest.approx(fy or 1.0)
    assert scale.read == (fx is not None and fy is not None)
    assert record_bytes(record) == record_bytes(mat_record(design, x, y))


def test_a_reading_is_known_to_a_tenth_of_a_millimetre() -> None:
    _, scale = design_from_record(mat_record(A4, 179.5, None))
    assert scale.x == pytest.approx(179.5 / 180)
    assert scale.u_x == pytest.approx(0.1 / 180)
    assert (scale.y, scale.u_y, scale.read) == (1.0, 0.005, False)


@given(fx=factors, fy=factors, thickness=st.floats(0, 5))
def test_cards_write_and_read_is_identity(
    fx: float | None, fy: float | None, thickness: float
) -> None:
    x, y = (None if f is None else f * b for f, b in ((fx, BAR_X_MM), (fy, BAR_Y_MM)))
    record = json.loads(record_bytes(cards_record(x, y, thickness)))
    scale, again = cards_from_record(record)
    assert again == thickness
    assert (scale.x, scale.y) == pytest.approx((fx or 1.0, fy or 1.0))


def test_plain_cards() -> None:
    scale, thickness = cards_from_record(cards_record())
    assert (scale.x, scale.y, scale.read, thickness) == (1.0, 1.0, False, THICKNESS_MM)


@pytest.mark.parametrize("reading", [170.0, 186.0, 0.0, -180.0, float("nan"), float("inf"), 7.07])
def test_impossible_readings_are_refused(reading: float) -> None:
    with pytest.raises(SceneError, match=r"Bar X"):
        mat_record(A4, reading, None)
    with pytest.raises(SceneError, match=r"Bar Y"):
        cards_record(None, reading)


def test_a_scaled_print_is_told_as_such() -> None:
    with pytest.raises(SceneError, match="scaled the page to fit"):
        mat_record(A4, 174.0, None)
    record = mat_record(A4)
    record["bar_y"]["read_mm"] = 261.0
    with pytest.raises(SceneError, match="scaled the page to fit"):
        design_from_record(record)


def broken(path: str, value: Any) -> dict[str, Any]:
    """A good record with one place spoilt; `...` leaves the key out."""
    record = copy.deepcopy(mat_record(A4, 179.5, 269.5))
    place = record
    *outer, last = path.split(".")
    for key in outer:
        place = place[key]
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return record


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("format", "somebody else's mat"),
        ("format", "profiler cards"),
        ("format", 7),
        ("format", ...),
        ("version", 2),
        ("version", "1"),
        ("version", 0),
        ("version", True),
        ("paper", "A4"),
        ("paper", ...),
        ("paper.name", 4),
        ("paper.width_mm", "210"),
        ("paper.width_mm", -210),
        ("paper.width_mm", float("nan")),
        ("paper.width_mm", 10**400),
        ("paper.height_mm", None),
        ("landscape", "no"),
        ("columns", 0),
        ("columns", 2.5),
        ("columns", 99),
        ("rows", True),
        ("rows", ...),
        ("tint", "blue"),
        ("tint", "#12345"),
        ("tint", ["#b4d2ee"]),
        ("bar_x", ...),
        ("bar_x", 180),
        ("bar_x.designed_mm", 150.0),
        ("bar_x.designed_mm", ...),
        ("bar_x.read_mm", "179.5mm"),
        ("bar_x.read_mm", True),
        ("bar_x.read_mm", []),
        ("bar_y.read_mm", 0),
        ("bar_y.read_mm", float("inf")),
    ],
)
def test_broken_and_foreign_records_say_so(path: str, value: Any) -> None:
    record = broken(path, value)
    with pytest.raises(SceneError) as caught:
        design_from_record(record)
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert "profiler" in sentence or "program" in sentence


def test_a_newer_record_asks_for_a_newer_program() -> None:
    with pytest.raises(SceneError, match="Update the program"):
        design_from_record(broken("version", 2))


def test_what_the_program_does_not_know_is_let_pass() -> None:
    record = mat_record(A4)
    record["note"] = "printed on the big one in the hall"
    assert design_from_record(record)[0] == A4


def test_a_cards_record_is_not_a_mats() -> None:
    with pytest.raises(SceneError, match="height cards"):
        cards_from_record(mat_record(A4))
    record = cards_record()
    record["thickness_mm"] = "thin"
    with pytest.raises(SceneError, match="thickness_mm"):
        cards_from_record(record)


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"null", b"\xff\xfe\x00", b'"mat"', b"[" * 100_000, b"{}{}"],
    ids=range(8),
)
def test_files_that_hold_no_record(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "mat.json"
    path.write_bytes(content)
    with pytest.raises(SceneError):
        load_record(path)


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.json", tmp_path):
        with pytest.raises(SceneError, match="cannot be read"):
            load_record(path)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "mat.json"
    path.write_bytes(b"\xef\xbb\xbf" + record_bytes(mat_record(A4)))
    assert design_from_record(load_record(path))[0] == A4


def test_readings_the_wrong_way_round_are_told_as_such() -> None:
    design = design_mat(PAPERS["A4"])
    x, y = 0.995 * design.bar_x.length, 1.002 * design.bar_y.length
    with pytest.raises(SceneError, match="wrong way round"):
        mat_record(design, y, x)
    with pytest.raises(SceneError, match="wrong way round"):
        cards_record(220.3, 169.5)


@pytest.mark.parametrize("thickness", [50.0, -0.1, float("nan")])
def test_a_card_that_no_record_could_hold_is_refused_before_it_is_written(thickness: float) -> None:
    with pytest.raises(SceneError, match="thick"):
        cards_record(thickness_mm=thickness)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "it is empty"),
        (b"\xff\xd8\xff\xe0 a photo", "it is not a text file"),
        (b'{"format":\n "profiler mat",', "its line 2 is broken"),
        (b"[" * 100_000, "it holds what no record holds"),
        (b'{"a": ' + b"9" * 5000 + b"}", "it holds what no record holds"),
    ],
)
def test_a_file_that_is_no_record_is_told_in_words(
    tmp_path: Path, content: bytes, why: str
) -> None:
    (tmp_path / "mat.json").write_bytes(content)
    with pytest.raises(SceneError, match=f"cannot be read: {why}"):
        load_record(tmp_path / "mat.json")
