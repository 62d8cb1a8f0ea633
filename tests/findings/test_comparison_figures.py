"""The figures in the words of a comparison: told where they are known, and not where not."""

import re
from collections.abc import Collection
from dataclasses import replace

import pytest
from comparison_pairs import compared
from small_books import dome, small_book

from levelbook.book.model import Book
from levelbook.findings.compared import compare_document
from levelbook.findings.comparison import comparison_words, day_text
from levelbook.findings.display import length_text
from levelbook.levels import reduce
from levelbook.movement import Comparison, Visit, compare

LATER = {"date": "2026-12-15", "purpose": "repeat"}


def visits(earlier: Book, later: Book) -> Comparison:
    """Return what two books say."""
    return compare(Visit(earlier, reduce(earlier)), Visit(later, reduce(later)))


def of_stations(book: Book, kept: Collection[str]) -> Book:
    """Return a visit on which only these places were read."""
    return book.model_copy(
        update={
            "stations": tuple(s for s in book.stations if s.id in kept),
            "readings": tuple(r for r in book.readings if r.station in kept),
        }
    )


def told(comparison: Comparison) -> str:
    """Return the statement as one text."""
    return " ".join(comparison_words(comparison).statement)


def test_three_places_tell_no_shape() -> None:
    """From three places neither tilt nor bend is told, and the reader learns why."""
    later = of_stations(small_book(dome(1.0), visit=LATER), ("s0", "s3", "s30"))
    found = visits(small_book(dome(1.0)), later)
    first, *rest = comparison_words(found).statement
    assert first == (
        "Too few places of the house were read on both visits to tell a change of its tilt or bend."
    )
    assert not any("tilt" in each or "bend" in each for each in rest)
    assert "the 3 places read on both visits" in told(found)
    document = compare_document(found, ())
    assert document["tilt_change"] is None
    assert document["deflection_change"] is None


def in_halves(book: Book, kept: Collection[str]) -> Book:
    """Return a visit whose left and right half are read from setups that nothing joins."""
    some = of_stations(book, kept)
    first = some.setups[0]
    right = {s.id for s in some.stations if s.at[0] > 18.0}
    return some.model_copy(
        update={
            "setups": (first, first.model_copy(update={"id": "B"})),
            "readings": tuple(
                r.model_copy(update={"setup": "B"}) if r.station in right else r
                for r in some.readings
            ),
            "reference": some.reference.model_copy(update={"station": some.stations[0].id}),
        }
    )


def test_two_places_apart_allow_no_test_and_no_figure() -> None:
    """Places that nothing joins are said to be untested; no change of either is made up."""
    earlier = in_halves(small_book(), ("s0", "s1", "s33", "s34"))
    found = visits(earlier, in_halves(small_book(visit=LATER), ("s1", "s34")))
    words = comparison_words(found)
    assert "so no test of movement was possible" in told(found)
    assert "No global test was possible." in words.method
    assert "cannot be told from the errors" not in told(found)
    assert "give or take" not in told(found)
    assert any("fall into 2 parts" in each for each in words.caveats)


def test_places_each_the_zero_of_its_own_part_are_told_untested() -> None:
    """Where every place read twice is joined to no other, nothing is tested and nothing breaks."""
    apart = ("s1", "s34")
    found = visits(in_halves(small_book(), apart), in_halves(small_book(visit=LATER), apart))
    assert not found.differences.covariance.any()
    assert (found.congruence.statistic, found.congruence.moved) == (None, None)
    assert "too little joined to one another by readings" in told(found)
    assert "so no test of movement was possible" in told(found)
    assert "give or take" not in told(found)
    document = compare_document(found, ())
    assert all(station["sd"] is None for station in document["stations"].values())


def test_shapes_not_worked_out_are_null() -> None:
    """Where shapes were not worked out, the result file says null, not zero."""
    book, later = small_book(), small_book(visit=LATER)
    found = compare(Visit(book, reduce(book)), Visit(later, reduce(later)), shape=False)
    document = compare_document(found, ())
    changes = [document[f"{name}_change"] for name in ("tilt", "deflection", "range")]
    assert changes == [None, None, None]
    assert document["areas"] == {}
    assert document["stations"]


def test_a_rare_chance_is_told_in_round_numbers() -> None:
    """The chance that errors alone do as much is 1 in N, with N of one figure; never surer."""
    plain = compared(1.5)
    for p, said in ((0.031, "one time in 30"), (0.0024, "one time in 400"), (2e-4, "5,000")):
        test = replace(plain.congruence, moved=True, p=p)
        assert f"{said}." in told(replace(plain, congruence=test))
    rare = replace(plain.congruence, moved=True, p=9e-5)
    assert "less than one time in 10,000." in told(replace(plain, congruence=rare))


def wing_down(x: float, y: float) -> float:
    """Return a floor whose left part went down by one inch and more."""
    return -(1.0 + y / 20 + x / 100) if x < 12.5 else 0.0


