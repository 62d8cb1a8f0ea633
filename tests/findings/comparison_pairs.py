"""Comparisons of a simulated house with a corner that went down by so much."""

import numpy as np

from levelbook.floor.simulate import simulate_house
from levelbook.levels import reduce
from levelbook.movement import Comparison, Visit, compare
from levelbook.movement.simulate import Drop, second_visit


def compared(size: float, *, hold: tuple[str, ...] = ()) -> Comparison:
    """Return the comparison; the corner falls by ``size`` inches over 16 ft."""
    rng = np.random.default_rng(11)
    house = simulate_house(rng, kind="dome", stations=30)
    rise = Drop((0.0, 0.0), size, 16.0).height(np.array([s.at for s in house.book.stations]))
    moved = {s.id: float(r) for s, r in zip(house.book.stations, rise, strict=True)}
    later = second_visit(rng, house, moved, 0.05)
    first, second = Visit(house.book, reduce(house.book)), Visit(later, reduce(later))
    return compare(first, second, hold=hold)
