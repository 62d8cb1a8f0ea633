"""What is struck through on the sheets of a spreadsheet: whole cells, or words within one.

A line through a number is how people correct one on a sheet that is passed on. The reader of
the cells gives the numbers alone, so styles and runs of text are looked at here.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

Spot = tuple[int, int]
"""Row and column of a cell, from 0."""
Run = tuple[str, bool]
"""A part of a cell's text, and whether it is struck through."""


@dataclass(frozen=True)
class Struck:
    """The struck cells of one sheet: ``whole`` ones, and the runs of those struck in ``part``."""

    whole: frozenset[Spot] = frozenset()
    part: Mapping[Spot, tuple[Run, ...]] = field(default_factory=dict)


NOTHING = Struck()


class Sheets(Protocol):
    """A file's sheets, asked for what is struck on each."""

    def on(self, sheet: str) -> Struck:
        """Return what is struck on the sheet of this name."""
        ...

    def by_rule(self) -> bool:
        """Tell whether a rule for the looks of cells may strike some, too."""
        ...


class Gathered:
    """Gathers the struck cells of one sheet."""

    def __init__(self) -> None:
        self._whole: set[Spot] = set()
        self._part: dict[Spot, tuple[Run, ...]] = {}

    def add(self, spots: Iterable[Spot], runs: Iterable[Run]) -> None:
        """Take the runs of a text that stands in some cells; runs alike are joined."""
        told = joined(runs)
        if not any(struck for _, struck in told):
            return
        if len(told) == 1:
            self._whole.update(spots)
        else:
            self._part.update(dict.fromkeys(spots, told))

    def told(self) -> Struck:
        """Return what was gathered."""
        return Struck(frozenset(self._whole), self._part)


def joined(runs: Iterable[Run]) -> tuple[Run, ...]:
    """Return runs with neighbours alike made one; empty space goes with what is before it."""
    found: list[Run] = []
    for text, struck in runs:
        if found and (struck == found[-1][1] or not text.strip()):
            found[-1] = (found[-1][0] + text, found[-1][1])
        elif found and not found[-1][0].strip():
            found[-1] = (found[-1][0] + text, struck)
        elif text:
            found.append((text, struck))
    return tuple(found)


def is_on(value: str | None) -> bool:
    """Tell whether a mark in a sheet's XML is set; one without a value is."""
    return value is None or value.strip().lower() in ("1", "true", "on")


_SPOT = re.compile(r"([A-Z]{1,4})([0-9]{1,8})")


def spot_of(name: str) -> Spot | None:
    """Return the place of a cell by its name such as ``B5``, ``None`` if it is none."""
    match = _SPOT.fullmatch(name)
    if match is None:
        return None
    column = 0
    for sign in match[1]:
        column = 26 * column + ord(sign) - 64
    return int(match[2]) - 1, column - 1
