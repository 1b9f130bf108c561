"""The cradle's sheets as a machine and as a person would see them."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from functools import cache

import ezdxf
import jsonschema
import numpy as np
import pdfplumber
import pytest
import shapely
import svgelements

from profiler.casework.cradle.berth import berth_from_room
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.check import Checked
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.cradle.plan import CradlePlan, plan_cradle
from profiler.casework.cradle.wishes import CradleWishes
from profiler.casework.wishes import Room
from profiler.drawing.extent import item_shape, text_box
from profiler.drawing.model import Line, Text
from profiler.drawing.tiling import Correction
from profiler.jobs.cradleplan import schema
from profiler.paper import PAPERS
from profiler.pipeline.cradle import Files, SheetWishes, cradle_files
from profiler.pipeline.labels import Labels
from profiler.plates.case.paging import Heading
from profiler.plates.case.pencil import fitted
from profiler.plates.cradle.cards import card_of, sheet_of
from profiler.plates.cradle.layout import lay_out, layout_pages
from profiler.plates.cradle.outlines import Lines, piece_layers, registers
from profiler.plates.cradle.pages import first_pages, named_views
from tests.cradle.made import Made
from tests.drawing.reading import pdf_pages
from tests.plates.overlaps import clashes

TOLERANCE_MM = 0.02
LABELS = Labels("Curlew", "Ada Marsh")


@cache
def made(
    paper: str = "A4", trace: float = 0.0, tool: float = 0.0, one_page: bool = False
) -> tuple[Checked, Files]:
    instrument = Made(skew=1.2)
    solid = instrument.solid()
    wishes = CradleWishes()
    berth = berth_from_room(solid.plan, Room(), tail=tail_room(solid, wishes))
    sheets = SheetWishes(PAPERS[paper], one_page, lines=Lines(trace, tool))
    return cradle_files(instrument.measurement(), solid, berth, wishes, LABELS, sheets)


def wanted(done: Checked, name: str) -> shapely.Polygon:
    """The piece's shape, its corner at 0, 0."""
    piece = next(p for p in done.plan.pieces if p.name == name)
    # a board is seen from the tail: the instrument's left at the left
    shape = shapely.affinity.scale(piece.shape, -1.0 if piece.upright else 1.0, 1.0, origin=(0, 0))
    return shapely.affinity.translate(shape, -shape.bounds[0], -shape.bounds[1])


def stray(found: np.ndarray, shape: shapely.Polygon) -> float:
    """Largest distance between a ring that was read and the shape, both at the origin, mm."""
    ring = shapely.Polygon(found - found.min(axis=0))
    return float(shapely.hausdorff_distance(ring.exterior, shape.exterior, densify=0.05))


def wanted_of(instrument: Made) -> float:
    """Length of its neck rest, mm: the instrument's width, room and play."""
    y = np.asarray(instrument.outline.exterior.coords)[:, 1]
    return float(np.ptp(y)) + 2 * (6.0 + 2.0) - 0.5


def file_of(name: str) -> str:
    return name.replace(", ", "-").replace(" ", "-")


def names() -> list[str]:
    return [p.name for p in made()[0].plan.pieces]


def test_all_pieces_are_there() -> None:
    assert {"neck rest", "headstock block", "tail rest"} < set(names())
    assert sum(n.startswith("body block") for n in names()) == 4


@pytest.mark.parametrize("name", names())
def test_dxf_cut_lines_are_true(name: str) -> None:
    done, files = made()
    document = ezdxf.read(io.StringIO(files[f"{file_of(name)}.dxf"].decode()))
    assert not document.audit().errors
    assert document.header["$INSUNITS"] == 4
    (cut,) = document.modelspace().query('LWPOLYLINE[layer=="cut"]')
    assert cut.closed
    assert stray(np.array(cut.get_points("xy")), wanted(done, name)) < TOLERANCE_MM
    layers = {e.dxf.layer for e in document.modelspace()}
    assert {"cut", "station", "text"} <= layers
    assert ("centreline" in layers) == (not name.startswith("body block"))


@pytest.mark.parametrize("name", names())
def test_svg_cut_lines_are_true(name: str) -> None:
    done, files = made()
    svg = svgelements.SVG.parse(io.BytesIO(files[f"{file_of(name)}.svg"]), ppi=25.4)
    group = next(g for g in svg.elements() if getattr(g, "id", None) == "cut")
    (path,) = [e for e in group.select(lambda e: isinstance(e, svgelements.Shape))]
    points = np.array([(p.x, -p.y) for p in svgelements.Path(path).as_points()])
    assert stray(points, wanted(done, name)) < TOLERANCE_MM


