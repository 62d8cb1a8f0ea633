"""A second visit to a simulated house whose movement is known, to test against the truth."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from levelbook.book.model import Book
from levelbook.floor.model import Array
from levelbook.floor.simulate import SimulatedHouse


@dataclass(frozen=True)
class Drop:
    """A corner that went down by ``size`` (inches), falling off to nothing at ``reach`` (ft).

    ``power`` 2 leaves the sound floor smoothly, 1 like a slab broken off at a line.
    """

    corner: tuple[float, float]
    size: float
    reach: float
    power: float = 2.0

    def height(self, xy: Array) -> Array:
        """Return how far the places (m, 2) rose: nothing, or less than nothing."""
        away = np.hypot(*(np.asarray(xy, dtype=float) - self.corner).T)
        return np.asarray(-self.size * np.maximum(0.0, 1.0 - away / self.reach) ** self.power)


def second_visit(
    rng: np.random.Generator, house: SimulatedHouse, moved: Mapping[str, float], sd: float
) -> Book:
    """Return a later visit: every station risen by ``moved`` (inches), everything else anew.

    The zero, the setups' constants and the finishes' heights are drawn again; the readings
    have new errors of ``sd`` and are rounded as the instrument shows them.
    """
    first = house.book
    step = Decimal(str(first.instruments[0].resolution)) or Decimal("1e-12")
    heights = {finish: float(rng.uniform(-0.7, 0.7)) for finish in house.heights}
    constants = {setup: float(rng.uniform(-0.6, 0.6)) for setup in house.constants}
    readings = []
    for reading in first.readings:
        value = house.levels[reading.station] + moved.get(reading.station, 0.0)
        value += heights[reading.finish] + constants[reading.setup]
        value += float(sd * rng.standard_normal())
        shown = round(Decimal(first.instruments[0].sense * value) / step) * step
        readings.append(reading.model_copy(update={"value": f"{shown:f}"}))
    visit = first.visit.model_copy(update={"date": "2026-12-15", "purpose": "repeat"})
    return first.model_copy(update={"readings": tuple(readings), "visit": visit})
