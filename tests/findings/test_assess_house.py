"""The sample house from its readings to its words."""

from typing import Any

import pytest

from levelbook.book import notices, read_book
from levelbook.findings import Assessment, assess, assess_document, named_set
from levelbook.floor.shape import AreaShape


@pytest.fixture(scope="module")
def told(house_a: bytes) -> Assessment:
    """Return the assessment of the sample house."""
    return assess(read_book(house_a.decode()))


@pytest.mark.parametrize(("finish", "height"), [("oak", 0.45), ("carpet", 0.45), ("tile", 0.0)])
def test_finishes_in_the_result(told: Assessment, finish: str, height: float) -> None:
    """Oak and carpet stand 0.45 in above tile."""
    document: Any = assess_document(told)
    assert document["finishes"][finish]["height"] == pytest.approx(height, abs=1e-12)


@pytest.mark.parametrize(("station", "level"), [("7", -0.85), ("21", -0.15), ("c", 0.0)])
def test_levels_in_the_result(told: Assessment, station: str, level: float) -> None:
    """Station 7 is at -0.85 in, station 21 at -0.15 in, the reference at 0."""
    document: Any = assess_document(told)
    assert document["stations"][station]["level"] == pytest.approx(level, abs=1e-12)


def test_the_garage_stands_apart(told: Assessment) -> None:
    """The garage is a group of its own, and no limit on movement is held against it."""
    groups = {g.id: set(g.stations) for g in told.levels.groups}
    assert {frozenset(s) for s in groups.values()} >= {frozenset(f"g{i}" for i in range(1, 10))}
    assert not [f for f in told.findings if f.area == "garage" and f.kind == "movement"]
    assert any("Garage and porch floors are meant to slope" in c for c in told.words.cautions)


# By hand from the readings: range 0.00 - (-0.85); the crack 0.03 in = 0.762 mm is category 1.
VALUES = [("ordinary-drop", 0.85, 1e-9), ("crack-category", 0.762, 1e-9)]


@pytest.mark.parametrize(("criterion", "value", "within"), VALUES)
def test_values_that_follow_by_hand(
    told: Assessment, criterion: str, value: float, within: float
) -> None:
    """Figures that need no model agree with the readings."""
    (finding,) = (f for f in told.findings if f.id == criterion)
    assert finding.value == pytest.approx(value, abs=within)


def test_the_findings_agree_with_the_shape(told: Assessment) -> None:
    """Each figure is the shape's own, in the criterion's unit, with its sd."""
    house = told.floor.areas["house"]
    assert isinstance(house, AreaShape)
    assert house.deflection is not None
    assert house.steepest is not None
    found = {f.id: f for f in told.findings}
    pairs = [
        ("tilt-1-percent", house.tilt.slope * 100, house.tilt.sd * 100),
        ("one-inch-in-twenty-feet", house.steepest.slope * 240, house.steepest.sd * 240),
        (
            "deflection-360",
            abs(house.deflection.deflection) / 12 / house.deflection.length,
            house.deflection.sd / 12 / house.deflection.length,
        ),
    ]
    for name, value, sd in pairs:
        assert found[name].value == pytest.approx(value, rel=1e-12)
        assert found[name].sd == pytest.approx(sd, rel=1e-12)


def test_the_outcome_and_its_words(told: Assessment) -> None:
    """An old fine crack, a gentle dome, a slope too close to call: keep watching."""
    assert told.screening.outcome == "keep watching"
    assert told.words.title == "Keep an eye on this floor"
    assert told.words.summary[0].startswith(
        "On March 2, 2026 the floor of the house was measured at 29 places: its highest and "
        "lowest place differ by about 0.85 in, give or take 0.18"
    )
    assert "highest around the middle" in told.words.summary[1]
    assert "one sign of distress" in told.words.summary[2]


def test_the_book_s_notices_are_passed_on(told: Assessment) -> None:
    """What a careful colleague would say about the book goes with the result."""
    said = notices(told.book)
    assert said
    assert told.warnings[: len(said)] == tuple(map(str, said))


def test_sets_chosen_by_name(told: Assessment) -> None:
    """Any set can be held against any book; the steepest slope follows its distance."""
    other = assess(told.book, criteria=[named_set("mbie-nz"), named_set("texas-code-304")])
    assert [s.id for s in other.sets] == ["mbie-nz", "texas-code-304"]
    assert {f.set for f in other.findings} == {"mbie-nz", "texas-code-304"}
    house = other.floor.areas["house"]
    assert isinstance(house, AreaShape)
    assert house.steepest is not None
    assert house.steepest.min_apart == pytest.approx(2 / 0.3048)
    assert [s.id for s in told.sets] == ["asce-texas", "bre-251", "common-practice", "garage"]


def test_no_criteria_at_all(told: Assessment) -> None:
    """Without any criterion there are no findings, and the bend is still looked at."""
    bare = assess(told.book, criteria=[])
    assert bare.findings == ()
    assert bare.screening.outcome == "nothing unusual"
    assert bare.words.summary[2] == "In the whole house one sign of distress was written down."
