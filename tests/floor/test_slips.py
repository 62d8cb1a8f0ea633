"""Ways to have gone wrong with a reading, and their odds."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from known_floors import instrument
from scipy.stats import t as student

from levelbook.book.model import Reading
from levelbook.book.numbers import parse_value
from levelbook.floor.slips import SHARES, SOUND, Slip, judge, legal, slips
from levelbook.levels.model import FinishHeight

TENTHS = instrument()


def reading(value, finish="tile"):
    return Reading(id="r", setup="A", station="s", finish=finish, value=value)


def ways(value, tool=TENTHS, heights=None):
    """Return the slips by kind: what is suggested and the error it adds."""
    found = {}
    for slip in slips(reading(value), tool, heights or {}, 1.0):
        found.setdefault(slip.kind, []).append((slip.suggestion, round(slip.error, 9)))
    return found


@pytest.mark.parametrize(
    ("value", "kind", "want"),
    [
        ("4", "decimal", [("0.4", 3.6), ("40.0", -36.0)]),
        ("4.0", "decimal", [("0.4", 3.6), ("40.0", -36.0)]),
        ("-11.0", "decimal", [("-1.1", -9.9), ("-110.0", 99.0)]),
        ("0.4", "decimal", [("4.0", -3.6)]),
        ("0.4", "sign", [("-0.4", 0.8)]),
        ("-0.60", "sign", [("0.60", -1.2)]),
        ("−0.6", "sign", [("0.6", -1.2)]),
        ("+0.6", "sign", [("-0.6", 1.2)]),
        ("2.1", "digits", [("1.2", 0.9)]),
        ("-12.3", "digits", [("-21.3", 9.0), ("-13.2", 0.9)]),
        ("1 3/8", "sign", [("-1 3/8", 2.75)]),
        ("-5/8", "sign", [("5/8", -1.25)]),
    ],
)
def test_what_may_have_been_meant(value, kind, want):
    """Every slip tells the value meant as it would be written, and what it adds."""
    eighths = instrument(resolution=0.125)
    assert ways(value, eighths if "/" in value else TENTHS)[kind] == want


@pytest.mark.parametrize("value", ["5/8", "1 3/8", "0/3"])
def test_fractions_have_no_point_and_no_digits_to_swap(value):
    """Only the sign of a fraction can slip."""
    kinds = set(ways(value, instrument(resolution=0.125)))
    assert kinds == ({"neighbours"} if value == "0/3" else {"sign", "neighbours"})


def test_zero_and_repeated_digits_slip_nowhere():
    """0.0 is 0.0 with any sign or point, and 1.1 is 1.1 with its digits swapped."""
    assert set(ways("0.0")) == {"neighbours"}
    assert "digits" not in ways("1.1")


def test_the_same_value_is_told_once():
    """4.0 for 0.4 is a point misplaced, and not two digits swapped as well."""
    assert "digits" not in ways("4.0")


def test_what_the_instrument_cannot_show_was_not_meant():
    """0.25 is no reading in tenths: 2.5 is no decimal slip of it; in hundredths it is."""
    assert ways("2.5")["decimal"] == [("25.0", -22.5)]
    fine = ways("2.5", instrument(resolution=0.01))["decimal"]
    assert fine == [("0.25", 2.25), ("25.00", -22.5)]
    assert ways("2.5", instrument(resolution=0.0))["decimal"][0][0] == "0.25"


@given(st.integers(-500, 500), st.sampled_from([0.1, 0.05, 0.125, 1.0]))
def test_every_suggestion_explains_the_reading(steps, resolution):
    """Value meant plus error is the value written, and the instrument can show it."""
    written = f"{steps * resolution:.3f}"
    for slip in slips(reading(written), instrument(resolution=resolution), {}, 1.0):
        if slip.suggestion is not None:
            meant = parse_value(slip.suggestion)
            assert float(meant) + slip.error == pytest.approx(float(written))
            assert legal(meant, resolution)
            assert meant != parse_value(written)


def test_legal_values_are_whole_multiples():
    """Exact in fractions, forgiving of a resolution that decimals cannot hold."""
    assert legal(Fraction(3, 10), 0.1)
    assert not legal(Fraction(35, 100), 0.1)
    assert legal(Fraction(5, 16), 0.0625)
    assert legal(Fraction(123, 1000), 0.0)


@pytest.mark.parametrize(("sense", "sign"), [("more", 1), ("less", -1)])
def test_a_forgotten_finish_adds_its_step(sense, sign):
    """Read on oak 0.45 above the tile written down, a staff reads less and a level more."""
    heights = {
        "tile": FinishHeight(0.1, 0.03, "g"),
        "oak": FinishHeight(0.55, 0.04, "g"),
        "carpet": FinishHeight(0.3, 0.0, "g"),
        "far": FinishHeight(9.0, 0.0, "other"),
        "unknown": FinishHeight(None, None, None),
    }
    tool = instrument(higher_reads=sense)
    found = [s for s in slips(reading("0.2"), tool, heights, 1.0) if s.kind == "finish"]
    assert [(s.finish, round(s.error, 9)) for s in found] == [
        ("oak", sign * 0.45),
        ("carpet", sign * 0.2),
    ]
    assert found[0].variance == pytest.approx(0.03**2 + 0.04**2)
    assert found[0].share == pytest.approx(SHARES["finish"] / 2)


def test_no_other_finish_is_supposed_of_one_without_height():
    """Where one's own finish has no height, or is not known, a step cannot be told."""
    heights = {"tile": FinishHeight(None, None, None), "oak": FinishHeight(0.5, 0.0, "g")}
    assert "finish" not in ways("0.2", heights=heights)
    assert "finish" not in ways("0.2", heights={"oak": FinishHeight(0.5, 0.0, "g")})


def test_shares_leave_most_readings_sound():
    """Few readings in a hundred are supposed wrong, all ways together."""
    assert pytest.approx(1.0) == SOUND + sum(SHARES.values())
    assert 0.97 < SOUND < 0.995


def test_odds_are_densities_weighed_by_shares():
    """By SciPy's t density: the slip's share times its density over the sound one's."""
    slip = Slip("decimal", 3.6, 0.0, 0.004, "0.4")
    wide = Slip("neighbours", 0.0, 1.0, 0.003)
    off, sd, freedom = 3.5, 0.12, 20.0

    def density(x, scale):
        return student.pdf(x / scale, freedom) / scale

    sound = SOUND * density(off, sd)
    ways_ = 0.004 * density(off - 3.6, sd) + 0.003 * density(off, math.hypot(sd, 1.0))
    verdict = judge(off, sd**2, freedom, [wide, slip])
    assert verdict.slip is slip
    assert verdict.log_odds == pytest.approx(math.log(ways_ / sound))


def test_a_reading_that_fits_is_sound():
    """Close to what is expected the odds are far below 1, whatever might have been."""
    for value in ("0.4", "-2.1", "4"):
        found = judge(0.05, 0.1**2, 40.0, slips(reading(value), TENTHS, {}, 1.0))
        assert found.log_odds < math.log(0.05)
