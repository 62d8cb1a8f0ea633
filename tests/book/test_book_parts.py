"""The small parts: units, instruments, showing values, the nearest id, words for faults."""

import pytest
from book_example import house
from hypothesis import given
from hypothesis import strategies as st

from levelbook.book.faults import Collector, place_of, show
from levelbook.book.model import Book, Instrument, Reading, Station, Units
from levelbook.book.nearest import Nearest
from levelbook.book.translate import tell
from levelbook.book.units import convert, rise_per_run


@pytest.mark.parametrize(
    ("level", "plan", "factor"),
    [("in", "ft", 1 / 12), ("mm", "m", 1 / 1000), ("in", "m", 0.0254), ("mm", "ft", 1 / 304.8)],
)
def test_slopes_have_no_unit(level: str, plan: str, factor: float) -> None:
    """One level unit over one plan unit, as a plain number (inch 25.4 mm by definition)."""
    units = Units.model_validate({"level": level, "plan": plan})
    assert rise_per_run(units) == pytest.approx(factor, rel=1e-15)


@given(st.floats(-1e6, 1e6), st.sampled_from(["in", "mm", "ft", "m"]), st.sampled_from(["in", "m"]))
def test_converting_there_and_back(value: float, unit: str, to: str) -> None:
    """A length converted and back is the same length."""
    assert convert(convert(value, unit, to), to, unit) == pytest.approx(value, rel=1e-14)


def test_instrument_sense_and_variance() -> None:
    """A rod reads less on a higher floor; rounding adds a twelfth of the step squared."""
    about = {"id": "a", "kind": "other", "resolution": 0.6, "sd": 0.4}
    more = Instrument.model_validate({**about, "higher_reads": "more"})
    less = Instrument.model_validate({**about, "higher_reads": "less"})
    assert (more.sense, less.sense) == (1, -1)
    assert more.variance == pytest.approx(0.16 + 0.03)


def test_records_can_be_keys() -> None:
    """Equal records have equal hashes, with own data or without."""
    about = {"id": "1", "at": (0.0, 1.0), "area": "a"}
    plain = Station.model_validate(about)
    own = Station.model_validate({**about, "extra": {"list": [1]}})
    assert hash(plain) == hash(Station.model_validate(about))
    assert len({plain, own, plain}) == 2
    assert hash(Book.model_validate(house())) == hash(Book.model_validate(house()))


def test_a_reading_made_in_code() -> None:
    """A number given for a value is kept as a text in code as in a document."""
    reading = Reading(id="1", setup="A", station="s", finish="f", value=0.5)  # type: ignore[arg-type]
    assert reading.value == "0.5"


@pytest.mark.parametrize(
    ("wanted", "found"),
    [("p9", "p19"), ("P19", "p19"), ("kitchen 3", "kitchen-3"), ("19", "p19"), ("§", None)],
)
def test_nearest_id(wanted: str, found: str | None) -> None:
    """The id that shares most with what was written, if any shares enough."""
    assert Nearest(["p1", "p19", "kitchen-3", "q"]).find(wanted) == found


def test_nearest_of_none() -> None:
    """Among no ids there is none, and sharing a little is not enough."""
    assert Nearest([]).find("a") is None
    assert Nearest(["a" + "xyz" * 9]).find("ab") is None


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ((), "document"),
        (("readings", 14, "station"), "readings[14].station"),
        (("a b", 0, "c\n"), "['a b'][0]['c\\n']"),
        (("x" * 41,), f"['{'x' * 39}…']"),
    ],
)
def test_places_in_words(path: tuple[str | int, ...], words: str) -> None:
    """Keys and indices from the top, odd keys in quotes and cut."""
    assert place_of(path) == words


@given(st.text() | st.integers() | st.floats() | st.none() | st.booleans())
def test_shown_values_are_short_and_printable(value: object) -> None:
    """Whatever a document holds can be shown on one line of a terminal."""
    shown = show(value)
    assert shown.isprintable()
    assert len(shown) <= 40 * 10 + 2


def test_shown_lists_and_objects() -> None:
    """What holds other values is named, not quoted."""
    assert (show([1]), show({"a": 1})) == ("a list", "an object")


def test_an_unforeseen_fault_has_words() -> None:
    """Should the validator tell something new, its own words stay inside."""
    found = Collector()
    error = {"type": "new", "loc": (1,), "input": "x", "msg": "from the validator"}
    tell(error, ("walls",), Book, found)
    (fault,) = found.faults()
    assert fault.place == "walls[1]"
    assert "validator" not in str(fault)
