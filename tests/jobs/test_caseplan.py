"""`plan.json` keeps its schema; the CSV opens in a spreadsheet without running anything."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import jsonschema
import pytest

from profiler.casework.plan import plan_case
from profiler.jobs.caseplan import plan_record, schema
from profiler.jobs.cutlist import cut_list_csv, safe_cell
from profiler.jobs.results import record_bytes
from profiler.pipeline.case import Labels, plain_mm
from tests.casework.random_cases import random_case


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_plan_keeps_its_schema(seed: int) -> None:
    case = random_case(seed)
    record = plan_record(plan_case(case.body, case.wishes), plain_mm, "Wren", "Ada")
    checker = jsonschema.Draft202012Validator(schema())
    read = json.loads(record_bytes(record))
    assert not list(checker.iter_errors(read))
    assert read == record, "nothing is lost on the way through the file"
    assert {s["rule"] for s in record["sizes"]} == set(record["rules"])
    # it would notice
    assert list(checker.iter_errors({**read, "box": {**read["box"], "lid": "high"}}))


@pytest.mark.parametrize("text", ["=1+2", "+cmd", "-2+3", "@sum", "\t=1", " =1", "\r=1"])
def test_formulas_are_disarmed(text: str) -> None:
    """The signs that spreadsheets start formulas with, as the OWASP page on CSV injection lists
    them (from memory)."""
    assert safe_cell(text).startswith("'")


def test_cut_list_opens_as_a_table() -> None:
    case = random_case(3)
    plan = plan_case(case.body, case.wishes)
    evil = replace(plan.pieces[0], name='=HYPERLINK("x")', note='a "b", c')
    plan = replace(plan, pieces=(evil, *plan.pieces[1:]))
    data = cut_list_csv(plan, Labels(unit="in").show, "in")
    assert data.startswith(b"\xef\xbb\xbf"), "spreadsheets take it for UTF-8 by its mark"
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))
    assert len({len(r) for r in rows}) == 1
    assert len(rows) == len(plan.pieces) + 1
    assert rows[1][1] == '\'=HYPERLINK("x")'
    assert rows[1][-1] == 'a "b", c'
    for row, piece in zip(rows[1:], plan.pieces, strict=True):
        assert float(row[3]) == pytest.approx(piece.length.mm, abs=0.006)
        # a bare 3/8 would become a date
        assert all(cell.endswith('"') for cell in row[6:9])
