"""The unstruck readings of a book as arrays, in the order they were written down."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from levelbook.book.model import Book, Instrument, Reading
from levelbook.book.numbers import parse_value
from levelbook.errors import UsageError
from levelbook.levels.drift import Elapsed, elapsed
from levelbook.levels.model import Array

Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Observations:
    """Unstruck readings, (n,) arrays; stations, finishes and setups are the used ones.

    Attributes
    ----------
    readings : tuple of Reading
        In document order.
    stations, finishes, setups : tuple of str
        Ids that occur in ``readings``, in the order of the book's own lists.
    station, finish, setup : (n,)
        Positions in those tuples.
    value : (n,)
        Sense times written value: up is positive, level units.
    sd : (n,)
        ``√(sd² + resolution²/12)`` of the instrument, level units.
    elapsed : Elapsed
        Hours into the setup, and which setups drift.
    """

    readings: tuple[Reading, ...]
    stations: tuple[str, ...]
    finishes: tuple[str, ...]
    setups: tuple[str, ...]
    station: Indices
    finish: Indices
    setup: Indices
    value: Array
    sd: Array
    elapsed: Elapsed


def observe(book: Book) -> Observations:
    """Return the unstruck readings of a book as arrays.

    Raises
    ------
    UsageError
        If an instrument that was used has no spread at all (``sd`` and ``resolution`` 0).
    """
    readings = tuple(r for r in book.readings if not r.struck)
    instruments = setup_instruments(book)
    for instrument in {r.setup: instruments[r.setup] for r in readings}.values():
        _check_spread(instrument)
    stations = _used((s.id for s in book.stations), {r.station for r in readings})
    finishes = _used((f.id for f in book.finishes), {r.finish for r in readings})
    setups = _used((s.id for s in book.setups), {r.setup for r in readings})
    setup = _positions(setups, (r.setup for r in readings))
    return Observations(
        readings=readings,
        stations=stations,
        finishes=finishes,
        setups=setups,
        station=_positions(stations, (r.station for r in readings)),
        finish=_positions(finishes, (r.finish for r in readings)),
        setup=setup,
        value=np.array(
            [instruments[r.setup].sense * float(parse_value(r.value)) for r in readings], float
        ),
        sd=np.sqrt(np.array([instruments[r.setup].variance for r in readings], float)),
        elapsed=elapsed(readings, setups, book.visit.date),
    )


def setup_instruments(book: Book) -> dict[str, Instrument]:
    """Return the instrument of every setup by the setup's id."""
    by_id = {instrument.id: instrument for instrument in book.instruments}
    return {setup.id: by_id[setup.instrument] for setup in book.setups}


def _check_spread(instrument: Instrument) -> None:
    if not (instrument.variance > 0 and np.isfinite(instrument.variance)):
        raise UsageError(
            f"instrument {instrument.id!r}",
            "its readings have no spread to weigh them by",
            "give a positive sd or resolution",
        )


def _used(ids: Iterable[str], used: set[str]) -> tuple[str, ...]:
    return tuple(i for i in ids if i in used)


def _positions(ids: tuple[str, ...], of: Iterable[str]) -> Indices:
    index = {name: i for i, name in enumerate(ids)}
    return np.array([index[name] for name in of], dtype=np.intp)
