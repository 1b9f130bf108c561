"""Hundreds of cases, put together from their cut lists as solids: do they fit and close?

The kernel (manifold3d) is an independent library; the plan is read as written, from its record.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from manifold3d import Manifold

from profiler.casework.plan import plan_case
from profiler.errors import RequestError
from profiler.jobs.caseplan import plan_record
from profiler.pipeline.case import plain_mm
from tests.casework.assembly import (
    Body,
    Record,
    apart,
    block,
    hits,
    overlaps,
    placed,
    prism,
    solids,
)
from tests.casework.random_cases import random_case

CHUNK, CHUNKS = 25, 8
HAIR = 0.01


def planned(seed: int) -> Record | None:
    """The record of a random case; None where a wish could not be, which is refused by name."""
    case = random_case(seed)
    try:
        plan = plan_case(case.body, case.wishes, with_sheets=False)
    except RequestError as error:
        assert "nearest" in str(error) or "Ask" in str(error), error
        return None
    return plan_record(plan, plain_mm)


def test_most_random_wishes_can_be_and_the_rooms_vary() -> None:
    """Else the property below would be about nothing."""
    records = [planned(seed) for seed in range(40)]
    made = [r for r in records if r]
    assert len(made) > 0.85 * len(records)
    kinds = {
        (len(r["compartments"]), tuple(c["reaches_head_board"] for c in r["compartments"]))
        for r in made
    }
    assert len(kinds) >= 3, kinds


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_cut_list_makes_a_case(chunk: int) -> None:
    for seed in range(CHUNK * chunk, CHUNK * (chunk + 1)):
        record = planned(seed)
        if record is not None:
            problems = faults(record)
            assert not problems, f"seed {seed}: {problems}"


def test_boards_at_hand_make_a_case() -> None:
    """The same property where the maker's board width decides the fingers."""
    made = 0
    for seed in range(14):
        case = random_case(seed)
        try:
            high = plan_case(case.body, case.wishes, with_sheets=False).fingers.board_width.mm
            joints = replace(case.wishes.joints, finger=None, board_width=high + 1.7 * (seed % 5))
            wishes = replace(case.wishes, joints=joints)
            plan = plan_case(case.body, wishes, with_sheets=False)
        except RequestError:
            continue
        assert plan.fingers.board_width.mm == pytest.approx(high + 1.7 * (seed % 5))
        assert not faults(plan_record(plan, plain_mm)), seed
        made += 1
    assert made > 7


def faults(plan: Record) -> list[str]:
    """Everything that is wrong with a case; nothing where it can be built."""
    bodies = solids(plan)
    return [
        *overlaps(bodies),
        *_corners(plan),
        *_inside(plan, bodies),
        *_instrument(plan, bodies),
        *_grooves(plan, bodies),
        *_closing(plan, bodies),
    ]


def _corners(plan: Record) -> list[str]:
    """Before grooves and rabbets the four boards are one ring without gaps.

    They do not overlap, as is checked by itself, so the sum of their volumes tells.
    """
    boards = [p for p in plan["pieces"] if p["name"].endswith(" board")]
    bare = [{**p, "cuts": [c for c in p["cuts"] if c["kind"] == "socket"]} for p in boards]
    whole = sum(b.solid.volume() for b in solids({**plan, "pieces": bare}, sawn=False))
    t = boards[0]["thickness"]
    length, width, high = boards[0]["length"], boards[2]["length"], boards[0]["width"]
    wanted = high * (length * width - (length - 2 * t) * (width - 2 * t))
    if abs(whole - wanted) > 1e-5 * wanted:
        return [f"corners: {whole:.1f} mm³ of wood instead of {wanted:.1f}"]
    return []


def _inside(plan: Record, bodies: list[Body]) -> list[str]:
    """The promised room is empty, and not larger than promised."""
    shell = [b for b in bodies if b.name.endswith((" board", " panel"))]
    along, across, deep = plan["box"]["inside"]
    floor = plan["box"]["rabbet"]["depth"]
    room = (0.0, 0.0, floor, along, across, floor + deep)
    empty = [v + HAIR if i < 3 else v - HAIR for i, v in enumerate(room)]
    problems = [f"inside holds {h}" for h in hits(block(tuple(empty)), shell)]
    asked = {s["name"]: s["mm"] for s in plan["sizes"]}
    if deep < asked["inside, deep, needed"] - HAIR:
        problems.append(f"depth {deep} is less than asked")
    for axis in range(6):
        skin = list(room)  # what a room larger by 0.05 mm would take
        skin[axis - 3 if axis >= 3 else axis + 3] = room[axis]
        skin[axis] = room[axis] + (0.05 if axis >= 3 else -0.05)
        if not hits(block(tuple(skin)), shell):
            problems.append(f"inside is larger than promised on side {axis}")
    return problems


