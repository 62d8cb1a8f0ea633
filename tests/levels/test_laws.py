"""Laws of the adjustment: what must not change when only the writing-down changes."""

import json

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from level_books import changed, instrument, make_book
from random_books import books

from levelbook.book.model import Book
from levelbook.levels import Levels, reduce

TIGHT = {"rel": 1e-9, "abs": 1e-9}


def same_levels(one: Levels, two: Levels, factor: float = 1.0) -> None:
    """Assert equal levels, covariance, residuals and fit, lengths scaled by ``factor``."""
    assert set(one.ids) == set(two.ids)
    for name in one.ids:
        assert two.stations[name].level == pytest.approx(factor * one.stations[name].level, **TIGHT)
    assert two.covariance(one.ids) == pytest.approx(factor**2 * one.covariance(), **TIGHT)
    assert set(one.residuals) == set(two.residuals)
    for name, residual in one.residuals.items():
        other = two.residuals[name]
        assert other.residual == pytest.approx(factor * residual.residual, **TIGHT)
        assert other.redundancy == pytest.approx(residual.redundancy, **TIGHT)
        assert other.w is None if residual.w is None else other.w == pytest.approx(residual.w)
    assert (one.fit.unknowns, one.fit.dof, one.fit.ok) == (
        two.fit.unknowns,
        two.fit.dof,
        two.fit.ok,
    )
    assert two.fit.chi2 == pytest.approx(one.fit.chi2, **TIGHT)


def replaced(book: Book, **keys: object) -> Book:
    """Return the book with some keys of the document replaced."""
    return book.model_copy(update=keys)


@given(book=books(), data=st.data())
@settings(max_examples=60)
def test_zero_at_another_station(book: Book, data: st.DataObject) -> None:
    """Another zero shifts a group's levels and leaves differences and residuals alone."""
    one = reduce(book)
    assume(one.ids)
    zero = data.draw(st.sampled_from(one.ids))
    reference = book.reference.model_copy(update={"station": zero})
    two = reduce(replaced(book, reference=reference))
    assert two.groups[0].zero == zero
    assert {frozenset(g.stations) for g in one.groups} == {
        frozenset(g.stations) for g in two.groups
    }
    for group in two.groups:
        ids = list(group.stations)
        away = [ids.index(group.zero)] * len(ids)
        shift = np.eye(len(ids)) - np.eye(len(ids))[away]
        level = np.array([one.stations[i].level for i in ids])
        assert [two.stations[i].level for i in ids] == pytest.approx(shift @ level, **TIGHT)
        spread = shift @ one.covariance(ids) @ shift.T
        assert two.covariance(ids) == pytest.approx(spread, **TIGHT)
    for name, residual in one.residuals.items():
        assert two.residuals[name].residual == pytest.approx(residual.residual, **TIGHT)


@given(book=books(timed=True), data=st.data())
@settings(max_examples=60)
def test_order_of_readings(book: Book, data: st.DataObject) -> None:
    """The order in which readings are listed does not matter where all have a time.

    The zero of a group without the reference follows the order, so one group is compared.
    """
    one = reduce(book)
    assume(len(one.groups) == 1 and one.groups[0].zero == book.reference.station)
    shuffled = data.draw(st.permutations(book.readings))
    two = reduce(replaced(book, readings=tuple(shuffled)))
    same_levels(one, two)
    key = lambda closure: (closure.setup, closure.station, closure.first)  # noqa: E731
    ones, twos = sorted(one.closures, key=key), sorted(two.closures, key=key)
    assert [(c.station, c.first, c.last) for c in ones] == [
        (c.station, c.first, c.last) for c in twos
    ]


@given(book=books(timed=True))
@settings(max_examples=40)
def test_names(book: Book) -> None:
    """Names of stations, finishes and setups are names only, sorted however."""

    def new(name: str) -> str:
        return "".join(chr(ord("z") - ord(c) % 26) for c in name) + name

    document = json.loads(book.model_dump_json(exclude_none=True))
    for key in ("finishes", "setups", "stations"):
        for record in document[key]:
            record["id"] = new(record["id"])
    for reading in document["readings"]:
        for key in ("setup", "station", "finish"):
            reading[key] = new(reading[key])
    for key in ("station", "finish"):
        if key in document["reference"]:
            document["reference"][key] = new(document["reference"][key])
    one, two = reduce(book), reduce(Book.model_validate_json(json.dumps(document)))
    assert [new(i) for i in one.ids] == list(two.ids)
    assert two.level.tolist() == one.level.tolist()
    assert two.covariance().tolist() == one.covariance().tolist()
    assert {new(k): v for k, v in one.finishes.items()} == two.finishes
    assert {new(k): v for k, v in one.setups.items()} == two.setups


def opposite(value: str) -> str:
    """Return a written number with its sign changed."""
    return value[1:] if value.startswith("-") else f"-{value}"


