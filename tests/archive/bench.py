"""The archive's tables: kills survived, and how long a question takes in archives of growing size.

    python -m tests.archive.bench [--write] [--kills N] [--largest N]

Kills: a child that adds, edits and forgets is killed (SIGKILL) at random times, or ends itself at
each file operation in turn; every acknowledged job is then read back (`tests/archive/kills.py`).
Times: archives of made-up outlines, each question asked in a process that is up and has the
archive open; wall clock and CPU, median of several different questions. `--write` puts the tables
into the README.
"""

from __future__ import annotations

import argparse
import itertools
import os
import platform
import shutil
import statistics
import sys
import time
import zlib
from collections.abc import Callable
from tempfile import TemporaryDirectory

import numpy as np
import shapely
from sqlalchemy import insert

from profiler.archive import tables as t
from profiler.archive.database import Archive, open_archive
from profiler.archive.find import Wanted, find
from profiler.archive.place import place_of
from profiler.archive.search import fitting, nearest
from profiler.archive.shape import packed, shape_of
from profiler.archive.words import folded, key_of
from tests.archive import kills
from tests.archive.made import Array, outline, quick_job
from tests.archive.server import empty_database, running
from tests.docs.readme import write_between

SIZES = (100, 1000, 10_000, 100_000)
QUESTIONS = 5
BASES = 400
KINDS = ("viola", "mandolin", "ukulele", "parlour guitar", "bouzouki")


def stretched(base: Array, rng: np.random.Generator) -> Array:
    """Another instrument made from one: sizes vary by some percent, the waist by its own."""
    x, y = base.T
    grown = x * rng.uniform(0.92, 1.08)
    waist = 1 + rng.uniform(-0.05, 0.05) * np.sin(grown / grown.max() * np.pi * 2)
    return np.column_stack([grown, y * rng.uniform(0.93, 1.07) * waist])


def fill(archive: Archive, start: int, stop: int, bases: list[Array]) -> None:
    """Rows as `add_job` writes them, thousands to a transaction."""
    raw = zlib.compress(quick_job(0).raw, 6)
    for first in range(start, stop, 2000):
        rows: dict[str, list[dict[str, object]]] = {
            name: []
            for name in ("customer", "instrument", "revision", "measurement", "shape", "plan")
        }
        for i in range(first, min(first + 2000, stop)):
            rng = np.random.default_rng(1_000_000 + i)
            points = stretched(bases[i % len(bases)], rng)
            shape, n = shape_of(points), i + 1
            name, kind = f"Customer {i}", KINDS[i % len(KINDS)]
            length, width = np.ptp(points, axis=0)
            rows["customer"].append(
                {"id": n, "uid": f"c{i}", "key": key_of(name), "name": name, "added": "",
                 "name_folded": folded(name)}
            )  # fmt: skip
            rows["instrument"].append(
                {"id": n, "uid": f"i{i}", "customer_id": n, "name": f"No. {i}", "kind": kind,
                 "added": "", "words": folded(f"No. {i}\n{name}\n{kind}"), "kind_folded": kind}
            )  # fmt: skip
            rows["revision"].append(
                {"id": n, "uid": f"r{i}", "instrument_id": n, "number": 1, "sha256": "0" * 64,
                 "measured": f"20{i % 90 + 10}-01-01", "added": "", "program": "", "kept_by": "",
                 "length": float(length), "width": float(width)}
            )  # fmt: skip
            rows["measurement"].append({"revision_id": n, "packed": raw[:400]})
            rows["shape"].append({"revision_id": n, "signature": packed(shape.signature)})
            rows["plan"].append(
                {"revision_id": n, "coarse": packed(shape.coarse), "outline": packed(points)}
            )
        with archive.write() as connection:
            for table in t.metadata.sorted_tables:
                if rows.get(table.name):
                    connection.execute(insert(table), rows[table.name])


def asked(question: Callable[[int], object]) -> tuple[float, float]:
    """Wall clock and CPU of the same question about several things, median, s."""
    question(0)  # what is loaded once
    walls, cpus = [], []
    for turn in range(1, QUESTIONS + 1):
        wall, cpu = time.perf_counter(), time.process_time()
        question(turn)
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return statistics.median(walls), statistics.median(cpus)