def test_pdf_cut_lines_and_bars_are_true() -> None:
    done, files = made()
    pages = pdf_pages(files["cradle.pdf"])
    first = len(first_pages(done, LABELS.show, Heading("", "", ""), PAPERS["A4"]))
    shapes = {n: wanted(done, n) for n in names()}
    found = set()
    for page in pages[first:]:
        assert (page.width, page.height) == pytest.approx((297.0, 210.0), abs=0.05)
        bars = [p for p in page.paths if p.filled and len(p.points) in (12, 13)]
        spans = sorted(float(np.ptp(b.points, axis=0).max()) for b in bars)
        assert spans == pytest.approx([100.0, 100.0, 101.6], abs=TOLERANCE_MM)
        for path in page.paths:
            if path.stroked and abs(path.width - 0.45) < 0.01:
                found |= {n for n, s in shapes.items() if stray(path.points, s) < TOLERANCE_MM}
    assert found == set(shapes)


def test_a_printer_s_correction_stretches_the_pdf_alone() -> None:
    instrument = Made()
    solid, wishes = instrument.solid(), CradleWishes(pieces=("neck",))
    berth = berth_from_room(solid.plan, Room())
    files = {}
    for k in (1.0, 1.004):
        sheets = SheetWishes(PAPERS["A4"], correction=Correction(k, 1.0), formats=("pdf", "dxf"))
        _, files[k] = cradle_files(instrument.measurement(), solid, berth, wishes, LABELS, sheets)
    assert files[1.0]["neck-rest.dxf"] == files[1.004]["neck-rest.dxf"]
    wide = {
        k: max(
            float(np.ptp(p.points[:, 0]))
            for page in pdf_pages(f["cradle.pdf"])[2:]
            for p in page.paths
            if p.stroked and abs(p.width - 0.45) < 0.01
        )
        for k, f in files.items()
    }
    assert wide[1.004] / wide[1.0] == pytest.approx(1.004, abs=2e-4)


def test_trace_and_tool_lines_are_true_offsets_where_asked() -> None:
    done, files = made(trace=2.0, tool=1.6)
    document = ezdxf.read(io.StringIO(files["neck-rest.dxf"].decode()))
    space = document.modelspace()
    (cut,) = space.query('LWPOLYLINE[layer=="cut"]')
    shape = shapely.Polygon(cut.get_points("xy"))
    for layer, away in (("trace", 2.0), ("tool", 1.6)):
        (line,) = space.query(f'LWPOLYLINE[layer=="{layer}"]')
        ring = shapely.Polygon(line.get_points("xy"))
        assert (ring.area < shape.area) == (layer == "trace")
        gaps = shapely.distance(shapely.points(np.array(line.get_points("xy"))), shape.exterior)
        assert gaps == pytest.approx(np.full(len(gaps), away), abs=TOLERANCE_MM)
    plain = ezdxf.read(io.StringIO(made()[1]["neck-rest.dxf"].decode())).modelspace()
    assert not plain.query('LWPOLYLINE[layer=="trace"]')
    assert not plain.query('LWPOLYLINE[layer=="tool"]')
    del done


def test_centrelines_and_crosses_agree_between_boards() -> None:
    done, _ = made()
    side = registers(done.plan)
    assert side > 30.0
    places = []
    for piece in done.plan.pieces:
        if not piece.upright:
            continue
        card = card_of(done, piece, "x", LABELS.show, Lines())
        layers = {n.name: n.items for n in card.layers}
        (centre,) = layers["centreline"]
        x = centre.points[0][0]
        crosses = [i for i in layers["station"] if i.points[0][1] == i.points[1][1]][:2]
        floor = min(p[1] for p in layers["cut"][0].points)
        places.append(
            [round((c.points[0][0] + c.points[1][0]) / 2 - x, 6) for c in crosses]
            + [round(c.points[0][1] - floor, 6) for c in crosses]
        )
    assert len(places) == 3
    assert all(p == places[0] for p in places)
    assert places[0][:2] == [-side, side]


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
def test_words_keep_off_each_other(paper: str) -> None:
    done, _ = made()
    heading = Heading("An instrument with quite a long name", "Somebody With Such A Name", "mm")
    for page in first_pages(done, LABELS.show, heading, PAPERS[paper]):
        assert not clashes(page), page.title
    cards = [card_of(done, p, "Curlew, for Ada", LABELS.show, Lines()) for p in done.plan.pieces]
    spread = lay_out(cards, PAPERS[paper], Correction())
    laid = [one for page in spread.pages for one in page]
    assert len(laid) + len(spread.large) == len(cards)
    for page in layout_pages(spread, "Cradle", Correction()):
        assert not clashes(page), page.title
    for card in cards:
        drawing = sheet_of(card, "Cradle", "Cradle: Curlew")
        assert not clashes(drawing), card.piece.name
    for view in named_views(done):
        texts = fitted(view.view, view.title, LABELS.show, 270.0, 165.0).drawing
        assert any(isinstance(i, Text) for i in texts.items())


