"""Which stations compare: the patterns that a look at the plan gets wrong."""

import numpy as np
import pytest
from dense import Dense
from level_books import make_book

from levelbook.book.model import Book
from levelbook.levels import reduce
from levelbook.levels.estimability import PRIME, estimability
from levelbook.levels.observations import observe


def parts(rows: list[tuple[str, str, str]]) -> list[str]:
    """Return the groups of a book of these readings as words of one-letter stations."""
    levels = reduce(make_book([(*row, "0") for row in rows]))
    return ["".join(sorted(group.stations)) for group in levels.groups]


A_TILE, A_OAK, B_TILE, B_OAK = ("A", "tile"), ("A", "oak"), ("B", "tile"), ("B", "oak")
C_TILE, C_OAK = ("C", "tile"), ("C", "oak")


def read(station: str, *channels: tuple[str, str]) -> list[tuple[str, str, str]]:
    """Return the readings of a station through these channels."""
    return [(setup, station, finish) for setup, finish in channels]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        pytest.param(read("p", A_TILE) + read("q", A_TILE), ["pq"], id="one setup, one finish"),
        pytest.param(
            read("p", A_TILE) + read("q", A_OAK), ["p", "q"], id="an unpaired finish is apart"
        ),
        pytest.param(
            read("p", A_TILE) + read("q", B_TILE), ["p", "q"], id="an untied setup is apart"
        ),
        pytest.param(
            read("p", A_TILE, A_OAK) + read("q", A_OAK), ["pq"], id="a pair joins the finish"
        ),
        pytest.param(
            read("p", A_TILE, B_TILE) + read("q", B_TILE), ["pq"], id="a tie joins the setup"
        ),
        pytest.param(
            read("p", A_TILE, B_OAK) + read("q", B_OAK) + read("r", A_TILE),
            ["pqr"],
            id="a tie on two finishes joins its own two channels",
        ),
        pytest.param(
            read("p", A_TILE, B_OAK) + read("q", A_OAK) + read("r", B_TILE),
            ["p", "q", "r"],
            id="but not the two crosswise",
        ),
        pytest.param(
            read("p", A_TILE, B_OAK) + read("q", A_OAK, B_TILE) + read("r", A_TILE),
            ["pqr"],
            id="both crosswise ties together tell everything",
        ),
        pytest.param(
            read("p", A_TILE, B_OAK) + read("q", C_TILE, C_OAK) + read("r", B_TILE),
            ["pr", "q"],
            id="a pair in a third setup helps where that setup never goes",
        ),
        pytest.param(
            read("p", A_TILE) + read("q", B_TILE, A_OAK) + read("r", A_TILE, A_OAK),
            ["pqr"],
            id="a mixed tie and a pair",
        ),
        pytest.param(
            read("p", A_TILE) + read("q", B_TILE) + read("r", B_OAK) + read("s", C_TILE, C_OAK),
            ["p", "qr", "s"],
            id="a pair elsewhere joins the finishes of an untied setup",
        ),
    ],
)
def test_patterns(rows: list[tuple[str, str, str]], expected: list[str]) -> None:
    """Stations are together exactly when the readings tell their difference."""
    assert parts(rows) == expected
    slow = Dense(make_book([(*row, "0") for row in rows]))
    assert sorted("".join(sorted(part)) for part in slow.partition()) == sorted(expected)


def test_an_unpaired_finish_has_a_height_of_its_own_only() -> None:
    """An unpaired finish is the reference of its own room and compares with nothing else."""
    levels = reduce(make_book([("A", "p", "tile", "0.3"), ("A", "q", "oak", "0.8")]))
    assert [group.finish for group in levels.groups] == ["tile", "oak"]
    assert levels.finishes["oak"].height == 0.0
    assert levels.finishes["oak"].group == "g2"
    assert levels.setups["A"].constant == pytest.approx(0.3)
    assert levels.setups["A"].group == "g1"


def test_heights_that_cannot_be_told_apart_are_not_given() -> None:
    """A mixed tie alone tells neither the second finish nor the second setup."""
    rows = [("A", "p", "tile", "0.3"), ("B", "p", "oak", "0.8"), ("B", "q", "oak", "0.9")]
    levels = reduce(make_book(rows))
    assert levels.stations["q"].level == pytest.approx(0.1)
    assert (levels.finishes["oak"].height, levels.finishes["oak"].sd) == (None, None)
    assert (levels.setups["B"].constant, levels.setups["B"].sd) == (None, None)
    assert levels.finishes["oak"].group == levels.setups["B"].group == "g1"


def many_mixed_ties(count: int, extra: int, seed: int) -> Book:
    """Return a book of two-channel stations over ``count`` finishes and as many setups."""
    rng = np.random.default_rng(seed)
    rows = []
    for station in range(count + extra):
        for finish, setup in rng.integers(count, size=(2, 2)):
            rows.append((f"s{setup}", f"p{station}", f"f{finish}", "0"))
    return make_book(rows)


@pytest.mark.parametrize(("count", "extra"), [(4, 0), (8, 2), (30, 5), (30, 40)])
def test_rank_of_many_mixed_ties(count: int, extra: int) -> None:
    """The exact elimination finds the rank that singular values find, beyond 30 ties too."""
    book = many_mixed_ties(count, extra, seed=count)
    found = estimability(observe(book))
    slow = Dense(book)
    stations = len({r.station for r in book.readings})
    assert int(found.determined.sum()) == slow.rank - stations
    assert sorted(map(sorted, slow.partition())) == sorted(
        sorted(group.stations) for group in reduce(book).groups
    )


def test_remainders_say_what_the_ties_leave() -> None:
    """With every channel tied only two unknowns stay free: one finish and one setup."""
    rows = [(s, "p", f, "0") for s in "ABC" for f in ("tile", "oak")]
    found = estimability(observe(make_book(rows)))
    assert found.determined.tolist() == [False, True, False, True, True]
    assert found.remainder.tolist() == [[1, 0], [1, 0], [0, 1], [0, 1], [0, 1]]
    assert found.remainder.max() < PRIME


def test_the_modulus_is_a_prime_beyond_thirty_ties() -> None:
    """The modulus is prime, and no minor of 30 ties (at most 2³⁰) can be a multiple of it."""
    assert all(PRIME % divisor for divisor in range(2, int(PRIME**0.5) + 1))
    assert PRIME > 2**30
