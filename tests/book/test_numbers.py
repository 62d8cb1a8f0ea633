"""Written readings, read exactly."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from levelbook.book import parse_value
from levelbook.book.numbers import counted, shortest

signs = st.sampled_from(["", "+", "-", "−"])
digits = st.text("0123456789", min_size=1, max_size=9)


def signed(sign: str, size: Fraction) -> Fraction:
    """Return a size with its written sign."""
    return -size if sign in ("-", "−") else size


@given(signs, digits, digits)
def test_decimals(sign: str, whole: str, part: str) -> None:
    """A decimal is its digits over a power of ten."""
    expected = Fraction(int(whole + part), 10 ** len(part))
    assert parse_value(f"{sign}{whole}.{part}") == signed(sign, expected)
    assert parse_value(f"{sign}.{part}") == signed(sign, Fraction(int(part), 10 ** len(part)))
    assert parse_value(f" {sign}{whole}. ") == signed(sign, Fraction(int(whole)))


@given(signs, st.integers(0, 999_999), st.integers(0, 999_999), st.integers(1, 999_999))
def test_fractions(sign: str, whole: int, top: int, bottom: int) -> None:
    """A mixed number is its whole and its fraction, the sign standing for both."""
    assert parse_value(f"{sign}{top}/{bottom}") == signed(sign, Fraction(top, bottom))
    proper = Fraction(top % bottom, bottom)
    mixed = f"{sign}{whole} {top % bottom}/{bottom}"
    assert parse_value(mixed) == signed(sign, whole + proper)


@pytest.mark.parametrize(
    ("text", "value"),
    [("-0.60", "-3/5"), ("-5/8", "-5/8"), ("-1 3/8", "-11/8"), ("+ 2", "2"), ("11/8", "11/8")],
)
def test_as_people_write(text: str, value: str) -> None:
    """The forms named in the format."""
    assert parse_value(text) == Fraction(value)


@pytest.mark.parametrize(
    "text",
    ["", " ", "-", ".", "1e3", "1,5", "0x1", "1/0", "1 1", "1 2/1", "½", "٣", "--1", "1/-2", "nan",
     "inf", "1 /2", "1_0", "9" * 16, "1/" + "1" * 7],
)  # fmt: skip
def test_what_is_no_reading(text: str) -> None:
    """Anything else is refused with the text in the message."""
    with pytest.raises(ValueError, match="is not a number as readings are written"):
        parse_value(text)


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_refused(text: str) -> None:
    """No text brings anything but a fraction or a ValueError."""
    try:
        assert isinstance(parse_value(text), Fraction)
    except ValueError:
        return


@given(
    st.floats(-1e6, 1e6).filter(lambda x: x == 0 or abs(x) > 1e-12) | st.integers(-(10**6), 10**6)
)
def test_shortest_decimal_is_the_number(number: float) -> None:
    """The decimal reads back as the same number, without exponent, point zero or minus zero."""
    text = shortest(number)
    assert float(parse_value(text)) == number
    assert "e" not in text.lower()
    assert not text.endswith((".", ".0"))
    assert text != "-0"


@pytest.mark.parametrize(
    ("number", "text"),
    [(5, "5"), (5.0, "5"), (0.5, "0.5"), (1e-3, "0.001"), (-0.0, "0"), (1e5, "100000")],
)
def test_shortest_decimals(number: float, text: str) -> None:
    """Whole numbers have no point, small ones no exponent."""
    assert shortest(number) == text
    assert math.copysign(1, float(text)) == 1


@pytest.mark.parametrize(
    ("number", "words", "told"),
    [
        (0, ("visit",), "0 visits"),
        (1, ("visit",), "1 visit"),
        (2, ("visit",), "2 visits"),
        (1, ("entry", "entries"), "1 entry"),
        (1200, ("entry", "entries"), "1,200 entries"),
    ],
)
def test_things_counted(number: int, words: tuple[str, ...], told: str) -> None:
    """One thing is told as one; a plural of its own is used where there is one."""
    assert counted(number, *words) == told
