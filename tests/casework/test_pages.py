"""The sheets: words keep off each other, files read back by other libraries show the plan's mm."""

from __future__ import annotations

import io
import re
from functools import lru_cache

import ezdxf
import pdfplumber
import pytest
import shapely
import svgelements

from profiler.casework.plan import CasePlan, plan_case
from profiler.drawing.extent import text_box
from profiler.drawing.model import Drawing, Text
from profiler.paper import PAPERS
from profiler.pipeline.case import Files, Labels, case_files
from profiler.plates.case.pages import case_pages, named_views
from profiler.plates.case.paging import Heading
from profiler.plates.case.pencil import fitted
from tests.casework.random_cases import random_case
from tests.plates.overlaps import clashes


@lru_cache(maxsize=2)
def made(seed: int) -> tuple[CasePlan, Files]:
    case = random_case(seed)
    labels = Labels("Skerry", "Ada Wren", "in" if case.wishes.step > 0.6 else "mm")
    return case_files(case.body, case.wishes, labels, PAPERS["A4"])


def run_together(drawing: Drawing) -> list[tuple[str, str]]:
    texts = [i for i in drawing.items() if isinstance(i, Text) and i.text.strip()]
    boxes = [text_box(t).buffer(-0.12 * t.size) for t in texts]
    tree = shapely.STRtree(boxes)
    pairs = tree.query(boxes, predicate="intersects").T
    return [(texts[a].text, texts[b].text) for a, b in pairs if a < b]


@pytest.mark.parametrize("seed", [0, 9])
def test_words_keep_off_each_other(seed: int) -> None:
    case = random_case(seed)
    plan = plan_case(case.body, case.wishes)
    labels = Labels(unit="in" if seed % 2 else "mm")
    views = named_views(plan)
    for view in views:
        drawing = fitted(view.view, view.title, labels.show, 270.0, 165.0).drawing
        assert not run_together(drawing), view.name
    names = Heading("An instrument with quite a long name", "Somebody With Such A Name", "mm")
    for page in case_pages(plan, views, labels.show, names, PAPERS["Letter"]):
        assert not clashes(page), page.title


def test_a_board_s_dxf_is_true_to_size() -> None:
    """ezdxf reads the board's outline back: the length of the cut list, fingers and all."""
    plan, files = made(1)
    for name in ("front-board", "head-board"):
        document = ezdxf.read(io.StringIO(files[f"{name}.dxf"].decode()))
        assert not document.audit().errors
        (outline,) = document.modelspace().query('LWPOLYLINE[layer=="cut"]')
        points = shapely.Polygon([(x, y) for x, y, *_ in outline.get_points()])
        x0, y0, x1, y1 = points.bounds
        piece = plan.piece(name.replace("-", " "))
        assert x1 - x0 == pytest.approx(piece.length.mm, abs=1e-3)
        assert y1 - y0 == pytest.approx(piece.width.mm, abs=1e-3)
        sockets = sum(
            (c.box[3] - c.box[0]) * (c.box[4] - c.box[1]) for c in piece.cuts if c.kind == "socket"
        )
        assert points.area == pytest.approx(piece.length.mm * piece.width.mm - sockets, abs=0.5)


def test_machines_get_every_cut_line_once() -> None:
    """Two lines on each other would be cut twice."""
    _, files = made(1)
    for name in (n for n in files if n.startswith("parts") and n.endswith(".dxf")):
        space = ezdxf.read(io.StringIO(files[name].decode())).modelspace()
        cuts = [tuple(q.get_points("xy")) for q in space.query('LWPOLYLINE[layer=="cut"]')]
        assert cuts and len(cuts) == len(set(cuts))
        assert not space.query('LWPOLYLINE[layer=="fill"]')


def test_a_board_s_svg_is_true_to_size() -> None:
    plan, files = made(1)
    document = svgelements.SVG.parse(io.BytesIO(files["front-board.svg"]), ppi=25.4)
    widths = [
        path.bbox()[2] - path.bbox()[0]
        for path in document.elements()
        if isinstance(path, svgelements.Path) and len(path) > 20
    ]
    assert max(widths) == pytest.approx(plan.pieces[0].length.mm, abs=0.01)


def test_the_pdf_says_what_the_plan_says() -> None:
    """pdfplumber reads sizes, steps, cautions and rules off the pages."""
    plan, files = made(1)
    with pdfplumber.open(io.BytesIO(files["case.pdf"])) as document:
        sizes = {(round(p.width), round(p.height)) for p in document.pages}
        text = " ".join((p.extract_text() or "").replace("\n", " ") for p in document.pages)
    assert sizes == {(842, 595)}, "A4 on its side"
    labels = Labels("", "", "in" if plan.wishes.step > 0.6 else "mm")
    for mm in (plan.pieces[0].length.mm, plan.fingers.board_width.mm, plan.fingers.line.mm):
        assert labels.show(mm) in text
    for word in ("Order of work", "pacemakers", "common practice", "spacer"):
        assert word in text
    assert "Skerry, for Ada Wren" in text
    assert not re.search(r"\bnan\b|\bNone\b", text)


def test_the_same_wishes_give_the_same_bytes() -> None:
    case = random_case(2)
    first, second = (
        case_files(case.body, case.wishes, Labels(), PAPERS["A4"], ("pdf",))[1] for _ in range(2)
    )
    assert first == second
