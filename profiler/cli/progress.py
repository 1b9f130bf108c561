"""Progress on the terminal: a bar for people, silence for pipes and logs."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

#: called with what is being done and how much of the whole is done, 0 to 1
Progress = Callable[[str, float], None]


@contextmanager
def shown_progress() -> Iterator[Progress]:
    """Show a bar on stderr while the block runs; it disappears when the block ends."""
    if not sys.stderr.isatty():  # the bar's library is not loaded for nobody
        yield lambda _what, _share: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    with Bar(
        TextColumn("{task.description:<32}"),
        BarColumn(),
        TextColumn("{task.percentage:3.0f} %"),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    ) as bar:
        task = bar.add_task("", total=1.0)

        def tell(what: str, share: float) -> None:
            bar.update(task, description=what, completed=min(max(share, 0.0), 1.0))

        yield tell
