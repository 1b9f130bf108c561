"""Names that attack: they come back as they were and do no harm in files, SQL, CSV, HTML, PDF."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import pdfplumber
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from profiler.archive.database import Archive
from profiler.archive.entries import Details
from profiler.archive.erase import forget_customer
from profiler.archive.find import Wanted, entry, find
from profiler.archive.keep import add_job, edit
from profiler.archive.listing import as_csv, as_html, as_json
from profiler.archive.portable import export
from profiler.archive.words import file_name, file_stem, folded, kept, shown_line, table_cell
from profiler.cli.archive import archive as command
from profiler.errors import RequestError
from tests.archive.made import folder, job, quick_job

NAMES = (
    "O'Brien",
    "Robert'); DROP TABLE customer;--",
    'quote " and \\ back',
    "../../../etc/passwd",
    "..\\..\\windows",
    "/absolute",
    "C:\\con",
    "NUL",
    "100 % _like_ %",
    "emoji 🎻 and 👩‍🔧",
    "ﬁancée Ångström ß İ",
    "عود שלום",
    "right\u202eto left",
    "line\nbreak\r\ttab",
    "\x1b[31mred\x1b[0m \x07",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)> &amp; &",
    '=HYPERLINK("http://x","y")',
    "+1+1",
    "-2+3",
    "@SUM(1)",
    "%s %d {0} {name} ${HOME} `id` $(id)",
    "--help",
    ".hidden",
    "x" * 10_000,
    "🎻" * 2_500,
    "null\0byte",
    "half \ud800 character",
)


def test_names_come_back_and_are_found_and_forgotten(either: Archive) -> None:
    add_job(either, quick_job(1), Details())
    for name in NAMES:
        comes_back(either, name)
    for name in NAMES[1::5]:
        assert forget_customer(either, name).instruments == 1
    assert find(either, Wanted())[1] == 1 + len(NAMES) - len(NAMES[1::5])


def comes_back(either: Archive, name: str) -> None:
    wanted = kept(name)
    details = Details(customer=name, name=name, maker=name, kind=name, notes=name)
    number = add_job(either, quick_job(2), details).instrument
    edit(either, number, Details(tags=(name[:200],)))
    found = entry(either, number)
    assert (found.name, found.customer, found.maker, found.kind) == (wanted,) * 4
    assert found.notes == wanted
    for query in (Wanted(customer=name), Wanted(words=name)):
        assert number in [i.id for i in find(either, query)[0]]
    out = io.BytesIO()
    export(either, [number], out)
    paths = zipfile.ZipFile(out).namelist()
    assert all(p.isascii() and ".." not in p and "\\" not in p and p[0] != "/" for p in paths)
    assert all(len(part) <= 80 for p in paths for part in p.split("/"))


def stocked(archive: Archive) -> None:
    for i, name in enumerate(NAMES):
        details = Details(customer=name, name=f"{i}", maker=name, notes=name)
        add_job(archive, quick_job(i), details)


def test_lists_are_read_back_by_others(shelf: Archive) -> None:
    stocked(shelf)
    found = find(shelf, Wanted())[0]
    rows = list(csv.DictReader(io.StringIO(as_csv(found), newline="")))
    assert len(rows) == len(NAMES)
    for row in rows:
        for cell in row.values():
            assert not cell or cell.lstrip(" ")[0] not in "=+-@\t\r\n" or _is_number(cell)
    original = {kept(n) for n in NAMES}
    back = {r["customer"][1:] if r["customer"][:1] == "'" else r["customer"] for r in rows}
    assert back == original
    assert {r["customer"] for r in json.loads(as_json(found))} == original

    class Reader(HTMLParser):
        def __init__(self) -> None:
            super().__init__(convert_charrefs=True)
            self.tags: set[str] = set()
            self.cells: list[str] = []

        def handle_starttag(self, tag: str, attrs: object) -> None:
            self.tags.add(tag)
            if tag == "td":
                self.cells.append("")

        def handle_data(self, data: str) -> None:
            if self.cells:
                self.cells[-1] += data.strip()

    reader = Reader()
    reader.feed(as_html(found))
    assert reader.tags <= {
        "html", "head", "meta", "title", "style", "body", "table", "thead", "tbody", "tr", "th",
        "td",
    }  # fmt: skip
    assert {c for c in reader.cells if "script" in c} == {"<script>alert(1)</script>"}


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_the_command_survives_every_name(tmp_path: Path) -> None:
    run, place = CliRunner(), str(tmp_path / "archive")
    path = folder(tmp_path / "bench" / "job", 1, "plain", "plain")
    for i, name in enumerate(NAMES[:-2:2]):  # no command line can hold the last two
        options = [f"--customer={name}", f"--maker={name}", f"--notes={name}", f"--name={i}"]
        done = run.invoke(command, ["add", str(path), *options, "--archive", place])
        assert done.exit_code == 0, (name[:40], done.output, done.exception)
    listed = run.invoke(command, ["list", "--limit", "99", "--archive", place])
    assert listed.exit_code == 0 and len(listed.stdout.splitlines()) == len(NAMES[:-2:2])
    for number in range(1, len(NAMES[:-2:2]) + 1, 3):
        shown = run.invoke(command, ["show", str(number), "--archive", place])
        assert shown.exit_code == 0, shown.exception
        for text in (shown.output, listed.output):
            assert not any(c in text for c in "\x1b\x07\u202e\0")
    printed = run.invoke(command, ["print", "9", "-o", str(tmp_path / "paper"), "--archive", place])
    assert printed.exit_code == 0, printed.exception
    with pdfplumber.open(tmp_path / "paper" / "summary.pdf") as pdf:
        assert "onerror" in (pdf.pages[0].extract_text() or "")  # as text, and nothing more
    raw = (tmp_path / "paper" / "template.svg").read_text("utf-8")
    assert "<img" not in raw
    assert {p.name for p in tmp_path.iterdir()} == {"archive", "bench", "paper"}


def test_what_is_too_long_is_refused(shelf: Archive) -> None:
    with pytest.raises(RequestError, match="10001 characters"):
        add_job(shelf, job(1), Details(name="x" * 10_001))
    with pytest.raises(RequestError, match="tag"):
        add_job(shelf, job(1), Details(tags=("x" * 201,)))
    assert find(shelf, Wanted())[1] == 0


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=80))
def test_any_text_makes_safe_names_lines_and_cells(text: str) -> None:
    for name in (file_stem(text, "file"), file_name(text, "file")):
        assert name and name.isascii() and "/" not in name and "\\" not in name
        assert not name.startswith((".", "-")) and ".." not in name and len(name) <= 70
        assert name.split(".")[0].upper() not in ("CON", "NUL", "PRN", "AUX", "COM1", "LPT1")
    line = shown_line(text)
    assert "\n" not in line and "\x1b" not in line
    assert len(shown_line(text, 10)) <= 10
    assert folded(folded(text)) == folded(text)
    cell = table_cell(text)
    assert cell[:1] not in ("=", "@", "\t", "\r") and cell.endswith(text)
    kept(text).encode("utf-8")  # no half characters