def test_eight_places_are_named_and_the_rest_counted() -> None:
    """The eight that changed most stand in the statement; how many more is said, not hidden."""
    found = visits(small_book(), small_book(wing_down, visit=LATER))
    changed = {i: s for i, s in found.movements.stations.items() if s.significant}
    assert len(changed) > 8
    sentence = next(s for s in comparison_words(found).statement if "stand out singly" in s)
    named = re.findall(r"(\w+): −?\d", sentence)
    worst = sorted(changed, key=lambda i: -abs(changed[i].moved or 0.0))
    assert named == worst[:8]
    assert f"{len(changed)} of {len(found.movements.stations)} stand out" in sentence
    assert f"{len(changed) - 8} more" in sentence


def test_a_tilt_of_unknown_side_names_no_side() -> None:
    """A change of tilt whose side is not known is told with its figure and without a side."""
    found = compared(1.5)
    area = found.areas[found.main]
    assert area.tilt is not None
    wide = replace(area.tilt, significant=True, value=0.001, sd=0.001)
    unsure = replace(found, areas={found.main: replace(area, tilt=wide)})
    first = comparison_words(unsure).statement[0]
    # 0.001 of 20 ft is 0.24 in; 1.96 of as much is 0.4704 in, rounded up.
    assert "changed by 0.24 in for every 20 ft, give or take 0.48" in first
    assert first.endswith("toward which side is not clear.")
    assert "now lies lower" not in first


@pytest.mark.parametrize(("drop", "key"), [(-0.8, "higher"), (0.8, "lower")])
def test_a_bend_is_told_up_or_down(drop: float, key: str) -> None:
    """A middle that rose against its ends is told as higher, one that sank as lower."""
    found = visits(small_book(), small_book(dome(-drop), visit=LATER))
    bend = found.areas["house"].deflection
    assert bend is not None
    value, half = length_text(abs(bend.value), bend.sd, "in")
    assert bend.significant
    assert f"{value} in {key}, give or take {half}" in comparison_words(found).statement[1]


def test_a_range_grown_or_shrunk_is_told_so() -> None:
    """A floor gone crooked has more between high and low; the same back again has less."""
    first, later = {"date": "2026-03-02"}, LATER
    grown = visits(small_book(visit=first), small_book(dome(1.5), visit=later))
    shrunk = visits(small_book(dome(1.5), visit=first), small_book(visit=later))
    assert "now differ by 1.50 in more than before" in told(grown)
    assert "now differ by 1.50 in less than before" in told(shrunk)


def test_one_of_two_living_areas_is_named() -> None:
    """Where two areas are of one kind, the statement says by name which one is meant."""
    other = {"id": "annex", "kind": "living", "outline": [[40, 0], [50, 0], [50, 9], [40, 9]]}
    parts = {"areas": {"annex": other}}
    found = visits(small_book(**parts), small_book(visit=LATER, **parts))
    assert "the tilt of the area “house”" in told(found)
    assert "the tilt of the house" in told(visits(small_book(), small_book(visit=LATER)))


def test_errors_scaled_by_the_readings_are_said_to_be() -> None:
    """Where the readings scatter more than stated, the method gives by how much and from what."""
    found = visits(twice(small_book()), twice(small_book(visit=LATER)))
    # Every place has readings of 0 and 0.2 in, each of an sd of 0.05 in and of rounding to 0.1 in:
    # chi-square 0.2² / (2 (0.05² + 0.1²/12)) a pair, with one degree of freedom; 2 x 35 pairs.
    size = 0.2**2 / (2 * (0.05**2 + 0.1**2 / 12))
    said = f"(70 degrees of freedom, factor {size:.2f})"
    assert any(said in each for each in comparison_words(found).method)
    stated = visits(small_book(), small_book(visit=LATER))
    assert "The errors are those stated for the instruments." in comparison_words(stated).method


def twice(book: Book) -> Book:
    """Return a visit that reads every place again, 0.2 in higher."""
    again = (r.model_copy(update={"id": f"{r.id}-again", "value": "0.2"}) for r in book.readings)
    return book.model_copy(update={"readings": (*book.readings, *again)})


def test_a_day_that_is_no_plain_date_stays_as_written() -> None:
    """A date in words is told as it was written down, a plain one in words of ours."""
    plain = small_book()
    loose = plain.visit.model_copy(update={"date": "spring of 2025"})
    assert day_text(plain.model_copy(update={"visit": loose})) == "spring of 2025"
    assert day_text(plain) == "March 2, 2026"


def test_the_covariance_of_the_changes_is_written_on_request() -> None:
    """Its diagonal is the squared sd of each place's change, in the order named beside it."""
    found = compared(1.5)
    written = compare_document(found, (), covariance=True)["covariance"]
    for row, station in enumerate(written["stations"]):
        sd = found.movements.stations[station].sd
        assert sd is not None
        assert written["matrix"][row][row] == pytest.approx(sd**2)
    assert written["stations"] == list(found.differences.ids)
    assert "covariance" not in compare_document(found, ())
