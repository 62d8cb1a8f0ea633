"""The fast reduction against the full design and a pseudoinverse, on any pattern of readings."""

import numpy as np
import pytest
from dense import Dense
from hypothesis import given, settings
from random_books import books

from levelbook.book.model import Book
from levelbook.levels import Levels, reduce
from levelbook.levels.observations import observe

CLOSE = {"rel": 1e-8, "abs": 1e-8}


def dense(book: Book, levels: Levels) -> Dense:
    """Return the slow adjustment with the drifts that the fast one has."""
    seen = observe(book)
    hours = {r.id: h for r, h in zip(seen.readings, seen.elapsed.hours, strict=True)}
    return Dense(book, [s for s, c in levels.setups.items() if c.drift is not None], hours)


def check_groups(book: Book, levels: Levels, slow: Dense) -> None:
    """Check that groups are the parts that the full design tells, in the promised order."""
    parts = slow.partition()
    home = [part for part in parts if book.reference.station in part]
    expected = home + [part for part in parts if part not in home]
    assert [set(g.stations) for g in levels.groups] == [set(part) for part in expected]
    assert [g.id for g in levels.groups] == [f"g{i + 1}" for i in range(len(parts))]
    for group, part in zip(levels.groups, expected, strict=True):
        zero = book.reference.station if part in home else part[0]
        assert group.zero == zero
        finish = next(r.finish for r in slow.readings if r.station == zero)
        among = {r.finish for r in slow.readings if r.station in part}
        if part in home and book.reference.finish in among:
            finish = book.reference.finish
        assert group.finish == finish


def check_levels(levels: Levels, slow: Dense) -> None:
    """Levels and their whole covariance, across groups too."""
    zero = {s: g.zero for g in levels.groups for s in g.stations}
    assert set(zero) == set(levels.ids) == set(levels.stations)
    rows = np.array([slow.level_difference(s, zero[s]) for s in levels.ids])
    assert levels.level == pytest.approx(rows @ slow.x, **CLOSE)
    assert levels.covariance() == pytest.approx(rows @ slow.cofactor @ rows.T, **CLOSE)
    for i, name in enumerate(levels.ids):
        station = levels.stations[name]
        assert (station.level, station.sd) == pytest.approx(
            (levels.level[i], np.sqrt(levels.covariance()[i, i])), abs=1e-12
        )
        assert station.readings == tuple(r.id for r in slow.readings if r.station == name)
        assert name in next(g.stations for g in levels.groups if g.id == station.group)
    for group in levels.groups:
        assert levels.stations[group.zero].level == levels.stations[group.zero].sd == 0.0


def check_residuals(levels: Levels, slow: Dense) -> None:
    """Residuals, redundancies, w and the global figures."""
    assert set(levels.residuals) == {r.id for r in slow.readings}
    for i, reading in enumerate(slow.readings):
        found, r = levels.residuals[reading.id], slow.redundancy[i]
        assert found.residual == pytest.approx(slow.residual[i], **CLOSE)
        assert found.redundancy == pytest.approx(r, abs=1e-9)
        if r > 1e-6:
            assert found.w == pytest.approx(slow.residual[i] / slow.sd[i] / r**0.5, **CLOSE)
        else:
            assert found.w is None
    assert levels.fit.unknowns == slow.rank
    assert levels.fit.dof == levels.fit.readings - slow.rank == len(slow.readings) - slow.rank
    assert levels.fit.chi2 == pytest.approx(slow.chi2, rel=1e-8, abs=1e-6)


def first_told(levels: Levels, slow: Dense, members: set[str], rows: dict[str, np.ndarray]) -> str:
    """Return the first group, of those that read the thing, whose combination is told."""
    for group in levels.groups:
        if members & set(group.stations) and slow.tells(rows[group.id]):
            return group.id
    return ""


def check_shared(book: Book, levels: Levels, slow: Dense) -> None:
    """Heights and constants, told or not, in the first group that tells them."""
    for finish in book.finishes:
        members = {r.station for r in slow.readings if r.finish == finish.id}
        rows = {
            g.id: slow.row({("height", finish.id): 1.0}) - slow.row({("height", g.finish): 1.0})
            for g in levels.groups
        }
        check_one(levels, slow, levels.finishes[finish.id], (members, rows), "height")
    for setup in book.setups:
        members = {r.station for r in slow.readings if r.setup == setup.id}
        rows = {
            g.id: slow.row({("constant", setup.id): 1.0})
            + slow.row({("height", g.finish): 1.0, ("level", g.zero): 1.0})
            for g in levels.groups
        }
        found = levels.setups[setup.id]
        check_one(levels, slow, found, (members, rows), "constant")
        if found.drift is not None:
            row = slow.row({("drift", setup.id): 1.0})
            assert slow.tells(row)
            assert found.drift == pytest.approx(slow.value(row), rel=1e-7, abs=1e-7)
            assert found.drift_sd == pytest.approx(slow.spread(row), rel=1e-7)


def check_one(levels, slow, found, where, name) -> None:
    """One height or constant against the slow adjustment."""
    members, rows = where
    group = first_told(levels, slow, members, rows)
    if not members:
        assert found.group is None
    if not group:
        assert getattr(found, name) is None
        assert found.sd is None
        among = [g.id for g in levels.groups if members & set(g.stations)]
        assert found.group == (among[0] if among else None)
        return
    assert found.group == group
    assert getattr(found, name) == pytest.approx(slow.value(rows[group]), **CLOSE)
    assert found.sd == pytest.approx(slow.spread(rows[group]), **CLOSE)


def check_all(book: Book) -> Levels:
    """Everything that the reduction returns, against the slow adjustment."""
    levels = reduce(book)
    if not levels.ids:
        assert all(r.struck for r in book.readings)
        return levels
    slow = dense(book, levels)
    check_groups(book, levels, slow)
    check_levels(levels, slow)
    check_residuals(levels, slow)
    check_shared(book, levels, slow)
    return levels


@given(book=books())
@settings(max_examples=250)
def test_any_pattern(book: Book) -> None:
    """Whatever was read by what, fast and slow agree in every figure."""
    check_all(book)


@given(book=books(timed=True))
@settings(max_examples=150)
def test_any_pattern_with_times(book: Book) -> None:
    """The same with times, where closing checks bring drifts in."""
    check_all(book)
