"""Numbers as a report prints them."""

import pytest

from levelbook.book.model import Units
from levelbook.report.figures import Figures, number

INCH = Figures(Units(level="in", plan="ft"), 2)
METRIC = Figures(Units(level="mm", plan="m"), 1)


@pytest.mark.parametrize(
    ("value", "places", "signed", "told"),
    [
        (-0.85, 2, True, "−0.85"),
        (0.45, 2, True, "+0.45"),
        (0.45, 2, False, "0.45"),
        (-0.001, 2, True, "0.00"),
        (0.0, 1, True, "0.0"),
        (-12.0, 0, False, "−12"),
    ],
)
def test_number(value: float, places: int, signed: bool, told: str) -> None:
    """Signs are true minus signs, and a value that rounds to zero has none."""
    assert number(value, places, signed=signed) == told


def test_a_correction_is_shown_as_it_is_taken_off() -> None:
    """A height of +0.45 taken off a reading is printed as −0.45; one not known as a dash."""
    assert INCH.level(0.45, minus=True) == "−0.45"
    assert INCH.level(None) == "–"


def test_a_small_sd_is_not_rounded_to_nothing() -> None:
    """A standard deviation is printed as 0.00 only where it is exactly zero."""
    assert INCH.sd(0.0) == "0.00"
    assert INCH.sd(0.004) == "0.004"
    assert INCH.sd(0.058) == "0.06"


@pytest.mark.parametrize(
    ("told", "value", "sd", "unit"),
    [
        (INCH.height(-0.852, 0.1, signed=True), -0.852, 0.1, "in"),
        (METRIC.height(12.4, 1.0), 12.4, 1.0, "mm"),
        (INCH.slope(1 / 240, 1 / 2400), 1.0, 0.1, "in per 20 ft"),
        (METRIC.slope(-0.005, 0.0005), 5.0, 0.5, "mm per m"),
    ],
)
def test_plus_minus_holds_the_whole_interval(told: str, value: float, sd: float, unit: str) -> None:
    """± is at least 1.96 standard deviations beside the value, and the unit is named."""
    shown, half = told.removesuffix(f" {unit}").replace("−", "-").split(" ± ")
    assert told.endswith(f" {unit}")
    assert "-" not in told
    assert float(shown) - float(half) <= value - 1.96 * sd
    assert float(shown) + float(half) >= value + 1.96 * sd
    assert float(half) < 5 * sd


def test_other_wordings_of_a_slope() -> None:
    """A slope in percent, and as one in N with the N of its interval."""
    # by hand: 1.96 · 0.0002 = 0.039 %; 360 / 2.96 = 121.6 with two figures, rounded outward
    assert INCH.percent(-0.0042, 0.0002) == "0.42 ± 0.04 %"
    assert INCH.one_in(1 / 360, 0.0) == "1 in 360 (360 to 360)"
    assert INCH.one_in(-1 / 360, 1 / 360) == "flatter than 1 in 120"
    assert INCH.one_in(0.0, 0.0) == "flatter than 1 in 100,000"


def test_places_and_lengths_carry_their_unit() -> None:
    """A place or length is never printed without its unit."""
    assert INCH.place((19.0, -0.5)) == "19.0,\u00a0−0.5\u00a0ft"
    assert METRIC.length(3.04) == "3.0 m"
