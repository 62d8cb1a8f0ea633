"""Whole comparisons: what must not matter, what does, and what is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from visit_pairs import (
    lifted_levels,
    metric,
    other_instrument,
    pair,
    refloored,
    renamed,
    visit,
    zeroed_elsewhere,
)

from levelbook.book import read_book
from levelbook.book.model import Book, Section
from levelbook.demo import house
from levelbook.errors import UsageError
from levelbook.floor.footprint import footprint
from levelbook.floor.tilt import plane_weights
from levelbook.movement import Comparison, compare
from levelbook.movement.matching import match_stations


def same(one: Comparison, other: Comparison) -> None:
    """Assert that two comparisons tell the same movement, to rounding."""
    assert other.congruence.rank == one.congruence.rank
    assert other.congruence.statistic == pytest.approx(one.congruence.statistic, rel=1e-6)
    assert other.datum.stations == one.datum.stations
    for station, told in one.movements.stations.items():
        again = other.movements.stations[station]
        assert again.moved == pytest.approx(told.moved, abs=1e-7)
        assert again.sd == pytest.approx(told.sd, rel=1e-6)
        assert again.significant == told.significant
    before, after = one.areas[one.main], other.areas[other.main]
    assert before.tilt is not None
    assert after.tilt is not None
    assert after.tilt.x == pytest.approx(before.tilt.x, abs=1e-8)
    assert after.tilt.y == pytest.approx(before.tilt.y, abs=1e-8)
    assert after.tilt.sd == pytest.approx(before.tilt.sd, rel=1e-4)
    assert after.range is not None
    assert before.range is not None
    assert after.range.value == pytest.approx(before.range.value, abs=1e-7)
    assert after.deflection is not None
    assert before.deflection is not None
    assert after.deflection.value == pytest.approx(before.deflection.value, abs=1e-4)


@pytest.mark.parametrize("change", [zeroed_elsewhere, refloored, other_instrument, metric])
@pytest.mark.parametrize("size", [0.0, 0.5])
def test_what_must_not_matter(change: object, size: float) -> None:
    """Another zero, new coverings, another instrument and other units change nothing."""
    house, later, _, _ = pair(7, size, stations=24)
    one = compare(visit(house.book), visit(later))
    same(one, compare(visit(house.book), visit(change(later))))  # type: ignore[operator]


def test_matching_by_place_gives_the_same_movement() -> None:
    """Stations under new ids an inch away are matched by place, and that is told."""
    house, later, _, _ = pair(7, 0.5, stations=24)
    one = compare(visit(house.book), visit(later))
    other = compare(visit(house.book), visit(renamed(later)))
    same(one, other)
    assert {p.by for p in other.matching.pairs} == {"place"}
    assert other.matching.pairs[0].apart == pytest.approx(0.08)
    assert "repositioned" in {caveat.key for caveat in other.caveats}


def test_order_of_visits_turns_the_sign() -> None:
    """Read backward in time, every movement has the other sign and the same sd."""
    house, later, _, _ = pair(8, 0.6, stations=24)
    swapped = house.book.model_copy(update={"visit": later.visit})
    first = later.model_copy(update={"visit": house.book.visit})
    one = compare(visit(house.book), visit(later))
    back = compare(visit(first), visit(swapped))
    for station, told in one.movements.stations.items():
        assert back.movements.stations[station].moved == pytest.approx(-told.moved, abs=1e-9)
        assert back.movements.stations[station].sd == pytest.approx(told.sd)
    assert back.areas["house"].range.value == pytest.approx(-one.areas["house"].range.value)


@settings(deadline=None, max_examples=15)
@given(st.floats(-3.0, 3.0).map(lambda v: round(v, 3)))
def test_a_pure_rise_of_everything_cannot_be_seen(rise: float) -> None:
    """The whole floor risen evenly: no movement at all, and words that say why."""
    book = EXACT
    found = compare(visit(book), visit(lifted_levels(book, {s.id: rise for s in book.stations})))
    assert found.congruence.statistic == pytest.approx(0.0, abs=1e-9)
    assert found.congruence.moved is False
    assert all(abs(s.moved or 0.0) < 1e-9 for s in found.movements.stations.values())
    assert "no-bench-mark" in {caveat.key for caveat in found.caveats}


EXACT: Book = pair(9, 0.0, stations=20)[0].book


@settings(deadline=None, max_examples=15)
@given(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05))
def test_a_plane_of_movement_is_its_tilt_and_no_bend(x: float, y: float) -> None:
    """Levels risen by a plane change tilt by that plane, up to the right and up the sheet."""
    rise = {s.id: x * s.at[0] + y * s.at[1] for s in EXACT.stations}
    found = compare(visit(EXACT), visit(lifted_levels(EXACT, rise)))
    area = found.areas[found.main]
    assert area.tilt is not None
    assert area.tilt.x == pytest.approx(x / 12, abs=1e-7)
    assert area.tilt.y == pytest.approx(y / 12, abs=1e-7)
    assert area.deflection is not None
    assert abs(area.deflection.value) < 1e-5
    assert not area.deflection.significant


def test_bend_of_movement_along_a_section_is_its_sagitta() -> None:
    """Levels risen by a parabola bend along a section by the parabola's own sagitta, hog +."""
    corners = np.array(EXACT.areas[0].outline)
    long, wide = corners.max(axis=0)
    book = EXACT.model_copy(
        update={"sections": (Section(id="A", line=((0.0, wide / 2), (long, wide / 2))),)}
    )
    rise = {s.id: -2.0 * ((s.at[0] - long / 2) / (long / 2)) ** 2 for s in book.stations}
    found = compare(visit(book), visit(lifted_levels(book, rise)))
    change = found.sections["A"].change
    assert change.value == pytest.approx(2.0, abs=0.1)
    assert change.significant
    assert change.length == pytest.approx(long)
    down = compare(
        visit(book), visit(lifted_levels(book, {i: -r for i, r in rise.items()}))
    ).sections["A"]
    assert down.change.value == pytest.approx(-change.value, rel=1e-6)


