"""The reduction at its edges: references, unused things, sizes, spreads, precision."""

import tracemalloc
from fractions import Fraction

import numpy as np
import pytest
from level_books import changed, instrument, make_book

from levelbook.book.model import Book
from levelbook.errors import UsageError
from levelbook.levels import Fit, adjustment, reduce


def test_nothing_was_read() -> None:
    """A book whose readings are all struck has no levels, and says so without a fuss."""
    book = make_book([("A", "p", "tile", "0")])
    struck = [r.model_dump(exclude_none=True) | {"struck": True} for r in book.readings]
    levels = reduce(changed(book, readings=struck))
    assert (levels.groups, levels.ids, levels.closures) == ((), (), ())
    assert (levels.stations, levels.residuals) == ({}, {})
    assert levels.covariance().shape == (0, 0)
    assert levels.fit == Fit(0, 0, 0, None, 0.0, None, None, None)
    assert levels.level.shape == levels.own.shape == (0,)
    assert levels.shared.shape == (0, 0)
    assert levels.finishes["tile"].group is levels.setups["A"].group is None


def test_one_reading() -> None:
    """One reading makes its station the zero and its setup's constant the value."""
    levels = reduce(make_book([("A", "p", "tile", "1 3/8")]))
    assert (levels.stations["p"].level, levels.stations["p"].sd) == (0.0, 0.0)
    assert levels.setups["A"].constant == pytest.approx(1.375)
    assert levels.setups["A"].sd == pytest.approx(0.05)
    assert levels.fit == Fit(1, 1, 0, None, 0.0, None, None, None)


def test_a_reference_that_was_not_read() -> None:
    """Without a valid reading at the reference the first station read is the zero."""
    rows = [("A", "p", "tile", "1"), ("A", "q", "tile", "2"), ("A", "r", "tile", "3")]
    book = make_book(rows, reference={"station": "p"})
    records = [r.model_dump(exclude_none=True) | {"struck": r.id == "r1"} for r in book.readings]
    (group,) = reduce(changed(book, readings=records)).groups
    assert (group.zero, group.stations) == ("q", ("q", "r"))


def test_the_reference_finish() -> None:
    """A named finish takes the height 0; levels stay those of the common floor plane."""
    rows = [
        ("A", "p", "tile", "1.0"),
        ("A", "p", "oak", "1.4"),
        ("A", "q", "oak", "2.0"),
    ]
    plain = reduce(make_book(rows))
    named = reduce(make_book(rows, reference={"station": "p", "finish": "oak"}))
    assert plain.finishes["oak"].height == pytest.approx(0.4)
    assert plain.setups["A"].constant == pytest.approx(1.0)
    assert named.groups[0].finish == "oak"
    assert named.finishes["tile"].height == pytest.approx(-0.4)
    assert named.finishes["oak"].height == 0.0
    assert named.setups["A"].constant == pytest.approx(1.4)
    assert named.setups["A"].sd == pytest.approx(0.05)
    assert named.level.tolist() == plain.level.tolist()


def test_a_reference_finish_from_another_part() -> None:
    """A named finish that the reference's group never read gives way to the first read."""
    rows = [("A", "p", "tile", "1.0"), ("A", "q", "oak", "2.0")]
    groups = reduce(make_book(rows, reference={"station": "p", "finish": "oak"})).groups
    assert [(g.zero, g.finish) for g in groups] == [("p", "tile"), ("q", "oak")]


def test_unused_things_have_no_values() -> None:
    """A finish or setup that no valid reading used has neither value nor group."""
    book = make_book([("A", "p", "tile", "1")])
    extra = changed(
        book,
        finishes=[{"id": f, "name": f} for f in ("slate", "tile")],
        setups=[{"id": s, "instrument": "L"} for s in ("Z", "A")],
        stations=[{"id": s, "at": [i, 0], "area": "a"} for i, s in enumerate("xp")],
    )
    levels = reduce(extra)
    assert levels.ids == ("p",)
    assert list(levels.finishes) == ["slate", "tile"]
    slate, unused = levels.finishes["slate"], levels.setups["Z"]
    assert (slate.height, slate.sd, slate.group) == (None, None, None)
    assert (unused.constant, unused.sd, unused.drift, unused.drift_sd, unused.group) == (None,) * 5


