"""Numbers as a reader sees them: rounding, give-or-take, directions."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from levelbook.findings.display import (
    COMPASS,
    SHEET,
    STEPS,
    direction_known,
    finding_text,
    length_text,
    one_in,
    one_in_interval,
    rounded_up,
    slope_text,
    slope_unit,
    stepped,
    toward,
)
from levelbook.findings.judge import Z95
from levelbook.findings.model import Finding

ROUNDED = [
    (1.234, "0.01", "1.23"),
    (0.999, "0.01", "1.00"),
    (-0.001, "0.01", "0.00"),
    (-0.85, "0.01", "-0.85"),
    (12.6, "1", "13"),
    (126.0, "10", "130"),
    (1.26, "0.1", "1.3"),
]


@pytest.mark.parametrize(("value", "step", "text"), ROUNDED)
def test_rounding_to_a_step(value: float, step: str, text: str) -> None:
    """Values stand to the step's decimals, without a minus before nothing."""
    assert stepped(value, step) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0.01"), (0.01, "0.01"), (0.011, "0.02"), (0.12, "0.12")]
)
def test_a_give_or_take_is_rounded_up(value: float, text: str) -> None:
    """It is never less than it was, and never nothing."""
    assert rounded_up(value, "0.01") == text


LENGTHS = [
    # by hand: 1.96 · 0.0745 = 0.1460, 1.96 · 0.0913 = 0.1789, 1.96 · 0.0821 = 0.1609
    (1.2, 0.0745, "in", ("1.20", "0.15")),
    (0.85, 0.0913, "in", ("0.85", "0.18")),
    (5.934, 0.0821, "in", ("5.93", "0.17")),
    # 1.96 · 2 = 3.92; 1.96 · 20 = 39.2; 1.96 · 0.6 = 1.176, one figure too many at 0.01
    (30.44, 2.0, "mm", ("30.4", "4.0")),
    (30.4, 20.0, "mm", ("30", "40")),
    (1.26, 0.6, "in", ("1.3", "1.2")),
]


@pytest.mark.parametrize(("value", "sd", "unit", "told"), LENGTHS)
def test_lengths_with_their_doubt(
    value: float, sd: float, unit: str, told: tuple[str, str]
) -> None:
    """Value and half of the 95 % interval to the same sensible step."""
    assert length_text(value, sd, unit) == told


@given(st.floats(-100, 100), st.floats(0, 20), st.sampled_from(sorted(STEPS)))
def test_a_figure_never_looks_surer_than_it_is(value: float, sd: float, unit: str) -> None:
    """The give-or-take is no less than it was, hardly more, and of two figures at most."""
    shown, half = length_text(value, sd, unit)
    assert float(half) >= Z95 * sd - 1e-9
    assert float(half) <= Z95 * sd * 1.11 + float(STEPS[unit]) + 1e-9
    assert len(half.replace(".", "").strip("0")) <= 2
    decimals = len(half.partition(".")[2])
    assert len(shown.partition(".")[2]) == decimals
    coarse = 10.0 if not decimals and float(half) >= 100 else 1.0
    assert abs(float(shown) - value) <= coarse * 0.5 * 10.0**-decimals + 1e-9


SLOPES = [
    (1 / 240, "in per 20 ft", "1.00"),
    (0.0075, "percent", "0.75"),
    (0.0075, "mm per m", "7.5"),
    (0.01, "in per ft", "0.120"),
    (0.01, "ratio", "0.0100"),
]


@pytest.mark.parametrize(("ratio", "unit", "text"), SLOPES)
def test_slopes_in_the_trade_s_wordings(ratio: float, unit: str, text: str) -> None:
    """1/240 is 1 in in 20 ft; 0.75 % is 7.5 mm per m."""
    assert slope_text(ratio, 0.0, unit)[0] == text


def test_slope_wording_by_unit() -> None:
    """Inches speak of 20 ft, millimetres of the metre."""
    assert (slope_unit("in"), slope_unit("mm")) == ("in per 20 ft", "mm per m")


