"""More than two visits: every station, tilt and bend in time.

All visits are put on one datum, the mean of the stations that hold in every comparison with
the first visit (the S-transformation of least trace), so that the values of different visits
have no error in common and lines through them are plain weighted least squares. Change of tilt
and bend is followed through fixed sums of the same stations' levels, those that the surface of
the whole movement, first to last, weighs them with.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

import numpy as np

from levelbook.book.model import Area
from levelbook.book.units import rise_per_run
from levelbook.errors import UsageError
from levelbook.floor.footprint import footprint
from levelbook.floor.profiles import POINTS, chord_removal
from levelbook.floor.surface import Surface
from levelbook.floor.tilt import plane_weights
from levelbook.movement.compare import compare
from levelbook.movement.matching import difference, level_scale
from levelbook.movement.model import Array, Comparison, DeflectionChange, Visit
from levelbook.movement.shape import CELLS, movement_surface
from levelbook.movement.trend import Trend, fit_trend

DAYS = 365.25


@dataclass(frozen=True)
class Track:
    """One quantity in time, change since the first visit.

    ``visits`` are positions in the list of visits; ``change`` and ``sd`` stand beside them,
    the first being 0 without error.
    """

    visits: tuple[int, ...]
    change: tuple[float, ...]
    sd: tuple[float, ...]
    trend: Trend | None


@dataclass(frozen=True)
class Series:
    """Three or more visits: comparisons of each with the first, and what follows in time.

    Only the comparison with the last visit holds the changes of every area's shape.
    ``years`` counts from the first visit. ``tilt_x``, ``tilt_y`` (rise over run) and
    ``deflection`` are of the main area; ``line`` is the one that the deflection is along.
    """

    visits: tuple[Visit, ...]
    years: tuple[float, ...]
    comparisons: tuple[Comparison, ...]
    datum: tuple[str, ...]
    stations: Mapping[str, Track]
    tilt_x: Track | None
    tilt_y: Track | None
    deflection: Track | None
    line: DeflectionChange | None

    @property
    def whole(self) -> Comparison:
        """The comparison of the first visit with the last."""
        return self.comparisons[-1]


def follow(
    visits: Sequence[Visit], *, hold: Collection[str] = (), tolerance: float | None = None
) -> Series:
    """Return what three or more visits, oldest first, say in time.

    Raises
    ------
    UsageError
        If there are fewer than three, a date cannot be read, or two cannot be compared.
    """
    if len(visits) < 3:
        raise UsageError("visits", f"{len(visits)} visits make no series", "give three or more")
    for one, other in pairwise(visits):
        if other.book.visit.date < one.book.visit.date:
            raise UsageError(
                "visits",
                f"the visit of {other.book.visit.date} is given after that of "
                f"{one.book.visit.date}",
                "give the visits in the order of their dates",
            )
    first = visits[0]
    last = len(visits) - 1
    compared = tuple(
        compare(first, visit, hold=hold, tolerance=tolerance, shape=k == last)
        for k, visit in enumerate(visits[1:], start=1)
    )
    start = _day(first)
    years = tuple((_day(visit) - start) / DAYS for visit in visits)
    datum = _common([set(each.datum.stations) for each in compared], compared)
    tracks = _Tracks(tuple(visits), compared, datum, years)
    shape = _shape(tracks, compared[-1])
    return Series(
        visits=tuple(visits),
        years=years,
        comparisons=compared,
        datum=datum,
        stations=tracks.stations(),
        tilt_x=shape.get("x"),
        tilt_y=shape.get("y"),
        deflection=shape.get("bend"),
        line=_main_line(compared[-1]),
    )


def _day(visit: Visit) -> int:
    """Return the day of a visit as a count of days."""
    written = visit.book.visit.date
    try:
        return date.fromisoformat(written[:10]).toordinal()
    except ValueError:
        raise UsageError(
            f"visit.date {written!r}", "this is no date to count from", "write it as 2026-05-31"
        ) from None


def _common(held: list[set[str]], compared: tuple[Comparison, ...]) -> tuple[str, ...]:
    """Return the stations of the first group that hold in every comparison.

    Where fewer than two do, those matched in every comparison stand in for them.
    """
    first = compared[0].earlier
    order = [i for i in first.levels.ids if i in first.levels.groups[0].stations]
    everywhere = set.intersection(*held)
    found = tuple(i for i in order if i in everywhere)
    if len(found) >= 2:
        return found
    matched = set.intersection(*({*each.differences.ids} for each in compared))
    return tuple(i for i in order if i in matched)


@dataclass(frozen=True)
class _Tracks:
    """Levels of all visits on one datum, in the first visit's unit."""

    visits: tuple[Visit, ...]
    compared: tuple[Comparison, ...]
    datum: tuple[str, ...]
    years: tuple[float, ...]

    def names(self, visit: int) -> Mapping[str, str]:
        """Return each matched station's id on one visit by its id on the first."""
        if visit == 0:
            return {i: i for i in self.visits[0].levels.ids}
        return {pair.earlier: pair.later for pair in self.compared[visit - 1].matching.pairs}

    def stations(self) -> dict[str, Track]:
        """Return the track of every station that the first visit connects to its zero."""
        if not self.datum:
            return {}
        values: dict[str, list[tuple[int, float, float]]] = {}
        for k in range(len(self.visits)):
            for station, level, sd in self._levels(k):
                values.setdefault(station, []).append((k, level, sd))
        return {
            station: self.track(
                [k for k, _, _ in told],
                np.array([level for _, level, _ in told]),
                np.array([sd for _, _, sd in told]),
            )
            for station, told in values.items()
            if told[0][0] == 0 and len(told) > 1
        }

    def _levels(self, visit: int) -> list[tuple[str, float, float]]:
        """Return station, level over the datum's mean and its sd, of one visit."""
        names = self.names(visit)
        levels = self.visits[visit].levels
        group = levels.stations[names[self.datum[0]]].group
        ids = [
            i
            for i in names
            if levels.stations[names[i]].group == group
            and self.visits[0].levels.stations[i].group == self.visits[0].levels.groups[0].id
        ]
        rows = np.eye(len(ids)) - np.isin(ids, self.datum) / sum(i in ids for i in self.datum)
        value, covariance = self.sums(visit, rows, ids)
        sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
        return list(zip(ids, value.tolist(), sd.tolist(), strict=True))

    def sums(self, visit: int, rows: Array, ids: Sequence[str]) -> tuple[Array, Array]:
        """Return sums (k,) of one visit's levels, and their covariance (k, k)."""
        names, each = self.names(visit), self.visits[visit]
        scale = level_scale(self.visits[0], each)
        own = [names[i] for i in ids]
        level = each.levels.level[[each.levels.index[i] for i in own]]
        covariance = each.levels.covariance(own)
        return rows @ level * scale, rows @ covariance @ rows.T * scale**2

    def track(self, visits: Sequence[int], values: Array, sd: Array) -> Track:
        """Return values of some visits as changes since the first of them, with their trend."""
        chosen = tuple(visits)
        spread = np.hypot(sd, sd[0])
        spread[0] = 0.0
        years = [self.years[k] for k in chosen]
        return Track(
            chosen,
            tuple((values - values[0]).tolist()),
            tuple(spread.tolist()),
            fit_trend(years, values, sd),
        )