def times(place: str, sizes: tuple[int, ...], bases: list[Array]) -> list[str]:
    """A row for each size."""
    lines, filled = [], 0
    new = [stretched(outline(np.random.default_rng(77_000 + i)), np.random.default_rng(i))
           for i in range(QUESTIONS + 1)]  # fmt: skip
    cases = [np.asarray(shapely.Polygon(o).buffer(12).exterior.coords)[:-1] for o in new]
    for size in sizes:
        with open_archive(place_of(place), make=True) as archive:
            fill(archive, filled, size, bases)
            filled = size
            columns = [
                asked(lambda i: find(archive, Wanted(customer=f"customer {i * 13}"), 50)),
                asked(lambda i: find(archive, Wanted(words=f"no. {i} viola"), 50)),
                asked(lambda i: nearest(archive, new[i])),
                asked(lambda i: nearest(archive, new[i], mirrored=True)),
                asked(lambda i: fitting(archive, cases[i], 5.0)),
            ]
            open_ = statistics.median(nearest(archive, o).open_ for o in new[1:])
        cells = " | ".join(f"{wall:.2f} ({cpu:.2f})" for wall, cpu in columns)
        lines.append(f"| {size:,} | {cells} | {open_:g} |".replace(",", " "))
        print(lines[-1], flush=True)
    return lines


def query_table(largest: int) -> str:
    """Times by size, in a folder and on a server."""
    sizes = tuple(s for s in SIZES if s <= largest)
    bases = [outline(np.random.default_rng(i)) for i in range(BASES)]
    head = (
        "| outlines | by customer | by words | nearest | nearest, mirrored | fits this case | left"
        " open |"
    )
    lines = [head, "|---|---|---|---|---|---|---|", "| **in a folder (SQLite)** | | | | | | |"]
    with TemporaryDirectory() as temp:
        lines += times(f"{temp}/archive", sizes, bases)
    lines.append("| **on a PostgreSQL server** | | | | | | |")
    with running() as url:
        lines += times(empty_database(url, "bench"), tuple(s for s in sizes if s <= 10_000), bases)
    lines += [
        "",
        f"Seconds, wall clock (and CPU), median of {QUESTIONS} questions; {machine()}. *Left open*:"
        " outlines that the signature cannot rule out from coming as near as the fifth one shown"
        " and that only the coarse look did.",
    ]
    return "\n".join(lines)


def kill_table(count: int) -> str:
    """Kills survived, rows and bytes lost."""
    lines = [
        "| how it was stopped | kills | orders acknowledged | rows lost | bytes lost | half jobs |",
        "|---|---|---|---|---|---|",
    ]
    with TemporaryDirectory() as temp:
        fresh = (f"{temp}/a{i}" for i in itertools.count())
        tallies = [("killed at random times, in a folder", kills.kill_many(f"{temp}/k", count))]
        tallies.append(
            ("stopped at each file operation in turn", kills.stop_everywhere(lambda: next(fresh)))
        )
        with running() as url:
            place = empty_database(url, "kills")
            open_archive(place_of(place), make=True).close()
            tally = kills.kill_many(place, count // 3, longest_s=0.4)
        tallies.append(("killed at random times, on a server", tally))
        for name, tally in tallies:
            lines.append(tally.row(name))
            print(lines[-1], tally.problems[:3], flush=True)
            assert not tally.problems, tally.problems
    return "\n".join(lines)


def machine() -> str:
    return (
        f"{os.cpu_count()} {platform.machine()} cores shared with other work, mean load"
        f" {os.getloadavg()[1]:.1f}, Python {platform.python_version()}"
    )


def main(arguments: list[str]) -> int:
    """Print the tables, and put them into the README if asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--largest", type=int, default=SIZES[-1])
    said = parser.parse_args(arguments)
    if shutil.disk_usage("/tmp").free < 4e9:
        print("needs 4 GB in the temporary folder", file=sys.stderr)
        return 1
    for name, table in (("archive-kills", lambda: kill_table(said.kills)),
                        ("archive-times", lambda: query_table(said.largest))):  # fmt: skip
        text = table() if name == "archive-times" or said.kills else ""
        if text:
            print(f"\n{text}\n")
            if said.write:
                write_between(name, text)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
