"""Lens records: there and back, refusals in plain words, and which record a photo gets."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from profiler.errors import InputError, RequestError
from profiler.jobs import lens_search
from profiler.jobs.lens_search import find_lens, install_path, packaged_folder
from profiler.jobs.lenses import LensRecord, lens_text, mismatch, read_lens
from profiler.optics.lens import LENS_TERMS, Lens

LENS = Lens(4032, 3024, 3051.25, 2011.5, 1508.25, 1.0, 0.031, -0.07, 2e-4, -1e-4, 0.04)
U = np.array([1.5, 0.0, 0.8, 0.9, 0.002, 0.006, 3e-5, 3e-5, 0.005])
RECORD = LensRecord(
    make="Cedar",
    model="Lantern 3",
    f35=26.0,
    lens=LENS,
    u=U,
    rms_px=0.21,
    photos=9,
    points=801,
    coverage=0.85,
    corners=4,
    correlation=np.eye(9).round(1),
    verdict="good",
    name="my phone",
    target="mat of 6 sheets of A4",
    date="2026-11-25",
    program="profiler 0.1.0",
    sources=(("a.jpg", "00ff"), ("b.jpg", "11ee")),
    notes="for the tests",
)


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """No test may see the records of whoever runs it."""
    user = tmp_path / "user" / "lenses"
    monkeypatch.setattr(lens_search, "user_folder", lambda: user)
    return user


def put(path: Path, record: LensRecord) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(lens_text(record), encoding="utf-8")
    return path


def find(photo: Path, make: str = "Cedar", model: str = "Lantern 3", **other: Any) -> Any:
    settings = {"f35": 26.0, "width": 4032, "height": 3024} | other
    return find_lens(photo, make, model, **settings)


class TestFile:
    def test_reading_what_was_written_changes_nothing(self, tmp_path: Path) -> None:
        path = put(tmp_path / "lens.json", RECORD)
        again = read_lens(path)
        assert lens_text(again) == lens_text(RECORD)
        assert again.lens == LENS
        assert again.u == pytest.approx(U)
        assert again.sources == RECORD.sources

    def test_it_explains_itself(self) -> None:
        data = json.loads(lens_text(RECORD))
        assert data["format"] == "profiler lens"
        assert data["version"] == 1
        assert list(data["terms"]) == list(LENS_TERMS)
        # every block of numbers is explained
        assert {"phone", "photo", "terms", "u", "correlation", "rms_px", "coverage", "made"} <= set(
            data["keys"]
        )

    @pytest.mark.parametrize(
        "change,told",
        [
            ({"format": "something"}, "not a lens record"),
            ({"version": 7}, "version 7"),
            ({"terms": {"f": 3000}}, "lacks 'aspect'"),
            ({"u": "much"}, "holds something"),
            ({"photo": {"width": 4032}}, "lacks 'height'"),
            ({"terms": dict(zip(LENS_TERMS, LENS.vector * 0, strict=True))}, "focal length of 0"),
            ({"terms": dict(zip(LENS_TERMS, [3e3, 1, 9e9, 1, 0, 0, 0, 0, 0], strict=True))},
             "principal point outside"),
            ({"terms": dict(zip(LENS_TERMS, [3e3, 1, 9, 1, float("nan"), 0, 0, 0, 0],
                                strict=True))}, "not a number"),
            ({"u": dict(zip(LENS_TERMS, -U - 1, strict=True))}, "uncertainty that is negative"),
        ],
    )  # fmt: skip
    def test_a_broken_record_is_refused_by_name(
        self, tmp_path: Path, change: dict[str, Any], told: str
    ) -> None:
        path = tmp_path / "lens.json"
        path.write_text(json.dumps(json.loads(lens_text(RECORD)) | change), encoding="utf-8")
        with pytest.raises(InputError) as caught:
            read_lens(path)
        assert told in str(caught.value)
        assert str(path) in str(caught.value)
        assert "profiler calibrate" in str(caught.value)

    @pytest.mark.parametrize("text", ["", "{", "[]", "null", "\x00"])
    def test_something_else_is_refused(self, tmp_path: Path, text: str) -> None:
        path = tmp_path / "lens.json"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(InputError, match="not a lens record"):
            read_lens(path)

    def test_a_missing_file_is_named(self, tmp_path: Path) -> None:
        with pytest.raises(InputError, match=r"gone\.json cannot be read"):
            read_lens(tmp_path / "gone.json")


class TestBelief:
    def test_it_is_wider_than_the_record_and_never_certain(self) -> None:
        prior = RECORD.prior(4032, 3024)
        assert prior.lens == LENS
        solved = U > 0
        assert (prior.sigma[solved] > 2 * U[solved]).all()
        # focus moves f by half a percent, whatever the record says
        assert prior.sigma[0] >= 0.005 * LENS.f
        # a held term stays held
        assert (prior.sigma[~solved] == 0).all()

    def test_a_resized_photo_gets_the_same_lens(self) -> None:
        whole, half = RECORD.prior(4032, 3024), RECORD.prior(2016, 1512)
        assert half.lens.f == pytest.approx(whole.lens.f / 2)
        for term, by in (("f", 2), ("cx", 2), ("cy", 2), ("k1", 1), ("k3", 1)):
            at = LENS_TERMS.index(term)
            assert half.sigma[at] == pytest.approx(whole.sigma[at] / by)

    def test_reading_leaves_the_record_as_it_was(self) -> None:
        before = RECORD.u.copy()
        RECORD.prior(2016, 1512)
        assert (RECORD.u == before).all()


class TestMatch:
    def test_spelling_of_the_phone_does_not_matter(self) -> None:
        assert mismatch(RECORD, "CEDAR ", "lantern  3", 26.0, 4032, 3024) == ""

    @pytest.mark.parametrize(
        "photo,why",
        [
            (("Cedar", "Lantern 4", 26.0, 4032, 3024), "Lantern 4"),
            (("Cedar", "Lantern 3", 13.0, 4032, 3024), "13 mm"),
            (("Cedar", "Lantern 3", 26.0, 4032, 2268), "another shape"),
            (("Cedar", "Lantern 3", 26.0, 3024, 4032), "another shape"),
        ],
    )
    def test_another_camera_does_not_fit(self, photo: Any, why: str) -> None:
        assert why in mismatch(RECORD, *photo)

    def test_the_same_shape_in_another_size_fits(self) -> None:
        assert mismatch(RECORD, "Cedar", "Lantern 3", None, 2000, 1500) == ""
        assert mismatch(RECORD, "Cedar", "Lantern 3", None, 8064, 6048) == ""

    def test_what_a_photo_does_not_say_fits(self) -> None:
        assert mismatch(RECORD, "", "", None, 4032, 3024) == ""


class TestSearch:
    def test_asked_for_beats_beside_beats_user(self, tmp_path: Path, own_folders: Path) -> None:
        photo = tmp_path / "job" / "top-1.jpg"
        photo.parent.mkdir()
        assert find(photo).record is None
        user = put(own_folders / "phone.json", replace(RECORD, name="user's"))
        assert find(photo).path == user
        beside = put(photo.parent / "lens.json", replace(RECORD, name="beside"))
        assert find(photo).path == beside
        asked = put(tmp_path / "mine.json", replace(RECORD, name="asked for"))
        assert find(photo, explicit=asked).record.name == "asked for"

    def test_one_asked_for_that_does_not_fit_is_an_error(self, tmp_path: Path) -> None:
        asked = put(tmp_path / "mine.json", RECORD)
        with pytest.raises(RequestError, match=r"does not fit a\.jpg"):
            find(tmp_path / "a.jpg", model="Other", explicit=asked)

    def test_one_beside_that_does_not_fit_is_passed_over_with_a_word(self, tmp_path: Path) -> None:
        put(tmp_path / "lens.json", RECORD)
        choice = find(tmp_path / "a.jpg", model="Other")
        assert choice.record is None
        assert "was not used" in choice.remarks[0]

    def test_a_photo_without_a_phone_only_gets_what_lies_beside_it(
        self, tmp_path: Path, own_folders: Path
    ) -> None:
        put(own_folders / "phone.json", RECORD)
        put(own_folders / "nameless.json", replace(RECORD, make="", model=""))
        assert find(tmp_path / "a.jpg", make="", model="").record is None
        put(tmp_path / "lens.json", RECORD)
        assert find(tmp_path / "a.jpg", make="", model="").record is not None

    def test_a_nameless_record_is_for_no_phone(self, tmp_path: Path, own_folders: Path) -> None:
        put(own_folders / "nameless.json", replace(RECORD, make="", model=""))
        assert find(tmp_path / "a.jpg").record is None

    def test_the_newest_of_the_same_size_is_taken(self, tmp_path: Path, own_folders: Path) -> None:
        put(own_folders / "a.json", replace(RECORD, date="2026-01-01"))
        new = put(own_folders / "b.json", replace(RECORD, date="2026-06-01"))
        put(
            own_folders / "c.json", replace(RECORD, lens=LENS.scaled(8064, 6048), date="2026-09-01")
        )
        assert find(tmp_path / "a.jpg").path == new

    def test_a_broken_record_in_the_user_folder_does_not_stop_the_others(
        self, tmp_path: Path, own_folders: Path
    ) -> None:
        good = put(own_folders / "good.json", RECORD)
        (own_folders / "bad.json").write_text("{", encoding="utf-8")
        choice = find(tmp_path / "a.jpg")
        assert choice.path == good
        assert "bad.json" in choice.remarks[0]

    def test_installed_records_are_found(self, tmp_path: Path) -> None:
        put(install_path(RECORD), RECORD)
        assert install_path(RECORD).name == "cedar-lantern-3-26mm-4032x3024.json"
        assert find(tmp_path / "a.jpg").record is not None


class TestPackaged:
    """What comes with the program; .ci checks the same from an installed wheel."""

    def test_every_record_reads_and_tells_where_it_came_from(self) -> None:
        folder = packaged_folder()
        assert folder is not None
        paths = sorted(folder.glob("*.json"))
        assert paths
        for path in paths:
            record = read_lens(path)
            assert record.name, path
            assert record.target, path
            assert record.notes, path
            assert record.sources, path
            assert record.rms_px < 1.0, path

    def test_records_of_phones_are_found_by_their_photos(self, tmp_path: Path) -> None:
        folder = packaged_folder()
        assert folder is not None
        named = [r for r in map(read_lens, sorted(folder.glob("*.json"))) if r.model]
        for record in named:
            size = {"width": record.lens.width, "height": record.lens.height}
            choice = find(
                tmp_path / "a.jpg", make=record.make, model=record.model, f35=record.f35, **size
            )
            assert choice.record is not None
            assert choice.record.model == record.model

    def test_the_folder_explains_the_format(self) -> None:
        folder = packaged_folder()
        assert folder is not None
        text = (folder / "README.md").read_text(encoding="utf-8")
        for key in json.loads(lens_text(RECORD)):
            assert f"`{key}`" in text, key
