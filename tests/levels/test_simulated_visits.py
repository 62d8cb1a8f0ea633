"""Simulated visits: levels reach the Cramér-Rao bound and their intervals cover the truth."""

import numpy as np
import pytest
from dense import Dense
from level_books import instrument, make_book

from levelbook.book.model import Book
from levelbook.levels import reduce

VISITS = 400
HEIGHT = {"tile": 0.0, "oak": 0.47, "carpet": 0.61}
CONSTANT = {"A": 0.31, "B": -2.84}


def plan() -> list[tuple[str, str, str]]:
    """Return who reads what: 36 stations, three finishes, two setups, pairs, ties, checks."""
    rows = []
    for i in range(36):
        setup = "A" if i < 20 else "B"
        rows.append((setup, f"p{i}", list(HEIGHT)[i // 4 % 3]))
    rows += [("A", f"p{i}", f) for i, f in ((0, "oak"), (4, "tile"), (8, "tile"), (11, "tile"))]
    rows += [("B", f"p{i}", "oak") for i in (5, 17)] + [("B", "p30", "carpet")]
    return [*rows, ("A", "p0", "tile"), ("B", "p20", "carpet"), ("A", "p33", "tile")]


LEVEL = 0.4 * np.sin(np.arange(36) / 5.0)
ROWS = plan()
STATION = np.array([int(station[1:]) for _, station, _ in ROWS])
SIGNAL = LEVEL[STATION] + [HEIGHT[finish] + CONSTANT[setup] for setup, _, finish in ROWS]


def visits(resolution: float, seed: int) -> tuple[Book, list[Book]]:
    """Return a book of these readings, and it with the errors of each visit."""
    tools = [instrument("L", 0.05, resolution, higher_reads="less")]
    book = make_book([(*row, "0") for row in ROWS], instruments=tools)
    rng = np.random.default_rng(seed)
    made = []
    for _ in range(VISITS):
        value = -(SIGNAL + 0.05 * rng.normal(size=len(SIGNAL)))
        if resolution:
            value = np.round(value / resolution) * resolution
        readings = tuple(
            r.model_copy(update={"value": f"{v:.6f}"})
            for r, v in zip(book.readings, value, strict=True)
        )
        made.append(book.model_copy(update={"readings": readings}))
    return book, made


def test_the_bound_is_reached_on_paper() -> None:
    """Standard deviations are those of the inverse of the full model's information."""
    book, _ = visits(0.1, seed=0)
    levels, slow = reduce(book), Dense(book)
    assert len(levels.groups) == 1
    zero = levels.groups[0].zero
    white = slow.a / slow.sd[:, None]
    free = [
        i
        for i, key in enumerate(slow.keys)
        if key not in (("level", zero), ("height", levels.groups[0].finish))
    ]
    bound = np.linalg.inv((white.T @ white)[np.ix_(free, free)])
    for i, position in enumerate(free):
        kind, name = slow.keys[position]
        if kind == "level":
            assert levels.stations[name].sd == pytest.approx(bound[i, i] ** 0.5, rel=1e-9)
        elif kind == "height":
            assert levels.finishes[name].sd == pytest.approx(bound[i, i] ** 0.5, rel=1e-9)
        else:
            assert levels.setups[name].sd == pytest.approx(bound[i, i] ** 0.5, rel=1e-9)


def test_the_spread_found_is_the_spread_told() -> None:
    """Over many visits without rounding, levels scatter as told and centre on the truth."""
    _, made = visits(0.0, seed=11)
    adjusted = [reduce(visit) for visit in made]
    error = np.array([a.level for a in adjusted]) - (LEVEL - LEVEL[0])
    told = np.sqrt(np.diag(adjusted[0].covariance()))[1:]
    scatter = np.sqrt((error[:, 1:] ** 2).mean(axis=0))
    assert np.sqrt(((scatter / told) ** 2).mean()) == pytest.approx(1.0, abs=0.03)
    assert np.abs(error[:, 1:].mean(axis=0) / told).max() < 4 / VISITS**0.5
    # in every direction at once: the Mahalanobis distance is chi-square with 35 degrees
    inverse = np.linalg.inv(adjusted[0].covariance()[1:, 1:])
    distance = np.einsum("vi,ij,vj->v", error[:, 1:], inverse, error[:, 1:]).mean()
    assert distance == pytest.approx(35, rel=0.03)
    chi2 = np.mean([a.fit.chi2 for a in adjusted])
    assert chi2 == pytest.approx(adjusted[0].fit.dof, rel=0.07)
    assert 0.02 <= np.mean([not a.fit.ok for a in adjusted]) <= 0.09


def test_intervals_cover_with_rounding() -> None:
    """With readings written to a tenth, 95 % intervals hold the truth 92 to 98 % of times."""
    _, made = visits(0.1, seed=12)
    hits = []
    for visit in made:
        levels = reduce(visit)
        sd = np.sqrt(np.diag(levels.covariance()))[1:]
        hits.append(np.abs(levels.level - (LEVEL - LEVEL[0]))[1:] <= 1.96 * sd)
    assert 0.92 <= np.mean(hits) <= 0.98
    assert np.mean(hits, axis=0).min() > 0.90
