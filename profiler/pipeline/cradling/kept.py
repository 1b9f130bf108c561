"""A cradle that was planned before, taken along by a case."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from profiler.errors import InputError
from profiler.pipeline.casing.typed import Typed
from profiler.pipeline.cradling.shapes import solid_from
from profiler.pipeline.cradling.wishes import wishes_from

if TYPE_CHECKING:
    from profiler.pipeline.cradle import CradleJob


def cradle_of(
    job: Path, named: Path | None, record: dict[str, Any], case: Typed
) -> CradleJob | None:
    """The cradle of a job, None where there is none.

    Args:
        job: of the measurement.
        named: folder or file of a cradle plan; None for the job's own.
        record: of the measurement.
        case: options of the case; foam that is typed there goes before the cradle's.

    Raises:
        InputError: the plan that was named cannot be read.
    """
    from profiler.jobs.cradleplan import CRADLE_NAME
    from profiler.pipeline.cradle import CradleJob
    from profiler.plates.cradle.outlines import Lines

    home = job if job.is_dir() else job.parent
    path = named or home / "cradle"
    path = path / CRADLE_NAME if path.is_dir() else path
    if named is None and not path.is_file():
        return None
    options = _options(path)
    typed = Typed(options, "in" if options.get("units") == "in" else "mm")
    wishes, _ = wishes_from(typed)
    foam = case.length("foam")
    if foam is not None:
        from dataclasses import replace

        kind = wishes.scheme["body"].lining.kind
        scheme = wishes.scheme.with_lining("body", kind, foam, wishes.scheme["body"].lining.give)
        wishes = replace(wishes, scheme=scheme)
    measurement, solid = solid_from(typed, record, job)
    lines = Lines(typed.length_or("trace", 0.0), typed.length_or("tool_offset", 0.0))
    return CradleJob(measurement, solid, wishes, options, lines)


def _options(path: Path) -> dict[str, Any]:
    from profiler.jobs.cradleplan import FORMAT

    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        if kept["format"] != FORMAT or not isinstance(kept["options"], dict):
            raise ValueError
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        raise InputError(
            f"{path} is no plan of a cradle that can be read. Run 'profiler cradle' again, or say"
            " --no-cradle."
        ) from None
    options: dict[str, Any] = kept["options"]
    return options
