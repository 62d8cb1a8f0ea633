"""Readings that do not fit, and the slip that explains each best; nothing is ever changed.

Every reading is held against what all others expect of it (see ``readings``) and the ways
to have gone wrong are weighed by their odds (see ``slips``). A gross error also spoils what
is learnt of the floor's roughness, and with it its own test. So the search goes step by
step: the reading that fits worst is taken out, the levels and the floor are fitted without
it, and only then is it judged; if it does look wrong it stays out and the search goes on
with what is left. At the end all that were taken out are judged once more against the clean
floor, each without the others.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from levelbook.book.model import Book, Instrument
from levelbook.book.units import convert
from levelbook.floor.explain import explain
from levelbook.floor.fit import fit_surface, floor_prior
from levelbook.floor.model import Array, Hyperparameters, Suspect, TooFew
from levelbook.floor.readings import (
    ReadingModel,
    Site,
    network_model,
    reading_model,
    site_of,
)
from levelbook.floor.slips import Verdict, judge, slips
from levelbook.floor.surface import Surface
from levelbook.levels.model import FinishHeight, Levels
from levelbook.levels.observations import Observations, observe, setup_instruments
from levelbook.levels.reduction import reduce

ODDS = 10.0
"""Least odds of a slip against a sound reading for it to be named."""

CRITICAL = 3.2905
"""Of Baarda's w: two-sided 0.1 % (Baarda 1968)."""

LOOK = 2.5
"""Readings off by fewer of their standard deviations than this are not looked at."""

WIDE = 1.0
"""Standard deviation, inches, of an error without a simple cause."""

FEW = 20
"""Fewer stations than this in an area are few (see ``_usual``)."""

TRIES = 3
"""Readings judged on a clean floor before the search ends without another one found."""

LARGEST = 2000
"""Readings beyond which only the network is asked: the floor's part grows with their cube."""

MOST = 40
"""Readings taken out at most."""

Fits = Mapping[str, Surface | TooFew]
Roughness = tuple[tuple[str, Hyperparameters], ...]


@dataclass(frozen=True)
class _Case:
    """A visit under examination: its readings, places, instruments and freedom of errors."""

    book: Book
    observations: Observations
    site: Site
    instruments: tuple[Instrument, ...]
    freedom: Array
    wide: float
    made: dict[Roughness, ReadingModel] = field(default_factory=dict)

    def model(self, hypers: Mapping[str, Hyperparameters]) -> ReadingModel:
        """Return the model of all readings on floors of this roughness, made once."""
        key = tuple(hypers.items())
        if key not in self.made:
            self.made[key] = reading_model(self.observations, self.site, hypers)
        return self.made[key]


@dataclass(frozen=True)
class _State:
    """What is held now: readings taken out (positions), levels and floor without them."""

    out: tuple[int, ...]
    heights: Mapping[str, FinishHeight]
    fits: Fits

    @property
    def hypers(self) -> dict[str, Hyperparameters]:
        """Of every area that has a surface, by id."""
        return {i: fit.hyper for i, fit in self.fits.items() if isinstance(fit, Surface)}


def find_suspects(book: Book, levels: Levels, fits: Fits | None = None) -> tuple[Suspect, ...]:
    """Return the readings that do not fit, most suspicious first.

    Parameters
    ----------
    book, levels
        The visit and its adjusted levels.
    fits
        The surface of every area (or that it has too few stations) fitted to these levels;
        fitted here unless given.
    """
    case = _case(book)
    if len(case.observations.readings) > LARGEST:
        return _contradicted(case, levels)
    state = _State((), levels.finishes, fits or _fit(book, levels))
    for _ in range(MOST):
        worse = _take_out(case, state)
        if worse is None:
            break
        state = worse
    return _report(case, state) if state.out else ()


def _fit(book: Book, levels: Levels) -> Fits:
    return {area.id: fit_surface(levels, book, area.id) for area in book.areas}


def _case(book: Book) -> _Case:
    observations = observe(book)
    site = site_of(book, observations)
    instruments = setup_instruments(book)
    area = site.area[observations.station]
    _, inverse, counts = np.unique(area, return_inverse=True, return_counts=True)
    return _Case(
        book=book,
        observations=observations,
        site=site,
        instruments=tuple(instruments[r.setup] for r in observations.readings),
        freedom=np.maximum(counts[inverse] - 3.0, 3.0),
        wide=convert(WIDE, "in", book.units.level),
    )


def _without(case: _Case, out: tuple[int, ...]) -> _State:
    """Adjust and fit the visit without some readings."""
    ids = {case.observations.readings[i].id for i in out}
    kept = tuple(
        r.model_copy(update={"struck": True}) if r.id in ids else r for r in case.book.readings
    )
    book = case.book.model_copy(update={"readings": kept})
    levels = reduce(book)
    return _State(out, levels.finishes, _fit(book, levels))


