"""Lengths at the edge: spellings that mean the same, spellings that mean nothing, round trips."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiler.errors import RequestError
from profiler.units import PARTS, format_inches, format_mm, parse_height_option, parse_length

# 1 in = 25.4 mm exactly: international yard and pound agreement of 1959.
PAIRS = [
    ("25 1/2in", "647.7mm"),
    ('25-1/2"', "647.7 mm"),
    ('25 - 1/2 "', "647.7"),
    ("25½in", "647.7"),
    ("25 ½ ″", "64.77cm"),
    ("25,5 in", "0.6477 m"),
    ('9"', "228.6mm"),
    ("9''", "228.6mm"),
    ("9”", "22.86 cm"),
    ("9 inches", "228.6 millimetres"),
    ("230mm", "23 cm"),
    ("230 MM", "0,23 m"),
    ("1e-1m", "100"),
    ("1E2mm", "100"),
    ("2ft 3 1/2in", '27 1/2"'),
    ("2' 3\"", "27in"),
    ("2′3″", "27 in."),
    ("2'-3\"", "685.8"),
    ("2 feet 3 inches", "685.8"),
    ("2 1/2ft", "30in"),
    ("3/8in", "9.525mm"),
    ("⅜ in", "9.525"),
    ("3⁄8 in", "9.525"),
    (".5in", "12.7"),
    ("0,125in", "3.175"),
    ("+12", "12mm"),
    ("\u00a012\u202fmm ", "12"),
    ("0", "0in"),
]


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_spellings_that_mean_the_same(one: str, other: str) -> None:
    assert parse_length(one) == pytest.approx(parse_length(other), rel=1e-12, abs=1e-12)


def test_known_values() -> None:
    assert parse_length("25 1/2in") == pytest.approx(647.7, rel=1e-12)
    assert parse_length("2' 3\"") == pytest.approx(685.8, rel=1e-12)
    assert parse_length("72", default_unit="in") == pytest.approx(1828.8)
    assert parse_length("-3", allow_negative=True) == -3.0
    assert parse_length("−3 mm", allow_negative=True) == -3.0


NONSENSE = [
    "",
    " ",
    "25..5",
    "nan",
    "inf",
    "-inf",
    "NaN mm",
    "1e999",
    "1e9m",
    "mm",
    "12 parsecs",
    "12 mm mm",
    "1/0in",
    "1/2/3 in",
    "3 cm 2 in",
    "2in 3ft",
    "12px",
    "--3",
    "1 2",
    "1 2 mm",
    "1.5 1/2in",
    "0x10",
    "1_000",
    "٣٣x",
    "½½in",
    "5.",
    "e3",
    "2' 3",
]


@pytest.mark.parametrize("text", NONSENSE)
def test_nonsense_is_refused_by_name(text: str) -> None:
    with pytest.raises(RequestError) as caught:
        parse_length(text)
    assert f"'{text}'" in str(caught.value)


def test_a_refusal_shows_good_spellings_that_are_good() -> None:
    with pytest.raises(RequestError) as caught:
        parse_length("25..5")
    shown = str(caught.value).split("Good spellings: ")[1].rstrip(".").split(", ")
    assert len(shown) >= 4
    for spelling in shown:
        assert parse_length(spelling) > 0


@pytest.mark.parametrize("text", ["-3", "- 3 mm", "−3mm", "-1/2in"])
def test_below_zero_is_refused_where_it_makes_no_sense(text: str) -> None:
    with pytest.raises(RequestError, match="below zero"):
        parse_length(text)


@pytest.mark.parametrize("text", ["1,234", "1,234 mm", "12,500in"])
def test_a_comma_that_can_mean_two_things_is_refused(text: str) -> None:
    with pytest.raises(RequestError, match="two ways"):
        parse_length(text)


@pytest.mark.parametrize(
    ("mm", "denominator", "text"),
    [
        (258.7625, 64, "10 3/16 in"),
        (25.4, 64, "1 in"),
        (0.0, 64, "0 in"),
        (9.525, 64, "3/8 in"),
        (25.39, 16, "1 in"),
        (-9.525, 32, "-3/8 in"),
        (-0.01, 64, "0 in"),
        (25.4 + 25.4 / 64, 64, "1 1/64 in"),
        (25.4 / 3, 3, "1/3 in"),
    ],
)
def test_inches(mm: float, denominator: int, text: str) -> None:
    assert format_inches(mm, denominator) == text


def test_millimetres() -> None:
    assert format_mm(618.24) == "618.2 mm"
    assert format_mm(-0.01) == "0.0 mm"
    assert format_mm(3, 0) == "3 mm"


def test_a_denominator_below_one_is_refused() -> None:
    with pytest.raises(RequestError):
        format_inches(10.0, 0)


lengths = st.floats(0, 5000, allow_nan=False)


@given(lengths, st.sampled_from([1, 2, 4, 8, 16, 32, 64, 128]))
def test_inches_read_back_to_half_a_step(mm: float, denominator: int) -> None:
    back = parse_length(format_inches(mm, denominator))
    assert abs(back - mm) <= 25.4 / denominator / 2 + 1e-9


@given(lengths, st.integers(0, 6))
def test_millimetres_read_back_to_half_a_digit(mm: float, digits: int) -> None:
    assert abs(parse_length(format_mm(mm, digits)) - mm) <= 0.5 * 10**-digits + 1e-9


@given(st.integers(0, 200), st.integers(1, 63), st.sampled_from([16, 32, 64]), st.booleans())
def test_mixed_fractions_are_exact(whole: int, top: int, bottom: int, dash: bool) -> None:
    text = f"{whole}{'-' if dash else ' '}{top}/{bottom}in"
    assert parse_length(text) == pytest.approx(float((whole + Fraction(top, bottom)) * 254) / 10)


@given(st.integers(0, 30), st.floats(0, 11.9))
def test_feet_and_inches_add_up(feet: int, inches: float) -> None:
    text = f"{feet}' {inches:.3f}\""
    assert parse_length(text) == pytest.approx((12 * feet + float(f"{inches:.3f}")) * 25.4)


@given(st.text(max_size=20))
def test_any_text_gives_a_sane_length_or_a_request_error(text: str) -> None:
    try:
        mm = parse_length(text)
    except RequestError as error:
        assert text in str(error)
    else:
        assert 0 <= mm <= 100_000


@pytest.mark.parametrize(
    ("text", "part", "mm", "u95"),
    [
        ("body=72", "body", 72.0, None),
        ("body=72±0.5", "body", 72.0, 0.5),
        ("Body = 72 +- 0,5", "body", 72.0, 0.5),
        ("body=72+/-0.5mm", "body", 72.0, 0.5),
        ("headstock=2 1/4in", "headstock", 57.15, None),
        ("top=3in±1/32", "top", 76.2, 25.4 / 32),
        ("top=3in±1mm", "top", 76.2, 1.0),
        ("neck=2' 3\"±1", "neck", 685.8, 25.4),
        ("button=0", "button", 0.0, None),
    ],
)
def test_heights(text: str, part: str, mm: float, u95: float | None) -> None:
    assert parse_height_option(text) == (part, pytest.approx(mm), u95 and pytest.approx(u95))


@pytest.mark.parametrize(
    "text",
    ["body", "body=", "=72", "tail=72", "body=-3", "body=0", "body=72±", "body=72±0", "body=72±90"],
)
def test_heights_that_make_no_sense(text: str) -> None:
    with pytest.raises(RequestError):
        parse_height_option(text)


def test_an_unknown_part_shows_the_known_ones() -> None:
    with pytest.raises(RequestError) as caught:
        parse_height_option("tail=72")
    assert all(part in str(caught.value) for part in PARTS)


@pytest.mark.parametrize("text", ["1/" + "9" * 5000, "9" * 400 + "/1", "1 " + "9" * 5000 + "/3"])
def test_thousands_of_digits_are_refused_in_a_short_sentence(text: str) -> None:
    with pytest.raises(RequestError) as caught:
        parse_length(text)
    assert len(str(caught.value)) < 200
