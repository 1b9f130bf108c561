"""Records spoiled at random places end in a sentence or in a record, never in a traceback."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from profiler.errors import ProfilerError
from profiler.jobs.lenses import read_lens
from profiler.jobs.reading import read_measurement
from profiler.jobs.records import cards_from_record, design_from_record, load_record
from profiler.jobs.results import JobNotes, measurement_record, record_bytes
from tests.made_up import made_up

HOME = Path(__file__).parents[2]
NONSENSE: tuple[Any, ...] = (
    None, -1, 0, 0.5, 1e308, float("nan"), float("inf"), 10**400, True, "", "x" * 10_000,
    "../a\n<b>", [], {}, [[]], [1, 2], {"a": 1},
)  # fmt: skip


def made_up_record() -> dict[str, Any]:
    job = made_up()
    return measurement_record(job.measurement, job.scene, [job.photo], JobNotes(), ["mat.json"])


READERS: dict[str, tuple[bytes, Callable[[Path], object]]] = {
    "mat": (
        (HOME / "samples/wren/mat.json").read_bytes(),
        lambda path: design_from_record(load_record(path)),
    ),
    "cards": (
        (HOME / "samples/wren/cards.json").read_bytes(),
        lambda path: cards_from_record(load_record(path)),
    ),
    "lens": ((HOME / "calib/birchfield-pocket-5.json").read_bytes(), read_lens),
    "measurement": (record_bytes(made_up_record()), read_measurement),
}


def places(value: Any, so_far: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    keys = value if isinstance(value, dict) else range(min(len(value), 3))
    for key in keys:
        yield (*so_far, key)
        if isinstance(value[key], (dict, list)):
            yield from places(value[key], (*so_far, key))


def spoiled(record: Any, chance: random.Random) -> Any:
    record = copy.deepcopy(record)
    *way, last = chance.choice(list(places(record)))
    inner = record
    for key in way:
        inner = inner[key]
    if chance.random() < 0.3:
        del inner[last]
    else:
        inner[last] = chance.choice(NONSENSE)
    return record


@pytest.mark.parametrize("kind", READERS)
def test_spoiled_at_random(kind: str, tmp_path: Path) -> None:
    data, read = READERS[kind]
    good, chance, path = json.loads(data), random.Random(3), tmp_path / "record.json"
    path.write_bytes(data)
    read(path)
    refused = 0
    for _ in range(200):
        path.write_text(json.dumps(spoiled(good, chance)), encoding="utf-8")
        try:
            read(path)
        except ProfilerError:
            refused += 1
    assert refused


@pytest.mark.parametrize("kind", READERS)
@pytest.mark.parametrize(
    "data", [b"", b"\xff\xfe\0", b"[" * 100_000, b"9" * 5000, b'{"a":' * 50_000]
)
def test_no_record_at_all(kind: str, data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "record.json"
    path.write_bytes(data)
    with pytest.raises(ProfilerError):
        READERS[kind][1](path)
