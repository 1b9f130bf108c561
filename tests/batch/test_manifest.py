"""The list of a batch: read strictly, with a sentence and a line for everything that is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiler.errors import RequestError
from profiler.jobs.manifest import ManifestError, Order, plan, read_manifest


def read(tmp_path: Path, text: str) -> list[Order]:
    (tmp_path / "jobs.csv").write_bytes(text.encode())
    return read_manifest(tmp_path, tmp_path / "out")


def test_a_row_becomes_an_order(tmp_path: Path) -> None:
    text = (
        "\ufeffJob,Photos,Name,Customer,Heights,bar_x,accept crop\r\n"
        '"wren 1",a/top.jpg; b.jpg,"Wren, the second","Ada ""A."" Marsh",body=72±0.5; top=3 1/4in,'
        "179.5mm,yes\r\n\r\n"
    )
    (order,) = read(tmp_path, text)
    assert order.job == "wren 1" and order.name == "Wren, the second"
    assert order.customer == 'Ada "A." Marsh'
    assert order.photos == (str(tmp_path / "a/top.jpg"), str(tmp_path / "b.jpg"))
    assert order.heights["body"] == (72.0, 0.5)
    assert order.heights["top"][0] == pytest.approx(3.25 * 25.4)  # an inch is 25.4 mm
    assert order.bars == (179.5, None) and order.accept_crop
    assert order.folder == tmp_path / "out" / "wren 1"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no column 'job'"),
        ("job,photo\na,b\n", "no column 'photos'"),
        ("job,photos,colour\na,b,c\n", "no column is called 'colour'"),
        ("job,photos\n", "no rows"),
        ("job,photos\na,b,c\n", "line 2: 3 cells"),
        ("job,photos\na,\n", "line 2: names no photo"),
        ("job,photos\n../a,b\n", "line 2: '../a' is no name"),
        ("job,photos\n.hidden,b\n", "is no name"),
        ("job,photos\nC:\\x,b\n", "is no name"),
        ("job,photos\na,b\nA,c\n", "line 3: the job 'A' stands in line 2"),
        ("job,photos,heights\na,b,body\n", "line 2"),
        ("job,photos,heights\na,b,body=7; body=8\n", "twice"),
        ("job,photos,accept_crop\na,b,maybe\n", "yes or no"),
        ('job,photos\n"a,b\n', "cannot be read as CSV"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(ManifestError) as caught:
        read(tmp_path, text)
    assert said in str(caught.value)


def test_a_spreadsheet_with_semicolons_and_one_in_another_encoding(tmp_path: Path) -> None:
    (order,) = read(tmp_path, "job;photos;name\na;b.jpg;Wren\n")
    assert (order.job, order.name) == ("a", "Wren")
    (tmp_path / "jobs.csv").write_bytes("job,photos,name\na,b,Ängström\n".encode("latin-1"))
    with pytest.raises(ManifestError, match="UTF-8"):
        read_manifest(tmp_path, tmp_path)


def test_a_plan_can_be_read_as_it_is(tmp_path: Path) -> None:
    for name in ("b.jpg", "one/top.HEIC", "one/top.jpg", "one/notes.txt", "../x.jpg"):
        path = tmp_path / "photos" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    text = plan(tmp_path / "photos")
    (tmp_path / "photos/jobs.csv").write_text(text)
    orders = read_manifest(tmp_path / "photos", tmp_path / "out")
    assert [o.job for o in orders] == ["b", "one-top", "one-top-2"]
    (tmp_path / "empty").mkdir()
    with pytest.raises(RequestError, match="no photo"):
        plan(tmp_path / "empty")


def test_the_key_follows_the_content_and_the_settings(tmp_path: Path) -> None:
    (tmp_path / "b.jpg").write_bytes(b"one")
    text = "job,photos,name\na,b.jpg,Wren\n"
    (order,) = read(tmp_path, text)
    key = order.key()
    assert key == read(tmp_path, text)[0].key()
    assert key != read(tmp_path, text.replace("Wren", "Dunlin"))[0].key()
    (tmp_path / "b.jpg").write_bytes(b"two")
    assert key != order.key()
