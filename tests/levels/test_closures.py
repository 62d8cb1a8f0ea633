"""Closing checks: which readings make one, its sign and its limit."""

import pytest
from level_books import instrument, make_book

from levelbook.levels import reduce

LIMIT = 1.959963984540054


def test_last_minus_first() -> None:
    """The misclosure is last minus first, against 1.96 times the root of both variances."""
    rows = [("A", "p", "tile", "0.10"), ("A", "q", "tile", "1"), ("A", "p", "tile", "0.35")]
    (closure,) = reduce(make_book(rows, instruments=[instrument("L", 0.04, 0.1)])).closures
    assert (closure.station, closure.setup, closure.first, closure.last) == ("p", "A", "r1", "r3")
    assert closure.misclosure == pytest.approx(0.25)
    assert closure.allowed == pytest.approx(LIMIT * (2 * (0.04**2 + 0.1**2 / 12)) ** 0.5)


def test_a_rod_reads_the_other_way() -> None:
    """A rod that reads less at the end says that the floor seems higher."""
    tools = [instrument("L", higher_reads="less")]
    rows = [("A", "p", "tile", "4.5"), ("A", "p", "tile", "4.2")]
    assert reduce(make_book(rows, instruments=tools)).closures[0].misclosure == pytest.approx(0.3)


def test_the_middle_reading_is_passed_over() -> None:
    """Of three readings the first and the last make the check."""
    rows = [("A", "p", "tile", v) for v in ("0.1", "0.9", "0.2")]
    (closure,) = reduce(make_book(rows)).closures
    assert (closure.first, closure.last) == ("r1", "r3")


@pytest.mark.parametrize(
    ("times", "first", "last"),
    [
        (("11:00", "09:00", "10:00"), "r2", "r1"),
        (("11:00", "09:00", None), "r1", "r3"),
        ((None, None, None), "r1", "r3"),
    ],
)
def test_first_and_last_go_by_time(times: tuple, first: str, last: str) -> None:
    """With all times known they rule; with one missing the order written down does."""
    rows = [("A", "p", "tile", "0", t) for t in times]
    (closure,) = reduce(make_book(rows)).closures
    assert (closure.first, closure.last) == (first, last)


@pytest.mark.parametrize("other", [("B", "p", "tile"), ("A", "q", "tile"), ("A", "p", "oak")])
def test_what_is_no_closing_check(other: tuple[str, str, str]) -> None:
    """Another setup, station or finish is a tie, another place or a pair."""
    assert reduce(make_book([("A", "p", "tile", "0"), (*other, "0")])).closures == ()


def test_in_the_order_of_reading() -> None:
    """Closures come in the order in which their stations were first read."""
    rows = [("A", s, "tile", "0") for s in ("q", "p", "p", "q")]
    assert [c.station for c in reduce(make_book(rows)).closures] == ["q", "p"]