def test_range_change_is_the_difference_of_ranges() -> None:
    """Range of the later levels less that of the earlier, over the matched stations."""
    house, later, _, _ = pair(10, 0.8, stations=24)
    one, two = visit(house.book), visit(later)
    told = compare(one, two).areas["house"].range
    assert told is not None
    assert told.value == pytest.approx(np.ptp(two.levels.level) - np.ptp(one.levels.level))
    variance = 0.0
    for each in (one.levels, two.levels):
        high, low = int(each.level.argmax()), int(each.level.argmin())
        full = each.covariance()
        variance += full[high, high] + full[low, low] - 2 * full[high, low]
    assert told.sd == pytest.approx(variance**0.5)


def test_a_moved_id_is_not_matched_silently() -> None:
    """An id at another place is left out, and told with how far it went."""
    house, later, _, _ = pair(7, 0.0, stations=24)
    first = later.stations[5]
    away = first.model_copy(update={"at": (first.at[0] + 5.0, first.at[1])})
    stations = tuple(away if s.id == first.id else s for s in later.stations)
    found = compare(visit(house.book), visit(later.model_copy(update={"stations": stations})))
    assert first.id not in found.movements.stations
    assert [(e.station, e.apart) for e in found.matching.elsewhere] == [(first.id, 5.0)]
    assert first.id in found.matching.only_earlier
    assert first.id in found.matching.only_later
    assert "elsewhere" in {caveat.key for caveat in found.caveats}