def _instrument(plan: Record, bodies: list[Body]) -> list[str]:
    """Outline with clearance and lining, from the floor to the room above: nothing in its way."""
    room, inst = plan["wishes"]["room"], plan["instrument"]
    outline = shapely.Polygon(inst["outline"])
    along, across, deep = plan["box"]["inside"]
    x0, y0, x1, y1 = outline.bounds
    problems = []
    ends = min(x0, along - x1) - room["ends"] - room["lining"]
    sides = min(y0, across - y1) - room["side"] - room["lining"]
    if ends < -HAIR or sides < -HAIR:
        problems.append(f"clearance is short: ends {ends:.3f}, sides {sides:.3f}")
    needed = inst["height"] + room["foam"] + room["above"] + room["lining"]
    if needed > deep + HAIR:
        problems.append(f"height: {needed} into {deep}")
    around = outline.buffer(room["side"] + room["lining"] - HAIR, quad_segs=32)
    around = around.intersection(shapely.box(HAIR, HAIR, along - HAIR, across - HAIR))
    floor = plan["box"]["rabbet"]["depth"]
    solid = prism(around, floor + HAIR, floor + needed - HAIR)
    return problems + [f"instrument meets {h}" for h in hits(solid, bodies)]


def _grooves(plan: Record, bodies: list[Body]) -> list[str]:
    """In the base, every groove holds its wall's tongue; in the lid, its filler."""
    walls = [b for b in bodies if b.part == "base" and "wall" in b.name]
    fillers = [b for b in bodies if b.part == "lid" and b.name.startswith("filler")]
    low, high = plan["box"]["saw_cut"]
    floor = plan["box"]["rabbet"]["depth"]
    thick = next((p["thickness"] for p in plan["pieces"] if "wall" in p["name"]), 0.0)
    wall_high = next((p["width"] for p in plan["pieces"] if "wall" in p["name"]), 0.0)
    play = plan["wishes"]["joints"]["tongue_play"]
    problems = []
    for piece in plan["pieces"]:
        for cut in piece["cuts"]:
            if cut["kind"] != "groove":
                continue
            depth = cut["box"][5] - cut["box"][2]
            for place in piece["places"]:
                box = list(placed(place, tuple(cut["box"])))
                box[2], box[5] = max(box[2], floor), min(box[5], low)
                held = _volume(block(tuple(box)), walls)
                wanted = thick * (depth - play) * wall_high
                if abs(held - wanted) > 0.01 * wanted + 0.5:
                    problems.append(f"{piece['name']}: groove holds {held:.0f} of {wanted:.0f}")
                if place["part"] == "both" and fillers:
                    box = list(placed(place, tuple(cut["box"])))
                    box[2] = low
                    filled = _volume(block(tuple(box)), fillers)
                    wanted = thick * depth * (box[5] - high - floor)
                    if abs(filled - wanted) > 0.01 * wanted + 0.5:
                        problems.append(f"{piece['name']}: filler {filled:.0f} of {wanted:.0f}")
    return problems


def _volume(box: Manifold, bodies: list[Body]) -> float:
    return float(sum((b.solid ^ box).volume() for b in bodies if not apart(b.solid, box)))


def _closing(plan: Record, bodies: list[Body]) -> list[str]:
    """The lid lies on the base all round, and the closed case is as large as promised."""
    low, high = plan["box"]["saw_cut"]
    problems = []
    boxes = np.array([b.solid.bounding_box() for b in bodies])
    size = boxes[:, 3:].max(axis=0) - boxes[:, :3].min(axis=0)
    if np.abs(size - plan["box"]["outside"]).max() > HAIR:
        problems.append(f"outside is {size}, not {plan['box']['outside']}")
    lid = boxes[[b.part == "lid" for b in bodies], 2].min()
    base = boxes[[b.part == "base" for b in bodies], 5].max()
    if abs(lid - low) > HAIR or base > low + HAIR:
        problems.append(f"the lid begins at {lid}, the base ends at {base}, the cut is at {low}")
    boards = [b for b in bodies if b.name.endswith(" board")]
    rims = [
        sum(b.solid.slice(z).area() for b in boards if b.part == part)
        for part, z in (("base", low - HAIR), ("lid", low + HAIR))
    ]
    if abs(rims[0] - rims[1]) > 0.5:
        problems.append(f"rims of {rims[0]:.1f} and {rims[1]:.1f} mm²")
    edges = np.array(plan["box"]["fingers"])
    kept = np.diff(np.where(edges > low + HAIR, edges - (high - low), edges))
    if np.ptp(kept) > HAIR:
        problems.append(f"fingers are not alike after sawing: {kept}")
    return problems


def test_a_spoiled_cut_list_is_noticed() -> None:
    """The assembly would see a wrong length, a shallow groove, a misplaced saw cut."""
    record = next(r for r in map(planned, range(50)) if r and len(r["compartments"]) == 2)
    assert not faults(record)

    def spoiled(name: str, key: str, by: float) -> Record:
        pieces = [{**p, key: p[key] + by} if p["name"] == name else p for p in record["pieces"]]
        return {**record, "pieces": pieces}

    assert faults(spoiled("front board", "length", 1.0))
    assert faults(spoiled("cross wall", "length", 40.0))  # into the neck
    assert faults(spoiled("wall beside the neck", "length", -1.5))  # out of its groove
    assert faults(spoiled("cross wall", "width", 3.0))  # into the lid
    assert faults(spoiled("top panel", "width", 2.0))
    assert faults(spoiled("wall beside the neck", "thickness", 0.5))
    moved = {**record["box"], "saw_cut": [v + 2.0 for v in record["box"]["saw_cut"]]}
    assert faults({**record, "box": moved})
