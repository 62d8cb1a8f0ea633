"""Closing checks: a station read again by one setup on one finish."""

from collections import defaultdict

import numpy as np

from levelbook.levels.model import Closure
from levelbook.levels.observations import Observations
from levelbook.levels.statistics import normal_critical


def closures(observations: Observations) -> tuple[Closure, ...]:
    """Return a closure for each station that a setup read more than once on one finish.

    First and last go by time where all of these readings have one, else by the order in
    which they were written down. The misclosure is last minus first of ``s * value``, so a
    floor that seems to have risen gives a positive one whatever the instrument's sense; it
    is as read, before any drift is taken out. ``allowed`` is its 95 % limit,
    ``1.96 √(σ²_first + σ²_last)``.
    """
    again: dict[tuple[int, int, int], list[int]] = defaultdict(list)
    channels = zip(observations.setup, observations.station, observations.finish, strict=True)
    for i, channel in enumerate(channels):
        again[channel].append(i)
    return tuple(_closure(observations, rows) for rows in again.values() if len(rows) > 1)


def _closure(observations: Observations, rows: list[int]) -> Closure:
    readings = observations.readings
    if all(readings[i].time is not None for i in rows):
        rows = [rows[j] for j in np.argsort(observations.elapsed.hours[rows], kind="stable")]
    first, last = rows[0], rows[-1]
    spread = np.hypot(observations.sd[first], observations.sd[last])
    return Closure(
        station=readings[first].station,
        setup=readings[first].setup,
        first=readings[first].id,
        last=readings[last].id,
        misclosure=float(observations.value[last] - observations.value[first]),
        allowed=float(normal_critical(0.05) * spread),
    )
