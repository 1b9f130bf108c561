"""A list of what the archive holds, for other programs: CSV, JSON, a page for the browser."""

from __future__ import annotations

import csv
import html
import io
import json
from collections.abc import Sequence
from typing import Any

from profiler.archive.entries import InstrumentEntry
from profiler.archive.words import table_cell

COLUMNS = (
    "number", "customer", "instrument", "maker", "kind", "tags", "measured", "length_mm",
    "width_mm", "height_mm", "notes",
)  # fmt: skip


def rows(found: Sequence[InstrumentEntry]) -> list[dict[str, Any]]:
    """One row for each revision, in the order of `COLUMNS`."""
    return [
        {
            "number": f"{i.id}.{r.number}",
            "customer": i.customer,
            "instrument": i.name,
            "maker": i.maker,
            "kind": i.kind,
            "tags": ", ".join(i.tags),
            "measured": r.measured,
            "length_mm": r.length,
            "width_mm": r.width,
            "height_mm": r.height,
            "notes": "\n".join(n for n in (i.notes, r.notes) if n),
        }
        for i in found
        for r in i.revisions
    ]


def as_csv(found: Sequence[InstrumentEntry]) -> str:
    """RFC 4180; no cell is a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in rows(found):
        writer.writerow([table_cell(row[c]) for c in COLUMNS])
    return out.getvalue()


def as_json(found: Sequence[InstrumentEntry]) -> str:
    """A list of objects."""
    return json.dumps(rows(found), ensure_ascii=False, indent=1) + "\n"


def as_html(found: Sequence[InstrumentEntry]) -> str:
    """One page with one table, without scripts or links."""
    head = "".join(f"<th>{c.replace('_', ' ')}</th>" for c in COLUMNS)
    body = "\n".join(
        "<tr>"
        + "".join(
            f"<td>{html.escape('' if row[c] is None else str(row[c]), quote=True)}</td>"
            for c in COLUMNS
        )
        + "</tr>"
        for row in rows(found)
    )
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Archive</title>'
        "<style>body{font-family:sans-serif}td,th{padding:.2em .6em;text-align:left;"
        "vertical-align:top;border-bottom:1px solid #ccc}td{white-space:pre-wrap;"
        "overflow-wrap:anywhere}</style></head>"
        f"<body><table><thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody></table>"
        "</body></html>\n"
    )
