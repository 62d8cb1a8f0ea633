"""A number corrected in its own cell: struck through, the new one beside it.

Which part stands is taken from the line through the other, and only where that is certain:
one number whole, one number struck, empty space between them. Anything else is left and told.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from levelbook.exchange.cells import Typed, Unclear
from levelbook.exchange.entries import Entry
from levelbook.exchange.questions import Interview
from levelbook.exchange.struck import Run
from levelbook.exchange.tables import Table

Read = Callable[[str], Typed | Unclear]
_DIGIT = re.compile(r"[0-9½¼¾⅛⅜⅝⅞⅓⅔]")
_OPEN = "a part of it is struck through, and what stands is not certain: write that alone"
_NAMED = 5
"""Cells that are named in a sentence about several; the rest are counted."""


@dataclass(frozen=True, slots=True)
class Written:
    """What a cell says: the number that stands, and the one struck through beside it if any.

    ``text`` and ``gone`` are the parts of the cell that say so. ``whole`` tells that the line
    goes through all of it: nothing stands.
    """

    stands: Typed
    text: str
    struck: Typed | None = None
    gone: str = ""
    whole: bool = False

    def entries(self, reading: Entry) -> tuple[Entry, ...]:
        """Return the readings that a row comes to: the struck one first, then what stands.

        ``reading`` is the row's but for its number; its name and remark go to what stands.
        """
        words = f"struck through beside it: {self.gone}" if self.gone and not self.struck else None
        new = replace(
            reading,
            typed=self.stands,
            cell=self.text,
            struck=reading.struck or self.whole,
            note="; ".join(filter(None, (self.stands.note, reading.note, words))) or None,
        )
        if self.struck is None:
            return (new,)
        old = replace(reading, typed=self.struck, cell=self.gone, note=self.struck.note)
        return replace(old, id=None, instead=None, struck=True, by_next=True), new


def written_in(table: Table, spot: tuple[int, int], read: Read) -> Written | Unclear:
    """Return what a cell says, its struck parts told apart; ``read`` reads a number."""
    row, column = spot
    if spot in table.struck.part:
        return _parted(table.struck.part[spot], read)
    text = table.rows[row][column]
    found = read(text)
    if isinstance(found, Unclear):
        return found
    return Written(found, text, whole=spot in table.struck.whole)


def _parted(runs: Sequence[Run], read: Read) -> Written | Unclear:
    if len(runs) != 2 or not (runs[0][0][-1:].isspace() or runs[1][0][:1].isspace()):
        return Unclear(_OPEN)
    gone, stays = (" ".join(text.split()) for text, _ in sorted(runs, key=lambda run: not run[1]))
    if not _DIGIT.search(stays):
        text = " ".join("".join(text for text, _ in runs).split())
        found = read(text)
        return found if isinstance(found, Unclear) else Written(found, text, whole=True)
    stands, struck = read(stays), read(gone)
    if isinstance(stands, Unclear):
        return stands
    if isinstance(struck, Unclear):
        return Written(stands, stays, None, gone)
    return Written(stands, stays, replace(struck, unit=struck.unit or stands.unit), gone)


def tell_struck(found: Sequence[tuple[str, Sequence[Entry]]], talk: Interview) -> None:
    """Tell which readings were struck through in their cells, and which were replaced there.

    ``found`` are the names of cells with the readings that each gave.
    """
    alone = [cell for cell, entries in found if len(entries) == 1]
    paired = [cell for cell, entries in found if len(entries) > 1]
    if alone:
        told = f"Struck through in the sheet and kept as struck readings: {_named(alone)}."
        talk.assumed.append(told)
    if paired:
        told = (
            f"Corrected within a cell: {_named(paired)}. The number struck through is kept as a "
            "struck reading, with the one beside it in its place."
        )
        talk.assumed.append(told)


def _named(cells: Sequence[str]) -> str:
    more = f" and {len(cells) - _NAMED} more" if len(cells) > _NAMED else ""
    return "; ".join(cells[:_NAMED]) + more