@pytest.mark.parametrize(("apart", "matched"), [(1.99, True), (2.01, False)])
def test_tolerance_is_two_feet_unless_said(apart: float, matched: bool) -> None:
    """An id within 2 ft is the same station; a tolerance of one's own is kept to."""
    house, later, _, _ = pair(7, 0.0, stations=24)
    moved = tuple(s.model_copy(update={"at": (s.at[0] + apart, s.at[1])}) for s in later.stations)
    away = visit(later.model_copy(update={"stations": moved}))
    if matched:
        assert len(compare(visit(house.book), away).matching.pairs) == 24
    else:
        with pytest.raises(UsageError, match="in common"):
            compare(visit(house.book), away)
    wide = compare(visit(house.book), away, tolerance=3.0)
    assert len(wide.matching.pairs) == 24
    assert wide.matching.tolerance == 3.0


def test_held_stations_are_used_and_told() -> None:
    """Chosen stations hold, and the caveat names them instead of the missing bench mark."""
    house, later, _, _ = pair(7, 0.5, stations=24)
    found = compare(visit(house.book), visit(later), hold=["p1", "p9"])
    assert found.datum.stations == ("p1", "p9")
    keys = {caveat.key: caveat for caveat in found.caveats}
    assert keys["held"].values == {"stations": "p1, p9"}
    assert "no-bench-mark" not in keys


def test_refusals_name_place_and_remedy() -> None:
    """Visits out of order, unknown stations to hold and strangers are refused in words."""
    house, later, _, _ = pair(7, 0.0, stations=24)
    one, two = visit(house.book), visit(later)
    with pytest.raises(UsageError, match="earlier visit first"):
        compare(two, one)
    with pytest.raises(UsageError, match="nearest id 'p1'"):
        compare(one, two, hold=["p1x"])


@pytest.mark.parametrize("seed", range(3))
def test_simulated_drop_changes_tilt_as_it_should(seed: int) -> None:
    """The change of tilt is that of the true drop, within four standard deviations."""
    house, later, _, drop = pair(20 + seed, 1.0)
    found = compare(visit(house.book), visit(later)).areas["house"].tilt
    assert found is not None
    cells = footprint(house.book.areas[0]).cells(1000)
    true = plane_weights(cells.xy, cells.share) @ drop.height(cells.xy) / 12
    off = np.array([found.x, found.y]) - true
    assert off @ np.linalg.solve(np.array(found.covariance), off) < 16


def only(book: Book, keep: set[str]) -> Book:
    """Return a visit on which few stations were read."""
    readings = tuple(r for r in book.readings if r.station in keep)
    start = {"station": readings[0].station, "finish": None}
    return book.model_copy(
        update={
            "stations": tuple(s for s in book.stations if s.id in keep),
            "readings": readings,
            "reference": book.reference.model_copy(update=start),
        }
    )


@pytest.mark.parametrize("count", [2, 3, 4, 6])
def test_few_stations_are_told_as_far_as_they_go(count: int) -> None:
    """Two or three stations give no shape, no number without its sd, and a caveat."""
    house, later, _, _ = pair(3, 1.0, stations=24)
    keep = {s.id for s in house.book.stations[:count]}
    found = compare(visit(house.book), visit(only(later, keep)))
    assert len(found.differences.ids) == count
    assert "few" in {caveat.key for caveat in found.caveats}
    for told in found.movements.stations.values():
        assert (told.moved is None) == (told.sd is None) == (told.least_detectable is None)
    if count < 5:
        assert found.areas["house"].tilt is None
        assert found.areas["house"].deflection is None
    assert len(found.matching.only_earlier) == 24 - count


def test_one_gross_error_is_freed_alone() -> None:
    """A station 500 units off is freed, told as it is, and moves nothing else."""
    rise = {EXACT.stations[5].id: 500.0}
    found = compare(visit(EXACT), visit(lifted_levels(EXACT, rise)))
    assert found.datum.removed == (EXACT.stations[5].id,)
    assert found.movements.stations[EXACT.stations[5].id].moved == pytest.approx(500.0)
    others = [s for i, s in found.movements.stations.items() if i not in rise]
    assert all(abs(s.moved or 0.0) < 1e-6 for s in others)


