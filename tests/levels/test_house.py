"""The small example house: figures that its readings were written to give."""

import pytest

from levelbook.book.model import Book
from levelbook.levels import Levels, reduce


@pytest.fixture(scope="module")
def levels(house_a: bytes) -> Levels:
    """Return the adjusted example house."""
    return reduce(Book.model_validate_json(house_a))


def test_finishes_stand_above_tile(levels: Levels) -> None:
    """Oak and carpet stand 0.45 in above tile, by the mean of two pairs each."""
    for finish in ("oak", "carpet"):
        assert levels.finishes[finish].height == pytest.approx(0.45, abs=1e-12)
        # a pair is a difference of two readings, the height the mean of two pairs
        assert levels.finishes[finish].sd == pytest.approx((0.05**2 + 0.1**2 / 12) ** 0.5)
    assert levels.finishes["tile"].height == levels.finishes["tile"].sd == 0.0


@pytest.mark.parametrize(("station", "level"), [("c", 0.0), ("7", -0.85), ("21", -0.15)])
def test_levels(levels: Levels, station: str, level: float) -> None:
    """A station on carpet or oak is brought down to the common floor plane."""
    assert levels.stations[station].level == pytest.approx(level, abs=1e-12)


def test_garage_is_apart(levels: Levels) -> None:
    """The garage, zeroed apart with no tie, is a group against its own zero."""
    house, garage = levels.groups
    assert (house.id, house.zero, house.finish) == ("g1", "c", "tile")
    assert (garage.id, garage.zero, garage.finish) == ("g2", "g1", "concrete")
    assert garage.stations == tuple(f"g{i}" for i in range(1, 10))
    assert levels.stations["g8"].level == pytest.approx(-1.0)
    assert levels.finishes["concrete"].group == levels.setups["G"].group == "g2"


def test_fit_counts(levels: Levels) -> None:
    """43 readings tell 36 levels, two finishes and two setups, and leave 3 to check by."""
    assert (levels.fit.readings, levels.fit.unknowns, levels.fit.dof) == (43, 40, 3)
    # the two pairs of a finish differ by 0.1, so each of their 8 readings is off by a quarter
    variance = 0.05**2 + 0.1**2 / 12
    assert levels.fit.chi2 == pytest.approx(8 * 0.025**2 / variance)
    assert levels.fit.ok is True


def test_closing_check(levels: Levels) -> None:
    """The closing check at the base came back to the same reading."""
    (closure,) = levels.closures
    assert (closure.station, closure.setup, closure.first, closure.last) == ("c", "A", "r1", "r34")
    assert closure.misclosure == 0.0
    assert closure.allowed == pytest.approx(1.959964 * (2 * (0.05**2 + 0.01 / 12)) ** 0.5)