def test_covariance_of_some_stations() -> None:
    """The covariance of named stations is the part of the whole, in the order asked."""
    rows = [("A", s, f, "0") for s, f in ("pt", "po", "qt", "ro", "st")]
    levels = reduce(make_book(rows))
    whole = levels.covariance()
    assert levels.covariance(["s", "q"]) == pytest.approx(whole[np.ix_([3, 1], [3, 1])])
    assert whole[1, 3] == pytest.approx(0.05**2)  # the tile reading at the zero is in both


@pytest.mark.parametrize(
    ("values", "ok"),
    [(("0", "0"), False), (("0", "0.07"), True), (("0", "0.20"), False)],
)
def test_the_global_test_has_two_sides(values: tuple[str, str], ok: bool) -> None:
    """Readings that agree too well fail the two-sided test, as those that agree too badly."""
    fit = reduce(make_book([("A", "p", "tile", v) for v in values])).fit
    assert fit.ok is ok
    difference = float(values[1]) - float(values[0])
    assert fit.chi2 == pytest.approx(difference**2 / 2 / 0.05**2)
    assert fit.variance_factor == pytest.approx(fit.chi2)
    assert (fit.chi2_low, fit.chi2_high) == pytest.approx((0.000982, 5.0239), abs=1e-4)


def test_variance_factor_is_per_degree_of_freedom() -> None:
    """Three readings of one station leave two degrees of freedom."""
    fit = reduce(make_book([("A", "p", "tile", v) for v in ("0", "0.1", "0.2")])).fit
    assert fit.dof == 2
    assert fit.variance_factor == pytest.approx(0.1**2 / 0.05**2)


def test_an_instrument_without_spread_is_refused() -> None:
    """An instrument with neither sd nor resolution cannot be weighed, unless it is unused."""
    exact = instrument("L", 0.0, 0.0)
    book = make_book([("A", "p", "tile", "0")], instruments=[exact, instrument("M")])
    with pytest.raises(UsageError, match=r"instrument 'L'.*positive sd"):
        reduce(book)
    assert reduce(changed(book, setups=[{"id": "A", "instrument": "M"}])).ids == ("p",)


def test_resolution_alone_is_a_spread() -> None:
    """The rounding of a reading alone has the variance resolution²/12."""
    rows = [("A", "p", "tile", "0"), ("A", "q", "tile", "0")]
    levels = reduce(make_book(rows, instruments=[instrument("L", 0.0, 0.1)]))
    assert levels.stations["q"].sd == pytest.approx((2 * 0.1**2 / 12) ** 0.5)


def test_too_many_unknowns_are_refused() -> None:
    """A book with more setups than can be adjusted together is refused with the limit."""
    rows = [(f"s{i}", "p", "tile", "0") for i in range(adjustment.MOST_SHARED)]
    with pytest.raises(UsageError, match="601 finishes, setups and drifts are too many"):
        reduce(make_book(rows))
    assert reduce(make_book(rows[:200])).fit.dof == 0


def test_too_large_a_table_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """With many readings fewer setups are taken, so that memory stays modest."""
    monkeypatch.setattr(adjustment, "MOST_ENTRIES", 30)
    rows = [("A", f"p{i}", "tile", "0") for i in range(15)]
    assert reduce(make_book(rows)).fit.readings == 15
    with pytest.raises(UsageError, match=r"2 finishes.*keep to 1 in a book of 16 readings"):
        reduce(make_book([*rows, rows[0]]))