def _shape(tracks: _Tracks, whole: Comparison) -> dict[str, Track]:
    """Return tilt and bend of the main area in time, from stations read on every visit."""
    first = whole.earlier
    main = next(a for a in first.book.areas if a.id == whole.main)
    surface = _common_surface(tracks, whole, main)
    if surface is None:
        return {}
    rows = _weights(surface, first, main, _main_line(whole))
    sums = [tracks.sums(k, rows, surface.stations) for k in range(len(tracks.visits))]
    values = np.array([value for value, _ in sums])
    sd = np.sqrt(np.maximum([np.diag(covariance) for _, covariance in sums], 0.0))
    every = range(len(tracks.visits))
    names = ("x", "y", "bend")[: len(rows)]
    return {name: tracks.track(every, values[:, k], sd[:, k]) for k, name in enumerate(names)}


def _main_line(whole: Comparison) -> DeflectionChange | None:
    area = whole.areas.get(whole.main)
    return None if area is None else area.deflection


def _common_surface(tracks: _Tracks, whole: Comparison, main: Area) -> Surface | None:
    """Return the surface of the whole movement over stations of one group on every visit."""
    homes = {s.id: s.area for s in whole.earlier.book.stations}
    groups = _groups(tracks)
    ids = [i for i in groups if homes[i] == main.id]
    if not ids:
        return None
    kept = max(groups[i] for i in ids)
    shared = {i for i in ids if groups[i] == kept}
    pairs = tuple(p for p in whole.matching.pairs if p.earlier in shared)
    part = difference(whole.earlier, whole.later, pairs)
    return movement_surface(whole.earlier, main, part)


def _groups(tracks: _Tracks) -> dict[str, tuple[str, ...]]:
    """Return the groups that each station is of, for the stations read on every visit."""
    names = [tracks.names(k) for k in range(len(tracks.visits))]
    shared = set.intersection(*(set(each) for each in names))
    return {
        i: tuple(
            visit.levels.stations[named[i]].group
            for visit, named in zip(tracks.visits, names, strict=True)
        )
        for i in names[0]
        if i in shared
    }


def _weights(surface: Surface, first: Visit, area: Area, line: DeflectionChange | None) -> Array:
    """Return the sums (2 or 3, n) of stations' levels that are tilt in x and y, and bend."""
    # The surface's mean is linear in the levels: with the identity for levels it is its weights.
    unit = replace(surface, level=np.eye(len(surface.stations)))
    cells = footprint(area).cells(CELLS)
    plane = plane_weights(cells.xy, cells.share) * rise_per_run(first.book.units)
    rows = [unit.functional(plane, cells.xy)[0]]
    if line is not None:
        ends = np.asarray(line.line)
        at = ends[0] + np.linspace(0.0, 1.0, POINTS)[:, None] * (ends[1] - ends[0])
        offset = chord_removal(POINTS) @ surface.predict(at)[0]
        worst = chord_removal(POINTS)[[int(np.abs(offset).argmax())]]
        rows.append(unit.functional(worst, at)[0])
    return np.vstack(rows)
