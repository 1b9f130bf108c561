"""The same batch on several machines, through a Dask scheduler.

The machines need this program and the same paths (a shared disk). A worker that dies loses nothing:
the scheduler gives its jobs to another, and a job's folder appears whole or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from profiler.errors import InputError
from profiler.jobs.manifest import Order
from profiler.pipeline.batch import Measuring, Outcome, State, measure_order

#: how long to wait for the scheduler, s
PATIENCE_S = 20


class ClusterUnreachable(InputError):
    """No scheduler answers, or the engine is not installed."""


def run_there(
    orders: Sequence[Order],
    address: str,
    force: bool = False,
    measuring: Measuring = measure_order,
) -> Iterator[Outcome]:
    """Measure all on the workers of a scheduler; outcomes as they come.

    Args:
        address: as tcp://host:8786.

    Raises:
        ClusterUnreachable: no answer, or Dask is missing.
    """
    try:
        from distributed import Client, as_completed
        from distributed.scheduler import KilledWorker
    except ImportError:
        raise ClusterUnreachable(
            "A batch on several machines needs one more package: pip install 'profiler[cluster]'."
        ) from None
    try:
        client = Client(address, timeout=PATIENCE_S)
    except (OSError, TimeoutError, ValueError) as error:
        raise ClusterUnreachable(
            f"No scheduler answers at {address} ({error}). Start one with 'dask scheduler', and a"
            " 'dask worker' on each machine."
        ) from None
    with client:
        asked = {
            client.submit(measuring, order, force, key=f"{order.job}-{n}", pure=False): order
            for n, order in enumerate(orders)
        }
        for future in as_completed(list(asked)):
            try:
                yield future.result()
            except KilledWorker:
                yield Outcome(
                    asked[future].job,
                    State.FAILED,
                    "Several workers died while they measured it. Is there enough memory?",
                )
            except Exception as error:  # whatever a worker of another version says
                yield Outcome(asked[future].job, State.FAILED, f"On the worker: {error!r}.")
            future.release()
