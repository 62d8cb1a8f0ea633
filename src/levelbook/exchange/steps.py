"""Every reading's way to its level in numbers that add up, whatever the book is like.

Heights of finishes and constants of setups are told against the first group that tells them.
A reading of another group, or one whose finish and setup cannot be told apart, has only the
sum of both: it stands as the setup's constant then, and ``together`` says so.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from levelbook.book.model import Book, Reading
from levelbook.book.numbers import parse_value
from levelbook.levels.model import Levels
from levelbook.levels.observations import observe, setup_instruments

CLOSE = 1e-9
"""Largest difference, level units, at which the parts of a reading still add up."""


@dataclass(frozen=True, slots=True)
class Step:
    """One reading, level units and hours; ``gives = sense·value − finish − setup − drift``."""

    reading: Reading
    value: float
    sense: int
    finish: float
    setup: float
    hours: float
    drift: float
    weight: float
    together: bool

    @property
    def signed(self) -> float:
        """Sense times value: up is positive."""
        return self.sense * self.value

    @property
    def gives(self) -> float:
        """The level that this reading alone gives."""
        return self.signed - self.finish - self.setup - self.drift


def steps(book: Book, levels: Levels) -> Iterator[Step]:
    """Yield every reading of a book, struck ones too (of weight 0), in document order."""
    seen = observe(book)
    hours = dict(
        zip((r.id for r in seen.readings), np.nan_to_num(seen.elapsed.hours).tolist(), strict=True)
    )
    instruments = setup_instruments(book)
    for reading in book.readings:
        tool = instruments[reading.setup]
        value, elapsed = float(parse_value(reading.value)), hours.get(reading.id, 0.0)
        finish, setup = levels.finishes[reading.finish].height, levels.setups[reading.setup]
        drift = (setup.drift or 0.0) * elapsed
        weight = 0.0 if reading.struck else 1 / tool.variance
        plain = Step(
            *(reading, value, tool.sense, finish or 0.0, setup.constant or 0.0),
            *(elapsed, drift, weight, False),
        )
        told = finish is not None and setup.constant is not None
        yield plain if reading.struck else _adding_up(plain, levels, told=told)


def _adding_up(step: Step, levels: Levels, *, told: bool) -> Step:
    """Return the step itself where its parts give what the adjustment has, or their sum."""
    reading = step.reading
    due = levels.stations[reading.station].level + levels.residuals[reading.id].residual
    if told and abs(step.gives - due) <= CLOSE:
        return step
    together = step.signed - step.drift - due
    return Step(
        *(reading, step.value, step.sense, 0.0, together),
        *(step.hours, step.drift, step.weight, True),
    )
