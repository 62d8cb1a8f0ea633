"""The demo house is what its script makes, and tells the story it is meant to tell."""

import pytest

import make_demo
from levelbook.book import Book, notices, read_book
from levelbook.demo import house
from levelbook.findings import Assessment, assess
from levelbook.floor import AreaShape


@pytest.fixture(scope="module")
def book() -> Book:
    """Return the demo's book."""
    return read_book(house())


@pytest.fixture(scope="module")
def result(book: Book) -> Assessment:
    """Return everything computed from the demo's book."""
    return assess(book)


def test_the_file_is_what_the_script_makes() -> None:
    """The kept document and the script that invents it do not drift apart."""
    assert house().decode("utf-8") == make_demo.text()


def test_it_is_a_house_of_the_promised_size(book: Book) -> None:
    """About eighty stations, an L, three finishes and bare concrete, setups with times."""
    assert len(book.stations) == 80
    assert len(book.areas[0].outline) == 6
    assert {f.id for f in book.finishes} == {"tile", "oak", "carpet", "concrete"}
    assert all(reading.time for reading in book.readings)
    assert sum(reading.struck for reading in book.readings) == 1


def test_setups_and_finishes_are_tied(book: Book, result: Assessment) -> None:
    """Living rooms are one group on three finishes and two setups; the garage is its own."""
    finishes = result.levels.finishes
    assert {finishes[name].group for name in ("tile", "oak", "carpet")} == {"g1"}
    assert finishes["concrete"].group == "g2"
    assert {result.levels.setups[name].group for name in "AB"} == {"g1"}
    assert len(result.levels.closures) >= 3
    assert {n.code for n in notices(book)} == {"own-zero"}


@pytest.mark.parametrize("name", ["oak", "carpet"])
def test_the_invented_heights_are_found(result: Assessment, name: str) -> None:
    """The heights that the script gave the finishes lie within three standard deviations."""
    finish = result.levels.finishes[name]
    assert finish.height is not None
    assert finish.sd is not None
    assert abs(finish.height - make_demo.HEIGHT[name]) < 3 * finish.sd


def test_levels_are_those_of_the_invented_floor(book: Book, result: Assessment) -> None:
    """Most stations' 95 % intervals hold the floor that the script invented."""
    at = {s.id: s.at for s in book.stations if s.area == "house"}
    zero = make_demo.floor(*at["c"])
    inside = [
        abs(result.levels.stations[i].level - (make_demo.floor(*xy) - zero))
        < 1.96 * (result.levels.stations[i].sd ** 2 + 2 * make_demo.UNEVENNESS**2) ** 0.5
        for i, xy in at.items()
        if i != make_demo.SLIPPED
    ]
    assert sum(inside) >= 0.85 * len(inside)


def test_the_slip_is_found_and_no_other(result: Assessment) -> None:
    """One reading is named, the one that the script spoilt."""
    (suspect,) = result.floor.suspects
    assert (suspect.station, suspect.kind) == (make_demo.SLIPPED, "decimal")


def test_the_corner_is_named(result: Assessment) -> None:
    """The floor's word is the corner that the script let down."""
    area = result.floor.areas["house"]
    assert isinstance(area, AreaShape)
    assert area.bend.word == "one corner"
    assert area.range.low == "58"


def test_the_ground_outside_tells_its_story(result: Assessment) -> None:
    """Beside the corner gone down the ground runs to the house; behind and in front it does not."""
    negative = {fall.id: fall.negative for fall in result.water.grades}
    assert negative == {"right side": True, "rear": False, "front walk": False}
    states = {f.note.split(":")[0]: f.state for f in result.findings if f.quantity == "ground fall"}
    assert list(states.values()).count("beyond") == 1
    assert list(states.values()).count("within") == 2
