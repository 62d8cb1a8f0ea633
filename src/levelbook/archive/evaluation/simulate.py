"""A simulated archive: many visits to invented houses, each with a book of its own.

Houses of every kind of true floor are drawn first; further visits take one of them with every
reading disturbed by a fresh error, so that no two books are alike and twenty thousand are made
in minutes. Size, year, foundation and purpose vary; some houses are visited twice.
"""

from collections.abc import Iterator

import numpy as np

from levelbook.book.model import Book, Property, Reading
from levelbook.floor.floors import KINDS
from levelbook.floor.simulate import Recipe, simulate_house

DRAWN = 300
"""Houses drawn anew; the others are disturbed from these."""

AGAIN = 0.05
"""Share of visits to a house that was visited before."""

FOUNDATIONS = ("slab-on-ground", "pier-and-beam", "crawl-space", "basement")
SHARES = (0.7, 0.15, 0.1, 0.05)


def simulate_archive(count: int, seed: int = 20260501, drawn: int = DRAWN) -> Iterator[Book]:
    """Yield the books of ``count`` visits; the same seed gives the same books."""
    kept: list[tuple[Book, float]] = []
    for k in range(count):
        rng = np.random.default_rng([seed, k])
        if len(kept) < drawn:
            kept.append(_drawn(rng, k))
            book = kept[-1][0]
        else:
            book = _disturbed(rng, *kept[int(rng.integers(len(kept)))])
        earlier = int(rng.integers(k)) if k and rng.random() < AGAIN else None
        yield _dated(rng, book, k, earlier, seed)


def _drawn(rng: np.random.Generator, k: int) -> tuple[Book, float]:
    """Return a new house and the step of its readings."""
    stations = int(np.clip(rng.gamma(6.0, 7.0), 14, 110))
    recipe = Recipe(
        kind=KINDS[k % len(KINDS)],
        stations=stations,
        sd=float(rng.uniform(0.03, 0.07)),
        plan="L" if rng.random() < 0.5 else "rectangle",
        finishes=int(rng.integers(1, 4)),
        setups=1 if stations < 40 else 2,
    )
    return simulate_house(rng, recipe).book, recipe.resolution


def _disturbed(rng: np.random.Generator, book: Book, step: float) -> Book:
    """Return a book with a fresh error in every reading, rounded as before."""
    errors = rng.normal(0.0, book.instruments[0].sd, len(book.readings))
    readings = tuple(map(_moved, book.readings, errors.tolist(), [step] * len(errors)))
    return book.model_copy(update={"readings": readings})


def _moved(reading: Reading, error: float, step: float) -> Reading:
    value = round((float(reading.value) + error) / step) * step + 0.0
    return reading.model_copy(update={"value": f"{value:.1f}"})


def _dated(rng: np.random.Generator, book: Book, k: int, earlier: int | None, seed: int) -> Book:
    """Return a book with house and visit of its own, or of the house of visit ``earlier``."""
    house = k if earlier is None else earlier
    built = np.random.default_rng([seed, house, 1])
    year = int(1950 + 75 * built.beta(2.0, 1.3))
    place = Property(
        label=f"Simulated house {house}",
        address=f"{house} Invented Lane",
        foundation=FOUNDATIONS[int(built.choice(len(FOUNDATIONS), p=SHARES))],
        year_built=year,
    )
    day = f"2025-{1 + k % 12:02}-{1 + k % 28:02}" if earlier is None else "2026-02-03"
    purpose = "repeat" if earlier is not None else ("baseline", "condition")[int(rng.integers(2))]
    visit = book.visit.model_copy(update={"date": day, "purpose": purpose})
    return book.model_copy(update={"property": place, "visit": visit})
