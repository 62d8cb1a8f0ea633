"""Time within a setup, and which setups have a drift that their readings can tell.

A drift is an unknown of a setup only if

- its unstruck readings have times: all of them, or the first and the last written down and
  others between, never running backwards; a reading without a time then gets one by its
  place in the order between its timed neighbours;
- a station was read again on the same finish at another written time; and
- that interval spans at least half of the setup's whole time, so that the drift found is
  not stretched over a much longer time than it was seen in.

Otherwise the drift is absent from the model.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

import numpy as np
from numpy.typing import NDArray

from levelbook.book.model import Reading
from levelbook.book.written import parse_time
from levelbook.levels.model import Array

LEAST_SPAN = 0.5
"""Least share of a setup's time between repeated readings for a drift to be an unknown."""


@dataclass(frozen=True)
class Elapsed:
    """Hours since the setup's first reading (n,), NaN where not told; (s,) which drift."""

    hours: Array
    drifts: NDArray[np.bool_]


def elapsed(readings: Sequence[Reading], setups: Sequence[str], visit: str) -> Elapsed:
    """Return hours into its setup for each reading, and whether each setup has a drift.

    ``visit`` is the ISO 8601 date that a time of day without a date belongs to.
    """
    hours = np.full(len(readings), np.nan)
    drifts = np.zeros(len(setups), dtype=bool)
    members = defaultdict(list)
    for i, reading in enumerate(readings):
        members[reading.setup].append(i)
    for s, setup in enumerate(setups):
        rows = members[setup]
        own = [readings[i] for i in rows]
        found = setup_hours([r.time for r in own], visit)
        if found is not None:
            hours[rows] = found
            drifts[s] = _determined(own, found)
    return Elapsed(hours, drifts)


def setup_hours(times: Sequence[str | None], visit: str) -> Array | None:
    """Return hours since the earliest time, or ``None`` where order and times cannot tell.

    Times with and without an offset from UTC cannot be told apart and give ``None``.
    """
    moments = [None if t is None else moment(t, visit) for t in times]
    known = [m for m in moments if m is not None]
    if not known or len({m.tzinfo is None for m in known}) > 1:
        return None
    start = min(known)
    hours = np.array(
        [np.nan if m is None else (m - start).total_seconds() / 3600.0 for m in moments]
    )
    gaps = np.isnan(hours)
    if not gaps.any():
        return hours
    if gaps[0] or gaps[-1] or (np.diff(hours[~gaps]) < 0).any():
        return None
    order = np.arange(len(hours))
    hours[gaps] = np.interp(order[gaps], order[~gaps], hours[~gaps])
    return hours


def moment(text: str, visit: str) -> datetime | None:
    """Return an ISO 8601 date and time, or time of day at the visit; ``None`` if neither."""
    found = parse_time(text)
    if not isinstance(found, time):
        return found
    try:
        return datetime.combine(date.fromisoformat(visit), found)
    except ValueError:
        return None


def _determined(readings: Sequence[Reading], hours: Array) -> bool:
    seen: dict[tuple[str, str], list[float]] = defaultdict(list)
    for reading, hour in zip(readings, hours, strict=True):
        if reading.time is not None:
            seen[reading.station, reading.finish].append(float(hour))
    span = max(max(at) - min(at) for at in seen.values())
    return bool(span > 0 and span >= LEAST_SPAN * hours.max())