def test_parts_that_readings_do_not_connect_stay_apart() -> None:
    """A garage on its own zero is a block of its own; its shift is no movement of the house."""
    book = read_book(house())
    garage = {s.id for s in book.stations if s.area == "garage"}
    later = lifted_levels(book, dict.fromkeys(garage, 2.5))
    found = compare(visit(book), visit(later))
    assert found.congruence.moved is False
    assert len(found.datum.shift) == 2
    assert "blocks" in {caveat.key for caveat in found.caveats}
    assert set(found.areas) == {a.id for a in book.areas}


@pytest.mark.parametrize(("apart", "matched"), [(0.9, 24), (1.1, 0)])
def test_strangers_are_matched_within_a_foot(apart: float, matched: int) -> None:
    """Unlike ids count as one place within 1 ft, mutually nearest, and no farther."""
    house_, later, _, _ = pair(7, 0.0, stations=24)
    new = renamed(later)
    away = tuple(
        s.model_copy(update={"at": (s.at[0] - 0.08 + apart, s.at[1])}) for s in new.stations
    )
    first, second = visit(house_.book), visit(new.model_copy(update={"stations": away}))
    found = match_stations(first, second)
    assert len(found.pairs) == matched
    assert len(found.only_later) == 24 - matched
    assert found.place_tolerance == 1.0


def test_tolerances_in_metres_are_round_too() -> None:
    """A metric plan matches ids within 0.6 m and places within 0.3 m."""
    book = metric(pair(7, 0.0, stations=24)[0].book)
    found = match_stations(visit(book), visit(book))
    assert (found.tolerance, found.place_tolerance) == (0.6, 0.3)
    assert match_stations(visit(book), visit(book), 0.1).place_tolerance == 0.1


@pytest.mark.parametrize("few", [True, False])
def test_readings_that_do_not_check_each_other_are_told(few: bool) -> None:
    """Without redundancy, or with a scatter that the stated errors do not allow, that is said."""
    house_, later, _, _ = pair(7, 0.0, stations=24, finishes=1)
    if few:
        once = {r.station: r for r in reversed(later.readings) if r.setup == "A"}
        wild = later.model_copy(update={"readings": tuple(once.values())})
    else:
        last = later.readings[-1]
        off = last.model_copy(update={"value": f"{float(last.value) + 5.0:.1f}"})
        wild = later.model_copy(update={"readings": (*later.readings[:-1], off)})
    found = compare(visit(house_.book), visit(wild), shape=False)
    assert ("unchecked" if few else "fit") in {caveat.key for caveat in found.caveats}


def test_a_check_that_closes_exactly_is_no_caveat() -> None:
    """Repeats that agree more closely than expected, being rounded alike, are not held against."""
    house_, later, _, _ = pair(7, 0.0, stations=24, finishes=1)
    once = {r.station: r for r in reversed(later.readings) if r.setup == "A"}
    first = next(iter(once.values()))
    closing = first.model_copy(update={"id": "closing"})
    exact = later.model_copy(update={"readings": (*once.values(), closing)})
    found = compare(visit(house_.book), visit(exact), shape=False)
    assert found.later.levels.fit.ok is False
    assert {"fit", "unchecked"}.isdisjoint({caveat.key for caveat in found.caveats})


@pytest.mark.parametrize(("x", "changed"), [(0.05, True), (-0.05, True), (0.0, False)])
def test_a_change_of_tilt_is_called_as_its_interval_says(x: float, changed: bool) -> None:
    """Two inches over the house is a change; none is none; the word fits the interval."""
    rise = {s.id: x * s.at[0] for s in EXACT.stations}
    found = compare(visit(EXACT), visit(lifted_levels(EXACT, rise)))
    tilt = found.areas[found.main].tilt
    assert tilt is not None
    assert tilt.significant == changed
    assert (tilt.value > 1.96 * tilt.sd) == changed
    assert (tilt.p < 0.05) == changed
    if changed:
        assert tilt.direction == pytest.approx(270.0 if x > 0 else 90.0, abs=0.1)