@pytest.mark.parametrize(
    ("ratio", "text"),
    [
        *[(1 / 360, "360"), (1 / 658.8, "660"), (0.12, "8"), (1.5, "1"), (1 / 1138, "1,100")],
        *[(0.0, None), (-1.0, None)],
    ],
)
def test_one_in_n(ratio: float, text: str | None) -> None:
    """Two significant figures; no slope has no N."""
    assert one_in(ratio) == text


def test_one_in_n_with_its_interval() -> None:
    """The steep end has the smaller N; an interval that reaches zero has no other.

    By hand: 1/(0.002 ± 1.96/5000) = 418 and 622; 1/(0.002 + 1.96/600) = 190 less a little.
    """
    assert one_in_interval(1 / 500, 1 / 5000) == ("500", "410", "630")
    assert one_in_interval(1 / 500, 1 / 600) == (None, "180", None)


WAYS = [
    (0.0, None, "sheet.n"),
    (90.0, None, "sheet.e"),
    (225.0, 0.0, "compass.sw"),
    (225.0, 45.0, "compass.s"),
    (10.0, 100.0, "compass.w"),
    (359.0, 0.0, "compass.n"),
    (22.4, 0.0, "compass.n"),
    (22.6, 0.0, "compass.ne"),
]


@pytest.mark.parametrize(("direction", "north", "key"), WAYS)
def test_directions_in_words(direction: float, north: float | None, key: str) -> None:
    """Degrees clockwise from up the sheet; north, where known, turns them to the compass."""
    assert toward(direction, north) == key


@given(st.floats(0, 360), st.floats(0, 360), st.floats(-720, 720))
def test_turning_sheet_and_north_together(direction: float, north: float, turn: float) -> None:
    """A plan drawn another way up has the same words of the compass."""
    within = ((direction - north) % 45.0) - 22.5
    assume(abs(within) > 1e-6)
    assert toward(direction, north) == toward(direction + turn, north + turn)
    assert COMPASS.index(toward(direction, 0.0)) == SHEET.index(toward(direction, None))


@pytest.mark.parametrize(
    ("slope", "sd", "known"), [(1.0, 0.5, True), (1.0, 0.52, False), (0.0, 0.0, False)]
)
def test_when_a_direction_is_told(slope: float, sd: float, known: bool) -> None:
    """Only where the doubt is no larger than the slope itself (45° to either side)."""
    assert direction_known(slope, sd) == known


def finding(value: float | None, sd: float | None, unit: str, quantity: str = "range") -> Finding:
    """Return a finding with a limit of 1/360."""
    return Finding(
        "i", "s", "t", quantity, None, value, sd, 1 / 360, unit, "within", "published", "s", "n"
    )


TEXTS = [
    (finding(1 / 500, 1 / 5000, "ratio"), "1 in 500 (410 to 630)"),
    (finding(1 / 500, 1 / 600, "ratio"), "flatter than 1 in 180"),
    (finding(0.0, 0.0, "ratio"), "flatter than 1 in 100,000"),
    (finding(None, None, "ratio"), "–"),
    (finding(None, None, "mm"), "–"),
    (finding(0.85, 0.0913, "in"), "0.85 ± 0.18 in"),
    (finding(6.2994, None, "ft", "reading gap"), "6.3 ft"),
    (finding(0.76, 0.073, "mm", "crack width"), "0.8 ± 0.2 mm"),
    (finding(0.03, 0.0029, "in", "crack width"), "0.03 ± 0.01 in"),
    (finding(0.75, 0.05, "percent", "tilt"), "0.75 ± 0.10 percent"),
]


@pytest.mark.parametrize(("each", "text"), TEXTS, ids=[t for _, t in TEXTS])
def test_findings_in_a_table(each: Finding, text: str) -> None:
    """Value with give-or-take, or a dash; a ratio as 1 in N; the limit likewise."""
    assert finding_text(each)[0] == text
    assert (finding_text(each)[1] == "1 in 360") == (each.unit == "ratio")
