"""A job's results: written together, and for a moment those that the disk does not have yet."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from profiler.jobs.reading import MEASUREMENT_NAME, MeasurementFileError, read_record
from profiler.jobs.results import record_bytes
from profiler.jobs.sections import HEADSTOCK, SECTIONS
from profiler.jobs.writing import write_together
from profiler.web.folder import JobPlace
from profiler.web.tasks.orders import Done


class JobResults:
    """What came of measuring a job, on the disk or ahead of it.

    Attributes:
        ahead: new numbers whose report is still being drawn; None where the disk has them all.
    """

    def __init__(self, place: JobPlace) -> None:
        self.place = place
        self.ahead: Done | None = None

    def record(self) -> dict[str, Any]:
        """The measurement's record as it is now; blocking.

        Raises:
            MeasurementFileError: there is none.
        """
        ahead = self.ahead  # looked at once: the work in the event loop takes it away meanwhile
        if ahead is not None:
            found: dict[str, Any] = json.loads(ahead.files[MEASUREMENT_NAME])
            return found
        return read_record(self.place.path)

    def seen(self) -> Any:
        """What the page draws over the photo, as it is now; None where there is nothing."""
        ahead = self.ahead
        if ahead is not None:
            return dict(ahead.seen or {})
        return self.place.bench_json("view.json")

    def write(self, done: Done) -> None:
        """Raises:
        OutputError: the disk refuses.
        """
        if done.bench:
            self.place.bench.mkdir(exist_ok=True)
            write_together(self.place.bench, done.bench, overwrite=True)
        if done.files:
            write_together(self.place.path, self.with_sections(done.files), overwrite=True)
            self._without_gone_views(done.files)
        if done.seen is not None:
            self.place.bench.mkdir(exist_ok=True)
            seen = {"view.json": record_bytes(done.seen)}
            write_together(self.place.bench, seen, overwrite=True)

    def _without_gone_views(self, written: Mapping[str, bytes]) -> None:
        """A photo from the side that is no longer the job's has no picture there either."""
        # loads OpenCV, which answering the page does not need
        from profiler.pipeline.report import OVERLAY_NAME, gone_side_overlays

        if OVERLAY_NAME in written:
            for path in gone_side_overlays(self.place.path, written):
                path.unlink(missing_ok=True)

    def with_sections(self, files: dict[str, bytes]) -> dict[str, bytes]:
        """What was measured of neck and headstock by other means outlives measuring again."""
        try:
            before = read_record(self.place.path)
        except MeasurementFileError:
            return files
        kept = {key: before[key] for key in (SECTIONS, HEADSTOCK) if before.get(key)}
        if not kept:
            return files
        now = {**json.loads(files[MEASUREMENT_NAME]), **kept}
        # the measurement stays the last to be put in its place
        return {**files, MEASUREMENT_NAME: record_bytes(now)}
