"""Numbers as people type them: exact, or not taken."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from levelbook.book.numbers import parse_value
from levelbook.exchange.cells import Typed, Unclear, convert, read_cell, written

READ = [
    ("0.5", "0.5", None, None),
    (" 0.50 ", " 0.50 ", None, None),
    ("−0.60", "−0.60", None, None),
    ("–0,6", "-0.6", None, None),
    ("1,234.50", "1234.50", None, None),
    ("1.234,50", "1234.50", None, None),
    ("1.234.567", "1234567", None, None),
    ("0,123", "0.123", None, None),
    ("1 3/8", "1 3/8", None, None),
    ('-1-3/8"', "-1 3/8", "in", None),
    ("½", "1/2", None, None),
    ("-2⅝ in.", "-2 5/8", "in", None),
    ("2' 3 1/2\"", "27 1/2", "in", None),
    ("-2 ft 3.50 in", "-27.50", "in", None),
    ("3 ft", "3", "ft", None),
    ("1.2cm", "1.2", "cm", None),
    ("12 mm tile", "12", "mm", "tile"),
    ("0.5 (room 2)", "0.5", None, "(room 2)"),
    ("0.5 - by the door", "0.5", None, "- by the door"),
    ("+ 1/4", "+ 1/4", None, None),
    ("1e-3", "0.001", None, None),
    (".5", ".5", None, None),
]


@pytest.mark.parametrize(("cell", "text", "unit", "note"), READ)
def test_is_read(cell: str, text: str, unit: str | None, note: str | None) -> None:
    """A number with its unit and remark; what the record can hold stays letter for letter."""
    found = read_cell(cell)
    assert isinstance(found, Typed)
    assert (found.text, found.unit, found.note) == (text, unit, note)
    assert parse_value(found.text) == found.value


@pytest.mark.parametrize(
    "cell",
    ["", "n/a", "0.5-", "5%", "0.5/0.6", "0.5 0.6", "5 8", "1/0", "2 4/3", "--1", "0.5.2", "1,2,3",
     "O.5", "0.2S", "1O", "0.5l", "~0.5", "3-8", "0.5 x 2", "10-32", "1;5", "0.5=", "tile",
     "1'2'3", "9" * 40, "=1+1", "true", "2026-01-02", "0x10", "nan", "inf", "1e100"],
)  # fmt: skip
def test_is_no_number(cell: str) -> None:
    """What is no single number is none, and says so."""
    found = read_cell(cell)
    assert isinstance(found, Unclear)
    assert found.asks is None
    assert found.why


@pytest.mark.parametrize(
    ("cell", "asks"), [("1,234", "decimal"), ("12,500", "decimal"), ("(0.5)", "round")]
)
def test_waits_for_an_answer(cell: str, asks: str) -> None:
    """What can be read in two ways names the question."""
    found = read_cell(cell)
    assert isinstance(found, Unclear)
    assert found.asks == asks


def test_answers_decide() -> None:
    """The same cell by either answer."""
    comma, point = read_cell("1,250", "comma"), read_cell("1,250", "point")
    assert isinstance(comma, Typed)
    assert isinstance(point, Typed)
    assert (comma.value, point.value) == (Fraction(5, 4), 1250)
    minus = read_cell("(0.5)", round_="minus")
    assert isinstance(minus, Typed)
    assert minus.value == Fraction(-1, 2)


decimals = st.decimals(-9999, 9999, places=3).map(str)
mixed = st.tuples(st.integers(0, 99), st.integers(1, 15)).map(lambda t: f"-{t[0]} {t[1]}/16")


@given(decimals | mixed)
def test_written_readings_stay_as_they_are(cell: str) -> None:
    """Whatever the record takes, a cell keeps letter for letter."""
    found = read_cell(cell)
    assert isinstance(found, Typed)
    assert found.text == cell
    assert found.value == parse_value(cell)


@given(st.decimals(-99, 99, places=2).filter(lambda d: abs(d) >= 1 or d == 0).map(str))
def test_comma_and_point_say_the_same(cell: str) -> None:
    """With two decimals there is no doubt what a comma is."""
    point, comma = read_cell(cell), read_cell(cell.replace(".", ","))
    assert isinstance(point, Typed)
    assert isinstance(comma, Typed)
    assert point.value == comma.value


@given(
    st.text(max_size=12) | st.from_regex(r"[-+−]?[0-9]{0,3}[.,/ '\"a-z0-9()]{0,8}", fullmatch=True)
)
def test_any_cell_is_read_or_told(cell: str) -> None:
    """Any text is a number that the record takes, or is none; nothing breaks."""
    found = read_cell(cell)
    if isinstance(found, Typed):
        assert abs(parse_value(found.text) - found.value) <= Fraction(1, 10**12)
    else:
        assert found.why


@given(st.fractions(-999, 999, max_denominator=64), st.sampled_from(["in", "ft"]))
def test_units_convert_exactly(value: Fraction, unit: str) -> None:
    """Inches and feet to millimetres and back lose nothing, and are written exactly."""
    there = convert(value, unit, "mm")  # type: ignore[arg-type]
    assert convert(there, "mm", unit) == value  # type: ignore[arg-type]
    assert parse_value(written(value)) == value