def _take_out(case: _Case, state: _State) -> _State | None:
    """Return the state with one more reading out, or ``None`` if no other looks wrong."""
    for row in _nominated(case, state)[:TRIES]:
        clean = _without(case, (*state.out, row))
        off, variance = case.model(clean.hypers).expect(clean.out)
        if _log_odds(_judge(case, clean.heights, row, off, variance)) > math.log(ODDS):
            return clean
    return None


def _usual(case: _Case, state: _State) -> dict[str, Hyperparameters]:
    """Return what is usual for floors of these areas, before any reading is seen.

    Among few stations a gross error bends the fitted floor to itself, and the usual floor
    would still give way to it: there a stiffer one than usual helps to see it.
    """
    usual = {}
    for area in case.book.areas:
        fit = state.fits.get(area.id)
        if isinstance(fit, Surface):
            prior = floor_prior(area, case.book.units)
            stiff = math.exp(-prior.spread[0]) if len(fit.stations) < FEW else 1.0
            usual[area.id] = replace(prior.median, amplitude=stiff * prior.median.amplitude)
    return usual


def _nominated(case: _Case, state: _State) -> list[int]:
    """Return readings worth judging on a clean floor, the likeliest slip first.

    They are sought on the floor as fitted and, as that may be spoilt, on a usual floor; a
    reading is worth it if either gives the odds, and comes the earlier the more both do.
    """
    best: dict[int, float] = {}
    total: dict[int, float] = {}
    looks = [case.model(h).expect(state.out) for h in (state.hypers, _usual(case, state))]
    z = np.max([np.nan_to_num(np.abs(off) / np.sqrt(var)) for off, var in looks], axis=0)
    z[list(state.out)] = 0.0
    for row in np.flatnonzero(z > LOOK).tolist():
        odds = [_log_odds(_judge(case, state.heights, row, off, var)) for off, var in looks]
        best[row], total[row] = max(odds), sum(odds)
    likely = [row for row, odds in best.items() if odds > math.log(ODDS)]
    return sorted(likely, key=lambda row: -total[row])


def _judge(
    case: _Case, heights: Mapping[str, FinishHeight], row: int, off: Array, variance: Array
) -> Verdict | None:
    """Weigh the slips of one reading; ``None`` where the others cannot tell of it."""
    if not np.isfinite(variance[row]):
        return None
    reading, instrument = case.observations.readings[row], case.instruments[row]
    ways = slips(reading, instrument, heights, case.wide)
    written = instrument.sense * float(off[row])
    return judge(written, float(variance[row]), float(case.freedom[row]), ways)


def _log_odds(verdict: Verdict | None) -> float:
    return -math.inf if verdict is None else verdict.log_odds


def _report(case: _Case, state: _State) -> tuple[Suspect, ...]:
    """Judge all that were taken out once more, and tell of those that still look wrong."""
    off, variance = case.model(state.hypers).expect(state.out)
    return _told(case, state.heights, state.out, (off, variance), _tied(case, state.out))


def _tied(case: _Case, out: tuple[int, ...]) -> set[int]:
    """Return those of the readings taken out that the network contradicts by itself."""
    rows, network = network_model(case.observations, case.site)
    among = [int(np.searchsorted(rows, row)) for row in out if row in rows]
    if network is None or not among:
        return set()
    off, spread = network.expect(among)
    return {int(rows[i]) for i in among if abs(off[i]) > CRITICAL * math.sqrt(spread[i])}


def _contradicted(case: _Case, levels: Levels) -> tuple[Suspect, ...]:
    """Judge a very large visit by its network alone: the worst reading of each station."""
    off, variance = np.full((2, len(case.instruments)), np.inf)
    worst: dict[str, tuple[float, int]] = {}
    for row, reading in enumerate(case.observations.readings):
        found = levels.residuals[reading.id]
        if found.w is not None and abs(found.w) > CRITICAL:
            off[row] = found.residual / found.redundancy
            variance[row] = case.observations.sd[row] ** 2 / found.redundancy
            worst[reading.station] = max(
                (abs(found.w), row), worst.get(reading.station, (0.0, row))
            )
    out = tuple(row for _, row in worst.values())
    return _told(case, levels.finishes, out, (off, variance), set(out))


def _told(
    case: _Case,
    heights: Mapping[str, FinishHeight],
    rows: tuple[int, ...],
    expected: tuple[Array, Array],
    tied: set[int],
) -> tuple[Suspect, ...]:
    """Tell of those readings that look wrong; ``tied`` contradict the network by itself."""
    off, variance = expected
    names = {finish.id: finish.name for finish in case.book.finishes}
    found = []
    for row in rows:
        verdict = _judge(case, heights, row, off, variance)
        if verdict is not None and verdict.log_odds > math.log(ODDS):
            reading, instrument = case.observations.readings[row], case.instruments[row]
            value = float(case.observations.value[row] - off[row]) * instrument.sense
            about = value, math.sqrt(float(variance[row]))
            told = explain(reading, instrument, about, verdict, row in tied, names)
            found.append((verdict.log_odds, told))
    return tuple(suspect for _, suspect in sorted(found, key=lambda pair: -pair[0]))
