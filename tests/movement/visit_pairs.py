"""Pairs of visits with a known movement, and the same later visit written in other ways."""

from collections.abc import Callable, Mapping
from decimal import Decimal

import numpy as np

from levelbook.book import parse_value
from levelbook.book.model import Book, Reading
from levelbook.floor.simulate import SimulatedHouse, simulate_house
from levelbook.levels import reduce
from levelbook.movement import Visit
from levelbook.movement.simulate import Drop, second_visit

SD = 0.05


def visit(book: Book) -> Visit:
    """Return a visit with its levels."""
    return Visit(book, reduce(book))


def pair(
    seed: int, size: float, *, stations: int = 40, finishes: int = 3
) -> tuple[SimulatedHouse, Book, dict[str, float], Drop]:
    """Return a house, its later book, the stations' true movement and the drop of a corner."""
    rng = np.random.default_rng(seed)
    house = simulate_house(rng, kind="dome", stations=stations, sd=SD, finishes=finishes)
    corners = house.book.areas[0].outline
    drop = Drop(corners[rng.integers(len(corners))], size, float(rng.uniform(12.0, 22.0)))
    rise = drop.height(np.array([s.at for s in house.book.stations]))
    moved = {s.id: float(r) for s, r in zip(house.book.stations, rise, strict=True)}
    return house, second_visit(rng, house, moved, SD), moved, drop


def rewritten(book: Book, change: Callable[[Reading, Decimal], Decimal]) -> Book:
    """Return a book with every value changed exactly."""
    readings = []
    for reading in book.readings:
        value = parse_value(reading.value)
        exact = Decimal(value.numerator) / Decimal(value.denominator)
        told = f"{change(reading, exact):f}"
        readings.append(reading.model_copy(update={"value": told}))
    return book.model_copy(update={"readings": tuple(readings)})


def zeroed_elsewhere(book: Book) -> Book:
    """Return the visit with another zero, another reference and other setups' constants."""
    shifts = {setup.id: Decimal("1.37") * (k + 1) for k, setup in enumerate(book.setups)}
    moved = rewritten(book, lambda r, v: v + shifts[r.setup])
    reference = book.reference.model_copy(update={"station": book.stations[-1].id, "finish": None})
    return moved.model_copy(update={"reference": reference})


def refloored(book: Book) -> Book:
    """Return the visit after every room got a new covering, under another name."""
    thick = {finish.id: Decimal("0.43") * k for k, finish in enumerate(book.finishes)}
    moved = rewritten(book, lambda r, v: v + thick[r.finish])
    new = {finish.id: f"new {finish.id}" for finish in book.finishes}
    return moved.model_copy(
        update={
            "finishes": tuple(
                f.model_copy(update={"id": new[f.id], "name": f"New {f.name}"})
                for f in book.finishes
            ),
            "readings": tuple(
                r.model_copy(update={"finish": new[r.finish]}) for r in moved.readings
            ),
            "reference": book.reference.model_copy(
                update={"finish": new[book.reference.finish or book.finishes[0].id]}
            ),
        }
    )


def other_instrument(book: Book) -> Book:
    """Return the visit read with a rod, on which a higher floor reads less."""
    swapped = rewritten(book, lambda _, v: -v)
    rod = book.instruments[0].model_copy(
        update={"id": "rod", "kind": "laser-and-rod", "higher_reads": "less"}
    )
    setups = tuple(s.model_copy(update={"instrument": "rod"}) for s in book.setups)
    return swapped.model_copy(update={"instruments": (rod,), "setups": setups})


def metric(book: Book) -> Book:
    """Return the visit in millimetres and metres."""

    def place(at: tuple[float, float]) -> tuple[float, float]:
        return at[0] * 0.3048, at[1] * 0.3048

    moved = rewritten(book, lambda _, v: v * Decimal("25.4"))
    level = book.instruments[0]
    return moved.model_copy(
        update={
            "units": book.units.model_copy(update={"level": "mm", "plan": "m"}),
            "instruments": (
                level.model_copy(
                    update={"sd": level.sd * 25.4, "resolution": level.resolution * 25.4}
                ),
            ),
            "stations": tuple(s.model_copy(update={"at": place(s.at)}) for s in book.stations),
            "areas": tuple(
                a.model_copy(update={"outline": tuple(place(c) for c in a.outline)})
                for a in book.areas
            ),
        }
    )


def renamed(book: Book) -> Book:
    """Return the visit with every station under another id, an inch away."""
    new = {s.id: f"again-{s.id}" for s in book.stations}
    reference = book.reference.model_copy(update={"station": new[book.reference.station]})
    return book.model_copy(
        update={
            "stations": tuple(
                s.model_copy(update={"id": new[s.id], "at": (s.at[0] + 0.08, s.at[1])})
                for s in book.stations
            ),
            "readings": tuple(
                r.model_copy(update={"station": new[r.station]}) for r in book.readings
            ),
            "reference": reference,
        }
    )


def lifted_levels(book: Book, rise: Mapping[str, float]) -> Book:
    """Return the same readings with stations risen by exactly so much."""
    return rewritten(
        book,
        lambda r, v: (
            v + book.instruments[0].sense * Decimal(f"{float(rise.get(r.station, 0.0)):.12f}")
        ),
    )
