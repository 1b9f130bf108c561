"""`profiler section` and `profiler headstock` as a person calls them."""

from __future__ import annotations

import json
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
import svgelements
from typer.testing import CliRunner

from profiler.cli.main import app
from profiler.jobs.results import (
    JobNotes,
    headstock_from_record,
    measurement_record,
    record_bytes,
    sections_from_record,
)
from tests.drawing.reading import pdf_pages
from tests.made_up import made_up
from tests.painted_necks import gauge, photographed, profile

runner = CliRunner()


def call(*arguments: object) -> tuple[int, str]:
    done = runner.invoke(app, [str(a) for a in arguments])
    return done.exit_code, done.output


@pytest.fixture
def job(tmp_path: Path) -> Path:
    made = made_up()
    folder = tmp_path / "job"
    folder.mkdir()
    record = measurement_record(made.measurement, made.scene, [made.photo], JobNotes("Wren", "Ada"))
    (folder / "measurement.json").write_bytes(record_bytes(record))
    return folder


def sections(job: Path) -> dict[str, float]:
    record = json.loads((job / "measurement.json").read_text())
    return {s.name: s.x for s in sections_from_record(record)}


def test_shapes_between_and_list(job: Path) -> None:
    assert "no sections yet" in call("section", job)[1]
    code, said = call("section", job, "--at", "330mm", "--shape", "soft-v", "--depth", "22±0.3")
    assert code == 0 and "22.0 ± 0.3 mm" in said and "[610]" in said, said
    assert (
        call("section", job, "--at", "2in", "--from", "nut", "--shape", "D", "--depth", "3/4in")[0]
        == 0
    )
    code, said = call("section", job, "--at", "400", "--name", "middle")
    assert code == 0, said
    found = sections(job)
    assert found["middle"] == 400.0 and len(found) == 3
    listed = call("section", job)[1]
    assert "between: neck at 330 mm and neck at" in listed
    assert call("section", job, "--remove", "middle")[0] == 0
    assert "middle" not in sections(job)


def test_a_photo_of_another_session(job: Path, tmp_path: Path) -> None:
    other = tmp_path / "later"
    other.mkdir()
    photo = photographed(gauge(profile(half=20.0), (395, 245), 13), other)
    arguments = ("section", job, "--at", "400", "--gauge", photo, "--needle-height", "6±1")
    code, said = call(*arguments, "--depth", "20")
    assert code == 0, said
    assert "100 needles" in said
    code, said = call(*arguments, "--depth", "9")
    assert code == 6 and "--force" in said  # the name is taken: told before the work
    code, said = call(*arguments, "--depth", "9", "--force")
    assert code == 2 and "cannot be only 9.0 mm" in said
    record = json.loads((job / "measurement.json").read_text())
    (section,) = sections_from_record(record)
    assert section.depth.value == 20.0 and section.detail == "photo.png"


def _svg_curve(path: Path) -> np.ndarray:
    svg = svgelements.SVG.parse(str(path), ppi=25.4)
    group = next(g for g in svg.elements() if getattr(g, "id", None) == "section")
    shapes = group.select(lambda e: isinstance(e, svgelements.Shape))
    rings = [np.array([(p.x, -p.y) for p in svgelements.Path(s).as_points()]) for s in shapes]
    return max(rings, key=len)


def _pdf_curve(path: Path) -> np.ndarray:
    (page,) = pdf_pages(path.read_bytes())
    return max((p.points for p in page.paths if p.stroked), key=len)


def test_the_sheet_is_at_full_size(job: Path) -> None:
    assert (
        call("section", job, "--at", "400", "--shape", "D", "--depth", "22", "--name", "A 1")[0]
        == 0
    )
    code, said = call("section", job, "--sheet", "A 1")
    assert code == 0, said
    assert {p.suffix for p in job.glob("section-a-1.*")} == {".pdf", ".svg", ".dxf"}
    drawing = ezdxf.readfile(job / "section-a-1.dxf")
    curve = max(
        (
            np.array([p[:2] for p in e.get_points()])
            for e in drawing.modelspace().query("LWPOLYLINE[layer=='section']")
        ),
        key=len,
    )
    record = json.loads((job / "measurement.json").read_text())
    points = sections_from_record(record)[0].points
    assert np.ptp(curve[:, 1]) == pytest.approx(np.ptp(points[:, 1]), abs=0.02)
    assert np.ptp(curve[:, 0]) == pytest.approx(np.ptp(points[:, 0]), abs=0.02)
    true = shapely.LineString(points - points.min(axis=0))
    for read in (curve, _svg_curve(job / "section-a-1.svg"), _pdf_curve(job / "section-a-1.pdf")):
        found = shapely.LineString(read - read.min(axis=0))
        assert shapely.hausdorff_distance(found, true, densify=0.05) < 0.02
    code, said = call("section", job, "--sheet", "A 1")
    assert code == 6 and "--force" in said


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        (("--at", "100mm", "--shape", "D", "--depth", "20"), 2, "there is no neck"),
        (("--at", "nowhere", "--shape", "D", "--depth", "20"), 2, "neither a length nor a station"),
        (("--at", "400", "--shape", "D"), 2, "--depth"),
        (("--at", "400", "--shape", "square", "--depth", "20"), 2, "No neck shape"),
        (("--at", "400", "--shape", "D", "--depth", "20in"), 2, "Is the unit right"),
        (("--at", "400", "--shape", "D", "--depth", "20", "--width", "3"), 2, "width"),
        (("--at", "400"), 2, "nothing can be put between"),
        (("--shape", "D", "--depth", "20"), 2, "--at"),
        (("--at", "400", "--shape", "D", "--gauge", "x.jpg"), 2, "do not go together"),
        (("--at", "400", "--gauge", "no-such.jpg", "--depth", "20"), 3, "no-such.jpg"),
        (("--at", "400", "--gauge", "x.jpg", "--seen-from", "side"), 2, "tail or head"),
        (("--sheet", "x"), 2, "no section called"),
        (("--at", "4,000"), 2, "two ways"),
    ],
)  # fmt: skip
def test_what_cannot_be_says_why(
    job: Path, arguments: tuple[str, ...], code: int, word: str
) -> None:
    before = (job / "measurement.json").read_bytes()
    got, said = call("section", job, *arguments)
    assert got == code and word in " ".join(said.split()), said
    assert (job / "measurement.json").read_bytes() == before


def test_headstock(job: Path) -> None:
    code, said = call("headstock", job, "--thickness", "12.5±0.3")
    assert code == 0 and "not known: no card lay on the headstock" in said, said
    code, said = call("headstock", job, "--tilt", "14±1", "--lowest", "9mm")
    assert code == 6
    assert "Edges rounded to" in call("headstock", job, "--edge", "0", "--force")[1]
    code, said = call(
        "headstock", job, "--tilt", "14±1", "--thickness", "1/2in", "--lowest", "9mm",
        "--edge", "1.5±0.3mm", "--force",
    )  # fmt: skip
    assert code == 0 and "14.0 ± 1.0°" in said and "1.5 ± 0.3 mm" in said, said
    head = headstock_from_record(json.loads((job / "measurement.json").read_text()))
    assert head is not None and head.thickness.value == pytest.approx(12.7)
    assert head.lowest.value == 9.0 and not head.lowest_wood
    for wrong in (
        ("--tilt", "steep"),
        ("--tilt", "80"),
        ("--thickness", "2in 4"),
        ("--thickness", "200mm"),
        ("--edge", "20mm"),
        ("--edge", "-1mm"),
    ):
        assert call("headstock", job, *wrong, "--force")[0] == 2