def test_words_over_a_narrow_board_keep_off_each_other() -> None:
    """Between compartment walls a neck rest is hardly wider than its notch."""
    instrument = Made()
    solid, wishes = instrument.solid(), CradleWishes(pieces=("neck",))
    berth = replace(berth_from_room(solid.plan, Room()), right=-37.0, left=37.0)
    done, _ = cradle_files(
        instrument.measurement(), solid, berth, wishes, LABELS, SheetWishes(PAPERS["A4"])
    )
    for view in named_views(done)[1:]:
        drawing = fitted(view.view, view.title, LABELS.show, 270.0, 80.0).drawing
        texts = [i for i in drawing.items() if isinstance(i, Text) and i.text.strip()]
        boxes = [text_box(t).buffer(-0.12 * t.size) for t in texts]
        pairs = shapely.STRtree(boxes).query(boxes, predicate="intersects").T
        assert not [(texts[a].text, texts[b].text) for a, b in pairs if a < b]
    (card,) = [card_of(done, p, "Curlew", LABELS.show, Lines()) for p in done.plan.pieces]
    assert not clashes(sheet_of(card, "Cradle", "Cradle"))


def test_pieces_of_a_page_do_not_overlap() -> None:
    done, _ = made()
    cards = [card_of(done, p, "x", LABELS.show, Lines()) for p in done.plan.pieces]
    for page in lay_out(cards, PAPERS["A3"], Correction()).pages:
        boxes = [shapely.box(q.x, q.y, q.x + q.card.width, q.y + q.card.height) for q in page]
        for i, a in enumerate(boxes):
            assert all(a.distance(b) > 4.0 for b in boxes[:i])


def test_what_is_too_large_goes_over_several_pages() -> None:
    wide = replace(Made(), width=420.0)
    solid, wishes = wide.solid(), CradleWishes(pieces=("neck",))
    berth = berth_from_room(solid.plan, Room())
    _, files = cradle_files(
        wide.measurement(), solid, berth, wishes, LABELS, SheetWishes(PAPERS["A4"])
    )
    pages = pdf_pages(files["cradle.pdf"])
    tiled = [p for p in pages if "neck rest" in p.text and "100 mm: check" in p.text]
    assert len(tiled) >= 2
    rest = wanted_of(wide)
    longest = max(
        float(np.ptp(q.points[:, 0]))
        for p in tiled
        for q in p.paths
        if q.stroked and abs(q.width - 0.45) < 0.01
    )
    assert longest == pytest.approx(rest, abs=TOLERANCE_MM)


def _read(page: pdfplumber.page.Page) -> str:
    """A page's words, then those of its three columns of notes one by one."""
    text = page.extract_text() or ""
    for a, b in ((0.0, 0.352), (0.352, 0.66), (0.66, 1.0)):
        column = page.crop((a * page.width, 0.8 * page.height, b * page.width, page.height))
        text += " " + (column.extract_text() or "")
    return text


def test_a_page_says_how_it_is_used() -> None:
    """Whoever finds one page in the shop knows what it is, how to use it, what to mind."""
    done, files = made()
    with pdfplumber.open(io.BytesIO(files["cradle.pdf"])) as document:
        texts = [" ".join(_read(p).split()) for p in document.pages]
    sheets = [t for t in texts if "100 mm: check with a steel rule" in t]
    assert len(sheets) >= 2
    for text in sheets:
        for words in (
            "Curlew, for Ada Marsh", "12 mm birch, 12 thick", "Grain along the arrow",
            "Before cutting, lay a steel rule", "with its lining in", "held in a jig",
            "never by fingers near the blade", "Protect eyes", "machine maker's manual",
            "Print at 100 %", "gives",
        ):  # fmt: skip
            assert words in text, words
    whole = " ".join(texts)
    for words in (
        "this face to the tail",
        "this face up",
        "from the end board's inside",
        "presses",
    ):
        assert words in whole, words
    svg = files["neck-rest.svg"].decode()
    assert "Before you cut" in svg and "Check bars" in svg
    del done


def test_the_record_keeps_to_its_schema_and_to_the_sheets() -> None:
    done, files = made()
    record = json.loads(files["cradle.json"])
    jsonschema.validate(record, schema(), cls=jsonschema.Draft202012Validator)
    jsonschema.Draft202012Validator.check_schema(schema())
    assert set(record["files"]) == set(files)
    for piece in record["pieces"]:
        shape = shapely.Polygon(piece["shape"])
        planned = next(p for p in done.plan.pieces if p.name == piece["name"])
        assert shape.symmetric_difference(planned.shape).area < 0.05
        for size in piece["sizes"]:
            assert size["because"] or size["rule"] in ("cradle-station", "cradle-block")


