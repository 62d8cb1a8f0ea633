"""Every reading on its way from as written to level, step by step.

The steps are those of the model of a reading: its sense, less the finish's height, less the
setup's constant, less its drift. What is left is the level that this reading alone gives;
the adjusted level of its station and the reading's residual stand beside it.

A finish or a setup may serve several groups of stations, each with a zero of its own. What
is taken off a reading is what holds in the group of its station.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from levelbook.book.model import Book, Reading
from levelbook.levels.model import Group, Levels
from levelbook.levels.observations import observe

Channel = tuple[str, str]
"""A finish read by a setup."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """One reading, level units; ``None`` where the reading is struck or nothing determines it.

    ``gives = signed - finish - setup - drift`` and ``level = gives - residual``, a part that
    is ``None`` counting nothing. ``finish`` is ``None`` where the readings tell the finish's
    height and the setup's constant only together: then ``setup`` is the sum of both.
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

    @property
    def together(self) -> bool:
        """Whether ``setup`` holds the finish's height as well."""
        return self.finish is None and self.setup is not None


@dataclass(frozen=True, slots=True)
class _Seen:
    """An unstruck reading, up positive, with its setup's drift up to it (if it drifts)."""

    reading: Reading
    signed: float
    drift: float | None


def correct(book: Book, levels: Levels) -> tuple[Corrected, ...]:
    """Return every reading of the book, in document order, with its corrections."""
    seen = _seen(book, levels)
    sums = _sums(levels, seen)
    parts = {group.id: _parts(group, levels, sums[group.id]) for group in levels.groups}
    rows = {each.reading.id: _corrected(each, levels, parts) for each in seen}
    return tuple(rows.get(reading.id, Corrected(reading)) for reading in book.readings)


def _seen(book: Book, levels: Levels) -> tuple[_Seen, ...]:
    found = observe(book)
    hours = np.nan_to_num(found.elapsed.hours).tolist()
    rates = [levels.setups[reading.setup].drift for reading in found.readings]
    return tuple(
        _Seen(reading, value, None if rate is None else rate * hour)
        for reading, value, hour, rate in zip(
            found.readings, found.value.tolist(), hours, rates, strict=True
        )
    )


def _corrected(
    seen: _Seen, levels: Levels, parts: Mapping[str, Mapping[Channel, tuple[float | None, float]]]
) -> Corrected:
    reading, station = seen.reading, levels.stations[seen.reading.station]
    finish, setup = parts[station.group][reading.finish, reading.setup]
    residual = levels.residuals[reading.id]
    return Corrected(
        reading,
        seen.signed,
        finish,
        setup,
        seen.drift,
        seen.signed - (finish or 0.0) - setup - (seen.drift or 0.0),
        station.level,
        station.sd,
        residual.residual,
        residual.w,
    )


def _sums(levels: Levels, seen: Sequence[_Seen]) -> dict[str, dict[Channel, float]]:
    """Return by group what height and constant of each channel come to together.

    Every reading of a channel leaves the same of it, so the first one tells it.
    """
    sums: dict[str, dict[Channel, float]] = {group.id: {} for group in levels.groups}
    for each in seen:
        reading, station = each.reading, levels.stations[each.reading.station]
        left = each.signed - (each.drift or 0.0) - levels.residuals[reading.id].residual
        channel = (reading.finish, reading.setup)
        sums[station.group].setdefault(channel, left - station.level)
    return sums


def _parts(
    group: Group, levels: Levels, sums: Mapping[Channel, float]
) -> dict[Channel, tuple[float | None, float]]:
    """Return height and constant by channel in one group, or the sum of both as a constant.

    What the adjustment tells of this group stands; the rest follows from the sums.
    """
    heights, constants = _told(group, levels)
    known = -1
    while known < len(heights) + len(constants):
        known = len(heights) + len(constants)
        for (finish, setup), total in sums.items():
            if finish in heights:
                constants.setdefault(setup, total - heights[finish])
            elif setup in constants:
                heights[finish] = total - constants[setup]
    return {
        (finish, setup): (heights[finish], constants[setup]) if finish in heights else (None, total)
        for (finish, setup), total in sums.items()
    }


def _told(group: Group, levels: Levels) -> tuple[dict[str, float], dict[str, float]]:
    """Return the heights and constants that the adjustment tells in one group.

    A finish told beside the group's reference finish in another group has the same height
    above it here.
    """
    reference = levels.finishes[group.finish]
    heights = {group.finish: 0.0}
    for name, finish in levels.finishes.items():
        if finish.height is None or name == group.finish:
            continue
        if finish.group == group.id:
            heights[name] = finish.height
        elif finish.group == reference.group and reference.height is not None:
            heights[name] = finish.height - reference.height
    constants = {
        name: setup.constant
        for name, setup in levels.setups.items()
        if setup.group == group.id and setup.constant is not None
    }
    return heights, constants