def test_drifts_count_among_the_unknowns(monkeypatch: pytest.MonkeyPatch) -> None:
    """A drift is one of the unknowns that there may be too many of."""
    monkeypatch.setattr(adjustment, "MOST_SHARED", 3)
    rows = [("A", "p", "tile", "0", "09:00"), ("A", "p", "tile", "0", "10:00")]
    assert reduce(make_book(rows)).setups["A"].drift == 0.0
    monkeypatch.setattr(adjustment, "MOST_SHARED", 2)
    with pytest.raises(UsageError, match="3 finishes, setups and drifts"):
        reduce(make_book(rows))


def test_a_large_book_stays_small_in_memory() -> None:
    """5,000 stations and 20,000 readings are adjusted without a matrix of stations squared."""
    rng = np.random.default_rng(5)
    setup, finish = rng.integers(8, size=20_000), rng.integers(4, size=20_000)
    rows = [
        (f"s{s}", f"p{i % 5000}", f"f{f}", "0")
        for i, (s, f) in enumerate(zip(setup, finish, strict=True))
    ]
    book = make_book(rows)
    tracemalloc.start()
    levels = reduce(book)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert len(levels.ids) == 5000
    assert levels.fit.unknowns == 4999 + 3 + 8
    assert peak < 60e6  # a full covariance alone would hold 200 MB


def exact_levels(book: Book) -> dict[str, tuple[float, float]]:
    """Return levels and sds of a book with one group by elimination in fractions."""
    tools = {i.id: i for i in book.instruments}
    setups = {s.id: tools[s.instrument] for s in book.setups}
    held = {("level", book.reference.station), ("height", book.finishes[0].id)}
    named = [
        [("level", r.station), ("height", r.finish), ("constant", r.setup)] for r in book.readings
    ]
    keys = [key for key in dict.fromkeys(k for row in named for k in row) if key not in held]
    size = len(keys)
    m = [[Fraction(0)] * (size + 1) + [Fraction(i == j) for j in range(size)] for i in range(size)]
    for reading, row in zip(book.readings, named, strict=True):
        at = [keys.index(key) for key in row if key not in held]
        weight = 1 / Fraction(str(setups[reading.setup].sd)) ** 2
        for i in at:
            for j in at:
                m[i][j] += weight
            m[i][size] += weight * Fraction(reading.value)
    for i in range(size):
        m[i] = [v / m[i][i] for v in m[i]]
        for j in range(size):
            if j != i and m[j][i]:
                m[j] = [x - m[j][i] * y for x, y in zip(m[j], m[i], strict=True)]
    return {
        key[1]: (float(m[i][size]), float(m[i][size + 1 + i]) ** 0.5)
        for i, key in enumerate(keys)
        if key[0] == "level"
    }


@pytest.mark.parametrize("ratio", [1, 1_000, 1_000_000])
@pytest.mark.parametrize("seed", range(3))
def test_very_unequal_instruments(ratio: int, seed: int) -> None:
    """Instruments a million times apart and values of ten thousand cost no digits."""
    rng = np.random.default_rng(seed)
    sd = {"L": 0.05, "M": 0.05 / ratio}
    level, height = rng.normal(size=9), {"t": 0.0, "o": 0.45}
    constant = {"A": 9876.0, "B": -8765.0, "C": 7654.0}
    tool = {"A": "L", "B": "M", "C": "L"}
    rows = []
    for station in range(9):
        for setup in rng.permutation(list("ABC"))[:2]:
            for finish in rng.permutation(list("to"))[: rng.integers(1, 3)]:
                true = level[station] + height[finish] + constant[setup]
                rows.append((setup, f"p{station}", finish, true + sd[tool[setup]] * rng.normal()))
    tools = [instrument(name, spread) for name, spread in sd.items()]
    book = make_book(rows, instruments=tools, setups=tool)
    levels = reduce(book)
    assert len(levels.groups) == 1
    for station, (value, spread) in exact_levels(book).items():
        assert levels.stations[station].level == pytest.approx(value, abs=2e-11)
        assert levels.stations[station].sd == pytest.approx(spread, rel=1e-8)
    assert sum(r.redundancy for r in levels.residuals.values()) == pytest.approx(levels.fit.dof)
