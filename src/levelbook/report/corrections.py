"""Every reading on its way from as written to level, step by step.

The steps are those of the model of a reading: its sense, less the finish's height, less the
setup's constant, less its drift. What is left is the level that this reading alone gives;
the adjusted level of its station and the reading's residual stand beside it.
"""

from dataclasses import dataclass

import numpy as np

from levelbook.book.model import Book, Reading
from levelbook.levels.model import Levels
from levelbook.levels.observations import observe


@dataclass(frozen=True, slots=True)
class Corrected:
    """One reading, level units; ``None`` where the reading is struck or nothing determines it.

    ``gives = signed - finish - setup - drift`` and ``level = gives - residual``.
    """

    reading: Reading
    signed: float | None = None
    finish: float | None = None
    setup: float | None = None
    drift: float | None = None
    gives: float | None = None
    level: float | None = None
    sd: float | None = None
    residual: float | None = None
    w: float | None = None


def correct(book: Book, levels: Levels) -> tuple[Corrected, ...]:
    """Return every reading of the book, in document order, with its corrections."""
    seen = observe(book)
    rows = {reading.id: i for i, reading in enumerate(seen.readings)}
    hours = np.nan_to_num(seen.elapsed.hours)
    return tuple(
        Corrected(reading)
        if reading.struck
        else _corrected(
            reading, levels, float(seen.value[rows[reading.id]]), float(hours[rows[reading.id]])
        )
        for reading in book.readings
    )


def _corrected(reading: Reading, levels: Levels, signed: float, hours: float) -> Corrected:
    station = levels.stations[reading.station]
    finish = levels.finishes[reading.finish].height
    setup = levels.setups[reading.setup]
    residual = levels.residuals[reading.id]
    drift = None if setup.drift is None else setup.drift * hours
    gives = None
    if finish is not None and setup.constant is not None:
        gives = signed - finish - setup.constant - (drift or 0.0)
    return Corrected(
        reading,
        signed,
        finish,
        setup.constant,
        drift,
        gives,
        station.level,
        station.sd,
        residual.residual,
        residual.w,
    )
