"""What the other readings expect of a reading, without adjusting again."""

from collections.abc import Mapping
from typing import NamedTuple

from levelbook.book.model import Book, Instrument, Reading
from levelbook.book.numbers import parse_value
from levelbook.errors import UsageError
from levelbook.levels.least_squares import TESTABLE
from levelbook.levels.model import Levels
from levelbook.levels.observations import setup_instruments


class Expected(NamedTuple):
    """A reading as the others expect it, in its own written sense, level units.

    ``sd`` is that of ``value`` alone, without the error of a reading. A sound reading lies
    off by ``√(sd² + σ²)``, which is ``σ/√r``.
    """

    value: float
    sd: float


def leave_one_out(book: Book, levels: Levels, reading_id: str) -> Expected | None:
    """Return what the other readings expect of one, ``None`` if they cannot tell or it is struck.

    With residual ``v``, redundancy ``r`` and standard deviation ``σ`` of the reading, the
    adjustment without it would give ``value - v/r`` (in the sense of ``s · value``) with
    variance ``σ² (1 - r)/r``; both follow exactly from the full adjustment (Cook & Weisberg,
    *Residuals and Influence in Regression*, 1982, 2.2).

    Raises
    ------
    UsageError
        If the book has no such reading.
    """
    for reading in book.readings:
        if reading.id == reading_id:
            return _expected(reading, setup_instruments(book)[reading.setup], levels)
    raise UsageError("reading", f"no reading {reading_id!r}", "give the id of one in the book")


def leave_each_out(book: Book, levels: Levels) -> Mapping[str, Expected]:
    """Return :func:`leave_one_out` for every reading that the others can tell, by id."""
    instruments = setup_instruments(book)
    each = {r.id: _expected(r, instruments[r.setup], levels) for r in book.readings}
    return {name: expected for name, expected in each.items() if expected is not None}


def _expected(reading: Reading, instrument: Instrument, levels: Levels) -> Expected | None:
    found = levels.residuals.get(reading.id)
    if found is None or found.redundancy < TESTABLE:
        return None
    value = float(parse_value(reading.value))
    off = instrument.sense * found.residual / found.redundancy
    spread = instrument.variance * (1.0 - found.redundancy) / found.redundancy
    return Expected(value - off, max(spread, 0.0) ** 0.5)
