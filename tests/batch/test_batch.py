"""A batch goes on after kills, tells each failure, and measures what a single command measures."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from profiler.jobs.manifest import Order
from profiler.pipeline.batch import State, measure_order, run_here
from tests.batch.stand_in import deadly, slow, started

ROOT = Path(__file__).parents[2]


def orders(folder: Path, names: list[str]) -> list[Order]:
    (folder / "out").mkdir(exist_ok=True)
    found = []
    for name in names:
        photo = folder / f"{name}.jpg"
        photo.write_bytes(name.encode())
        found.append(Order(name, (str(photo),), str(folder / "out")))
    return found


def test_all_are_done_by_several_processes_and_then_there(tmp_path: Path) -> None:
    todo = orders(tmp_path, [f"j{i}" for i in range(6)])
    first = list(run_here(todo, workers=2, measuring=slow))
    assert Counter(o.state for o in first) == {State.DONE: 6}
    assert len({pid for _, pid in started(tmp_path / "out")}) == 2
    again = list(run_here(todo, workers=2, measuring=slow))
    assert Counter(o.state for o in again) == {State.THERE: 6}
    assert len(started(tmp_path / "out")) == 6


def test_a_job_that_kills_its_process_fails_alone(tmp_path: Path) -> None:
    todo = orders(tmp_path, ["a", "bomb", "b", "c", "d"])
    done = {o.job: o for o in run_here(todo, workers=2, measuring=deadly)}
    assert done.pop("bomb").state is State.FAILED
    assert {o.state for o in done.values()} <= {State.DONE, State.THERE}
    for name in "abcd":
        assert (tmp_path / "out" / name / "measurement.json").is_file()


def test_a_killed_batch_goes_on_where_it_was(tmp_path: Path) -> None:
    todo = orders(tmp_path, [f"j{i}" for i in range(8)])
    code = (
        "from tests.batch.test_batch import *\n"
        "if __name__ == '__main__':\n"
        f"    p = Path({str(tmp_path)!r})\n"
        "    for o in run_here(orders(p, [f'j{i}' for i in range(8)]), 2, measuring=slow): print(o)"
    )
    script = tmp_path / "run.py"
    script.write_text(code)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    run = subprocess.Popen([sys.executable, str(script)], env=environment, start_new_session=True)
    out = tmp_path / "out"
    deadline = time.monotonic() + 60
    while len(started(out)) < 4 and time.monotonic() < deadline:
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGKILL)  # the batch and its workers, all at once
    run.wait()
    whole = {p.parent.name for p in out.glob("j*/measurement.json")}
    assert 1 <= len(whole) < 8
    assert all((out / name / "order.json").is_file() for name in whole)
    rest = {o.job: o.state for o in run_here(todo, workers=2, measuring=slow)}
    assert {job for job, state in rest.items() if state is State.THERE} == whole
    assert set(rest.values()) == {State.THERE, State.DONE}


def test_each_failure_is_a_sentence(tmp_path: Path) -> None:
    photo = tmp_path / "no.jpg"
    photo.write_bytes(b"not a photo")
    out = str(tmp_path / "out")
    (tmp_path / "out" / "taken").mkdir(parents=True)
    (tmp_path / "out" / "taken" / "mine.txt").write_text("mine")
    missing = measure_order(Order("a", (str(tmp_path / "gone.jpg"),), out))
    broken = measure_order(Order("b", (str(photo),), out))
    taken = measure_order(Order("taken", (str(photo),), out))
    assert {missing.state, broken.state, taken.state} == {State.FAILED}
    assert "gone.jpg" in missing.sentence and "no.jpg" in broken.sentence
    assert "holds other things" in taken.sentence
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["taken"]


def test_the_command_measures_a_sample_and_reports_the_rest(tmp_path: Path) -> None:
    sample = ROOT / "samples" / "wren"
    (tmp_path / "jobs.csv").write_text(
        f"job,photos,name\nwren,{sample / 'top-2.jpg'},Wren\nghost,{tmp_path / 'ghost.jpg'},\n"
    )
    command = [str(Path(sys.executable).parent / "profiler"), "batch", str(tmp_path), "-o",
               str(tmp_path / "results")]  # fmt: skip
    first = subprocess.run(command, capture_output=True, text=True, check=False)
    assert first.returncode == 3
    assert "1 measured, 0 there already, 1 failed" in first.stdout
    assert "ghost" in first.stderr
    folder = tmp_path / "results" / "wren"
    assert {"measurement.json", "overlay.jpg", "summary.pdf"} <= {p.name for p in folder.iterdir()}
    again = subprocess.run(command, capture_output=True, text=True, check=False)
    assert "0 measured, 1 there already, 1 failed" in again.stdout
    single = tmp_path / "single"
    subprocess.run(
        [command[0], "measure", str(sample / "top-2.jpg"), "-o", str(single), "--name", "Wren"],
        check=True, capture_output=True,
    )  # fmt: skip
    assert (folder / "measurement.json").read_bytes() == (single / "measurement.json").read_bytes()


def test_a_worker_of_a_cluster_killed_midway_loses_nothing(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="needs the cluster extra")
    from profiler.pipeline.cluster import run_there

    todo = orders(tmp_path, [f"j{i}" for i in range(12)])
    out = tmp_path / "out"
    cluster = distributed.LocalCluster(
        n_workers=3, threads_per_worker=1, processes=True, dashboard_address=None,
        local_directory=str(tmp_path / "dask"),
    )  # fmt: skip
    with cluster:
        outcomes = run_there(todo, cluster.scheduler_address, measuring=slow)
        done = [next(outcomes)]
        victim = started(out)[-1][1]
        os.kill(victim, signal.SIGKILL)
        done += outcomes
    assert {o.job for o in done} == {o.job for o in todo}
    assert {o.state for o in done} <= {State.DONE, State.THERE}
    for order in todo:
        assert (order.folder / "measurement.json").is_file()
    assert len({pid for _, pid in started(out)}) >= 3


def test_no_scheduler_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed", reason="needs the cluster extra")
    from profiler.pipeline import cluster

    monkeypatch.setattr(cluster, "PATIENCE_S", 0.5)
    with pytest.raises(cluster.ClusterUnreachable, match="No scheduler answers"):
        list(cluster.run_there([], "tcp://127.0.0.1:1"))
