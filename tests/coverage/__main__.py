"""Coverage and accuracy over many varied scenes: `python -m tests.coverage`.

    python -m tests.coverage [--write] [--tuning] [--each] [--no-samples] [--have] [SEED ...]

Sixty scenes (`tests.studio.varied`) are rendered at reduced size, or taken from the user's cache,
and measured together with the committed 12 Mpx samples by the installed command, in folders without
the truth. Then come: errors, how often the stated 95 % intervals held, and what was refused. Jobs
that say at the top that they must not be relied on (exit code 7) have rows of their own, for they
are what a maker is told not to use; the rows "sure" are all the others.
`--tuning` takes the other sixty, on which the program's doubts were looked into; `--each` tells
every number.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.coverage.blind import Outcome, measured
from tests.coverage.held import KINDS, Held, held
from tests.coverage.scenes import REPORT, TUNING, cached, scene
from tests.docs.readme import write_between

SAMPLES = Path(__file__).parents[2] / "samples"
ONE, SEVERAL = "one photo", "three photos"
SAMPLE_ONE, SAMPLE_SEVERAL = "samples, one photo", "samples, all photos"
#: the interval's promise, and what counts as keeping it, of 100
FAIR = (93.0, 98.0)


@dataclass(frozen=True)
class Job:
    """Photos that are measured together.

    Attributes:
        name: for people.
        group: row of the table.
        photos: of one folder, in which the truth lies as well.
    """

    name: str
    group: str
    photos: tuple[Path, ...]


@dataclass(frozen=True)
class Result:
    """A job with what came of it."""

    job: Job
    outcome: Outcome
    held: tuple[Held, ...]

    @property
    def unsure(self) -> bool:
        """Whether it says itself, first of all, that it must not be relied on."""
        return self.outcome.record is not None and self.outcome.code != 0


def scene_jobs(seeds: Iterable[int]) -> list[Job]:
    """A scene is one job; a seed whose scene cannot be is told and passed over."""
    jobs = []
    for seed in seeds:
        try:
            folder = scene(seed, lambda text: print(text, file=sys.stderr, flush=True))
        except ValueError as error:
            print(f"no scene {seed}: {error}", file=sys.stderr)
            continue
        photos = tuple(sorted(folder.glob("top-*.jpg")))
        jobs.append(Job(f"scene {seed}", ONE if len(photos) == 1 else SEVERAL, photos))
    return jobs


def sample_jobs() -> list[Job]:
    """Each committed photo alone, and those of each folder together."""
    jobs = []
    for folder in sorted({p.parent for p in SAMPLES.glob("*/top-*.jpg")}):
        photos = sorted(folder.glob("top-*.jpg"))
        jobs += [Job(f"{folder.name}/{p.name}", SAMPLE_ONE, (p,)) for p in photos]
        if len(photos) > 1:
            jobs.append(Job(f"{folder.name}, all", SAMPLE_SEVERAL, tuple(photos)))
    return jobs


def carried_out(job: Job) -> Result:
    """Measure first; only then is the truth opened."""
    outcome = measured(job.photos)
    print(f"{job.name}: exit {outcome.code}", file=sys.stderr, flush=True)
    if outcome.record is None:
        return Result(job, outcome, ())
    truth = json.loads((job.photos[0].parent / "truth.json").read_text("utf-8"))
    return Result(job, outcome, tuple(held(outcome.record, truth)))


def row_of(result: Result) -> str:
    """Which rows of the table a job belongs to."""
    return f"said unsure: {result.job.group}" if result.unsure else result.job.group


def error_table(results: Sequence[Result]) -> list[str]:
    """Errors and coverage: a row for each group and kind."""
    lines = [
        "| photos | number | how many | median error | p95 | worst | median u95 | inside u95 |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for group in dict.fromkeys(row_of(r) for r in sorted(results, key=lambda r: r.unsure)):
        for kind in KINDS:
            mine = [h for r in results if row_of(r) == group for h in r.held if h.kind == kind]
            if not mine:
                continue
            errors = np.abs(np.concatenate([h.errors for h in mine]))
            u95 = np.concatenate([h.u95 for h in mine])
            # each scene counts once, however many points its outline has
            inside = 100 * float(np.mean([h.inside for h in mine]))
            sign = "" if FAIR[0] <= inside <= FAIR[1] else " ↓" if inside < FAIR[0] else " ↑"
            lines.append(
                f"| {group} | {kind} | {len(errors)} | {np.median(errors):.2f}"
                f" | {np.percentile(errors, 95):.2f} | {errors.max():.2f}"
                f" | {np.median(u95):.2f} | {inside:.0f}%{sign} |"
            )
    return lines


def failures(results: Sequence[Result]) -> list[str]:
    """Who was refused, with the sentence; who was told that photos contradict each other."""
    lines = []
    for r in results:
        if r.outcome.record is None:
            lines.append(f"- {r.job.name}: exit {r.outcome.code}: {r.outcome.refusal}")
        elif r.outcome.code:
            told = r.outcome.record["warnings"][0]["message"]
            lines.append(f"- {r.job.name}: written, exit {r.outcome.code}: {told}")
    return lines


def summed_up(results: Sequence[Result]) -> str:
    """One line on how many jobs came to what."""
    codes = Counter(
        "refused" if r.outcome.record is None else "written" if not r.outcome.code else "in doubt"
        for r in results
    )
    told = ", ".join(f"{count} {what}" for what, count in sorted(codes.items(), reverse=True))
    return f"{len(results)} jobs: {told}."


def each_number(results: Sequence[Result]) -> None:
    """Every number with its error, its u95 and what that is made of: for looking into."""
    for r in results:
        for h in r.held:
            worst = int(np.argmax(np.abs(h.errors) - h.u95))
            mark = " " if h.inside > 0.9 else "!"
            print(
                f"{mark} {'unsure ' if r.unsure else ''}{r.job.name:16}"
                f" {h.kind:20} {h.name:12} {h.errors[worst]:+7.2f}"
                f" u95 {h.u95[worst]:5.2f}  inside {h.inside:4.0%}  {h.mostly}"
            )


def main(arguments: list[str]) -> int:
    """Print both tables, and put them into the README if asked."""
    parser = argparse.ArgumentParser(prog="python -m tests.coverage", description=__doc__)
    parser.add_argument("seeds", nargs="*", type=int)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--tuning", action="store_true")
    parser.add_argument("--each", action="store_true")
    parser.add_argument("--no-samples", action="store_true")
    parser.add_argument("--have", action="store_true", help="only scenes rendered already")
    parser.add_argument("--count", type=int, default=0, help="only the first so many scenes")
    parser.add_argument("--at-once", type=int, default=1, help="measurements at a time")
    wanted = parser.parse_args(arguments)
    seeds = wanted.seeds or list(TUNING if wanted.tuning else REPORT)
    if wanted.have:
        seeds = [seed for seed in seeds if (cached() / str(seed) / "truth.json").exists()]
    jobs = scene_jobs(seeds[: wanted.count or None])
    jobs += [] if wanted.no_samples else sample_jobs()
    with ThreadPoolExecutor(wanted.at_once) as pool:
        results = list(pool.map(carried_out, jobs))
    if wanted.each:
        each_number(results)
    which = "tuning" if wanted.tuning else "report"
    scenes = sum(not r.job.group.startswith("samples") for r in results)
    text = [
        f"{scenes} scenes of the {which} set. {summed_up(results)}",
        "",
        *error_table(results),
        "",
        *failures(results),
    ]
    print("\n".join(text))
    if wanted.write:
        write_between("coverage", "\n".join(text).strip())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
