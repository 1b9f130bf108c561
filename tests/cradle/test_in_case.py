"""A case with its cradle, put together from the cut list as solids; the instrument lowered in."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import jsonschema
import numpy as np
import pytest
from manifold3d import CrossSection, FillRule, Manifold

from profiler.casework.body import from_measurement
from profiler.casework.cradle.linings import Scheme
from profiler.casework.cradle.wishes import CradleWishes
from profiler.casework.stock import stock_for
from profiler.casework.wishes import CaseWishes
from profiler.jobs.caseplan import schema
from profiler.paper import PAPERS
from profiler.pipeline.case import case_files
from profiler.pipeline.cradle import CradleJob
from profiler.pipeline.labels import Files, Labels
from tests.casework.assembly import Record, hits, overlaps, solids
from tests.cradle.made import Made


@cache
def planned(joint: str = "glued") -> tuple[Made, Record, Files]:
    made = Made(tip=650.0)
    m = made.measurement()
    stocks = [stock_for(u, 12.0, t) for u, t in (("boards", 12.0), ("panels", 6.5), ("walls", 6.4))]
    wishes = CaseWishes(*stocks)
    sides = {"": "glued", "tail": joint, "headstock": joint}
    cradle = CradleJob(m, made.solid(), CradleWishes(let_in=sides, stock={"": 12.0, "tail": 9.0},
                       stock_names={"": "12 mm birch", "tail": "9 mm birch"}))  # fmt: skip
    body = from_measurement(m, 85.0)
    _, files = case_files(body, wishes, Labels("Curlew"), PAPERS["A4"], ("dxf",), cradle=cradle)
    return made, json.loads(files["plan.json"]), files


@pytest.mark.parametrize("joint", ["glued", "groove", "dado"])
def test_nothing_overlaps(joint: str) -> None:
    _, record, _ = planned(joint)
    names = {p["name"] for p in record["pieces"]}
    # between compartment walls there is nothing to groove
    assert {"neck rest", "tail rest"} <= names
    assert ("headstock block" in names) == (joint != "groove")
    assert sum(n.startswith("body block") for n in names) >= 2
    assert not overlaps(solids(record))
    jsonschema.validate(record, schema(), cls=jsonschema.Draft202012Validator)


def test_a_misplaced_piece_would_be_noticed() -> None:
    _, record, _ = planned()
    pieces = []
    for piece in record["pieces"]:
        if piece["name"] == "neck rest":
            place = piece["places"][0]
            origin = [place["origin"][0], place["origin"][1] + 5.0, place["origin"][2]]
            piece = {**piece, "places": [{**place, "origin": origin}]}
        pieces.append(piece)
    assert overlaps(solids({**record, "pieces": pieces}))


def test_the_instrument_goes_straight_down_into_the_finished_case() -> None:
    """Its true slices, 4 mm apart, in the case frame, at rest and on the way down."""
    made, record, files = planned()
    kept = json.loads(files["cradle.json"])
    lift = kept["lift"]["mm"]
    wood = [b for b in solids(record) if b.part == "base"]
    floor = record["box"]["rabbet"]["depth"]
    x0, y0, _, y1 = made.outline.bounds
    tail = record["instrument"]["tail_at"]
    at = (tail[0] - x0, tail[1] - (y0 + y1) / 2)
    for up in (0.0, 2.0, 30.0):
        for x in np.arange(-8.0, made.tip - 1.0, 4.0):
            shape = made.true_slice(float(x))
            if shape.is_empty:
                continue
            ring = [np.asarray(shape.exterior.coords)[:-1].tolist()]
            slab = Manifold.extrude(CrossSection(ring, FillRule.NonZero), 0.5)
            # y, z, x of the slab's own axes to x, y, z
            turn = np.array([[0, 0, 1, x + at[0]], [1, 0, 0, at[1]], [0, 1, 0, floor + lift + up]])
            assert not hits(slab.transform(turn.astype(float)), wood), (x, up)


def test_foam_is_carried_through_to_every_size_it_touches() -> None:
    made = Made()
    m, body = made.measurement(), from_measurement(made.measurement(), 85.0)
    wishes = CaseWishes(*(stock_for(u, 12.0, 12.0) for u in ("boards", "panels", "walls")))
    found = {}
    for foam in (10.0, 20.0):
        scheme = Scheme().with_lining("body", "foam", foam, 0.3)
        cradle = CradleJob(m, made.solid(), CradleWishes(scheme=scheme))
        plan, files = case_files(body, wishes, Labels(), PAPERS["A4"], (), cradle=cradle)
        record = json.loads(files["cradle.json"])
        rest = next(p for p in record["pieces"] if p["name"] == "neck rest")
        notch = next(s["mm"] for s in rest["sizes"] if s["name"].endswith("above the floor"))
        found[foam] = (plan.inside.deep.mm, notch, plan.stations[0].lift.mm)
    deep, notch, lift = (b - a for a, b in zip(found[10.0], found[20.0], strict=True))
    assert deep == pytest.approx(10.0)
    assert notch == pytest.approx(7.0, abs=1e-3)
    assert lift == pytest.approx(7.0)


def test_a_tail_rest_gets_its_room() -> None:
    made = Made(button=(0.0, 0.0, 0.0))
    m, body = made.measurement(), from_measurement(made.measurement(), 85.0)
    wishes = CaseWishes(*(stock_for(u, 12.0, 12.0) for u in ("boards", "panels", "walls")))
    bare, _ = case_files(body, wishes, Labels(), PAPERS["A4"], ())
    cradle = CradleJob(m, made.solid(), CradleWishes())
    plan, _ = case_files(body, wishes, Labels(), PAPERS["A4"], (), cradle=cradle)
    # felt 3, air 2 and 12 of wood behind the tail, where 8 of air and 2 of lining would have been
    assert plan.inside.along.mm - bare.inside.along.mm == pytest.approx(7.0)
    assert plan.at[0] == pytest.approx(17.0)
    assert "tail rest" in {p.name for p in plan.pieces}
    without = CradleJob(m, made.solid(), replace(CradleWishes(), pieces=("neck",)))
    plan, _ = case_files(body, wishes, Labels(), PAPERS["A4"], (), cradle=without)
    assert plan.inside.along.mm == bare.inside.along.mm