@given(book=books(timed=True))
@settings(max_examples=40)
def test_sense_of_the_instrument(book: Book) -> None:
    """An instrument that reads the other way with all its values negated gives the same."""
    turned = {"more": "less", "less": "more"}
    tools = tuple(
        i.model_copy(update={"higher_reads": turned[i.higher_reads]}) for i in book.instruments
    )
    values = tuple(r.model_copy(update={"value": opposite(r.value)}) for r in book.readings)
    one, two = reduce(book), reduce(replaced(book, instruments=tools, readings=values))
    same_levels(one, two)
    assert one.finishes == two.finishes
    assert one.setups == two.setups
    assert one.closures == two.closures


@given(book=books(timed=True))
@settings(max_examples=40)
def test_units(book: Book) -> None:
    """Inches written in millimetres give 25.4 times the levels."""
    tools = tuple(
        i.model_copy(update={"sd": i.sd * 25.4, "resolution": i.resolution * 25.4})
        for i in book.instruments
    )
    values = tuple(
        r.model_copy(update={"value": f"{float(r.value) * 25.4:.4f}"}) for r in book.readings
    )
    units = book.units.model_copy(update={"level": "mm"})
    one = reduce(book)
    two = reduce(replaced(book, instruments=tools, readings=values, units=units))
    same_levels(one, two, 25.4)
    for setup, found in one.setups.items():
        if found.drift is not None:
            assert two.setups[setup].drift == pytest.approx(25.4 * found.drift, **TIGHT)
    for a, b in zip(one.closures, two.closures, strict=True):
        assert (b.misclosure, b.allowed) == pytest.approx((25.4 * a.misclosure, 25.4 * a.allowed))


@given(book=books(timed=True), values=st.lists(st.integers(-99, 99), min_size=1, max_size=4))
@settings(max_examples=40)
def test_struck_readings_change_nothing(book: Book, values: list[int]) -> None:
    """Struck readings, however wild and wherever they stand, take no part."""
    one = reduce(book)
    model = book.readings[0]
    struck = [
        model.model_copy(update={"id": f"x{i}", "value": f"{v}", "struck": True})
        for i, v in enumerate(values)
    ]
    two = reduce(replaced(book, readings=(*struck[:1], *book.readings, *struck[1:])))
    assert one.stations == two.stations
    assert (one.finishes, one.setups, one.fit) == (two.finishes, two.setups, two.fit)
    assert (one.closures, one.residuals) == (two.closures, two.residuals)


def split_book(rng: np.random.Generator, sd: float, split: bool, ties: int) -> Book:
    """Return twenty stations read by one setup, or by two that ``ties`` stations tie."""
    level = rng.normal(size=20)
    noise = sd * rng.normal(size=(2, 20))
    rows = []
    for i in range(20):
        late = split and i >= 10
        rows.append(("B" if late else "A", f"p{i}", "tile", level[i] + 7.0 + noise[0, i]))
    rows += [
        ("B" if split else "A", f"p{i}", "tile", level[i] + 7 + noise[1, i]) for i in range(ties)
    ]
    return make_book(rows, instruments=[instrument("L", 0.05)])


@pytest.mark.parametrize("seed", range(3))
def test_splitting_a_setup_without_error(seed: int) -> None:
    """One setup written as two that are tied gives the same levels from true readings."""
    one, two = (
        reduce(split_book(np.random.default_rng(seed), 0.0, split, 2)) for split in (False, True)
    )
    assert two.level == pytest.approx(one.level, abs=1e-8)
    assert two.setups["A"].constant == pytest.approx(two.setups["B"].constant, abs=1e-8)


@pytest.mark.parametrize("ties", [1, 4, 10])
def test_splitting_a_setup_with_error(ties: int) -> None:
    """Split in two, levels move by no more than the ties leave open: 2σ²/ties more variance."""
    one, two = (
        reduce(split_book(np.random.default_rng(ties), 0.05, split, ties))
        for split in (False, True)
    )
    more = np.diag(two.covariance()) - np.diag(one.covariance())
    assert more.min() > -1e-12
    assert more.max() <= 2 * 0.05**2 / ties + 1e-12
    assert np.abs(two.level - one.level).max() < 3 * 0.05 * (2 / ties) ** 0.5


def test_an_instrument_of_another_unit_of_spread() -> None:
    """All spreads tripled: levels stay, sds triple, chi-square falls to a ninth."""
    rows = [("A", s, "tile", v) for s, v in zip("pqpq", (0.1, 0.5, 0.3, 0.2), strict=True)]
    book = make_book(rows)
    tools = [i.model_dump(exclude_none=True) | {"sd": 3 * i.sd} for i in book.instruments]
    one, two = reduce(book), reduce(changed(book, instruments=tools))
    assert two.level == pytest.approx(one.level)
    assert two.stations["q"].sd == pytest.approx(3 * one.stations["q"].sd)
    assert two.fit.chi2 == pytest.approx(one.fit.chi2 / 9)