def test_the_same_cradle_gives_the_same_bytes() -> None:
    first = made()[1]
    made.cache_clear()
    assert made()[1] == first


def test_one_page_each_where_asked() -> None:
    done, files = made(one_page=True)
    pages = pdf_pages(files["cradle.pdf"])
    assert sum("Check bars" in p.text for p in pages) == len(done.plan.pieces)


def test_words_keep_clear_of_the_line_for_tracing() -> None:
    plan = made()[0].plan
    for piece in plan.pieces:
        layers = piece_layers(plan, piece, "Curlew", lambda mm: f"{mm:.1f}", Lines(trace=6.0))
        line = shapely.union_all([item_shape(i) for i in layers["trace"]])
        name = [t for t in layers["text"] if isinstance(t, Text) and t.bold]
        assert name and not any(text_box(t).intersects(line) for t in name), piece.name


@pytest.mark.parametrize("name", names())
def test_lettering_on_the_wood_keeps_off_the_line_that_is_cut(name: str) -> None:
    narrow = Made(width=220.0)  # its crosses stand close to the boards' ends
    solid, wishes = narrow.solid(), CradleWishes()
    berth = berth_from_room(solid.plan, Room(), tail=tail_room(solid, wishes))
    for plan in (made()[0].plan, plan_cradle(solid, berth, wishes)):
        piece = next(p for p in plan.pieces if p.name == name)
        _keeps_off(plan, piece)


def _keeps_off(plan: CradlePlan, piece: CradlePiece) -> None:
    layers = piece_layers(plan, piece, "Curlew", LABELS.show, Lines())
    (cut,) = layers["cut"]
    assert isinstance(cut, Line)
    line = shapely.LinearRing(np.array(cut.points))
    for item in (i for i in layers["text"] if isinstance(i, Text)):
        assert not text_box(item).intersects(line), item.text


def test_a_page_alone_tells_unit_foam_and_the_button() -> None:
    """Who has nothing but a piece's page reads what its numbers count in and count on, and sees
    what the slot is for."""
    done, _ = made()
    for piece in done.plan.pieces:
        card = card_of(done, piece, "Curlew", LABELS.show, Lines())
        words = " ".join(
            i.text for layer in card.layers for i in layer.items if isinstance(i, Text)
        )
        assert "All lengths on this piece are in mm" in words
        assert ("under the body" in words) == piece.upright
    tail = next(p for p in done.plan.pieces if p.key == "tail")
    shown = piece_layers(done.plan, tail, "Curlew", LABELS.show, Lines())["instrument"]
    d = Made().button[0]
    assert max(float(np.ptp(item_shape(i).bounds[::2])) for i in shown) == pytest.approx(d, abs=0.2)


def test_an_inch_rule_reads_the_blocks() -> None:
    """Marks along the side board's edge stand where the rule that is used has its own."""
    done, _ = made()
    block = next(p for p in done.plan.pieces if not p.upright)
    for labels, step in ((LABELS, 10.0), (replace(LABELS, unit="in"), 12.7)):
        layers = piece_layers(done.plan, block, "Curlew", labels.show, Lines())
        marks = [i.points[0][0] for i in layers["station"] if isinstance(i, Line)]
        assert np.diff(sorted(marks)) == pytest.approx(step)
        assert np.array(marks) / step == pytest.approx(np.rint(np.array(marks) / step))
        words = " ".join(i.text for i in layers["text"] if isinstance(i, Text))
        assert ("inches from the tail" in words) == (step > 12)


def test_layouts_for_machines_hold_every_piece() -> None:
    """Each cut line once, at full size, in the layouts' SVG and in their DXF."""
    done, files = made()
    shapes = {n: wanted(done, n) for n in names()}
    for suffix in ("svg", "dxf"):
        rings = []
        for name in (n for n in files if n.startswith("layout-") and n.endswith(suffix)):
            if suffix == "dxf":
                document = ezdxf.read(io.StringIO(files[name].decode()))
                cuts = document.modelspace().query('LWPOLYLINE[layer=="cut"]')
                rings += [np.array(c.get_points("xy")) for c in cuts]
            else:
                svg = svgelements.SVG.parse(io.BytesIO(files[name]), ppi=25.4)
                group = next(g for g in svg.elements() if getattr(g, "id", None) == "cut")
                cuts = group.select(lambda e: isinstance(e, svgelements.Shape))
                rings += [
                    np.array([(p.x, -p.y) for p in svgelements.Path(c).as_points()]) for c in cuts
                ]
        assert len(rings) == len(shapes)
        for name, shape in shapes.items():
            assert min(stray(ring, shape) for ring in rings) < TOLERANCE_MM, (suffix, name)
