"""Collecting the faults of a document, and showing its own words safely in them."""

import json
import re
from collections.abc import Sequence
from typing import NoReturn, TypeAlias

from levelbook.book.limits import FAULTS
from levelbook.errors import DocumentError, Fault

_PLAIN_KEY = re.compile(r"[A-Za-z_][A-Za-z0-9_-]{0,39}")

Step = str | int
Json: TypeAlias = dict[str, "Json"] | list["Json"] | str | float | bool | None


class Collector:
    """Keeps the first faults of a document and counts the others."""

    def __init__(self) -> None:
        self._kept: list[Fault] = []
        self._more = 0

    @property
    def count(self) -> int:
        """How many faults were found in all."""
        return len(self._kept) + self._more

    @property
    def full(self) -> bool:
        """Whether further faults are only counted, so that their wording costs nothing."""
        return len(self._kept) >= FAULTS

    def add(self, code: str, place: Sequence[Step], problem: str, remedy: str) -> None:
        """Take one fault at ``place`` (keys and indices from the top of the document)."""
        if self.full:
            self._more += 1
        else:
            self._kept.append(Fault(code, place_of(place), problem, remedy))

    def count_more(self, faults: int) -> None:
        """Count faults that are not told one by one."""
        self._more += faults

    def stop(self, code: str, problem: str, remedy: str, place: Sequence[Step] = ()) -> NoReturn:
        """Raise at once: nothing further can be read after this fault of the whole document.

        Raises
        ------
        DocumentError
            Always.
        """
        self.add(code, place, problem, remedy)
        raise DocumentError(self.faults())

    def faults(self) -> tuple[Fault, ...]:
        """Return the kept faults, and a last one telling how many more there are."""
        if not self._more:
            return tuple(self._kept)
        rest = Fault(
            "more-faults",
            "document",
            f"and {self._more:,} more faults",
            "mend those above and check again",
        )
        return (*self._kept, rest)

    def stop_if_any(self) -> None:
        """Raise the faults found so far, if any.

        Raises
        ------
        DocumentError
            With all of the faults.
        """
        if self._kept:
            raise DocumentError(self.faults())


def show(value: object, length: int = 40) -> str:
    """Return a value of the document for a message: quoted, escaped, cut to ``length``."""
    if isinstance(value, (dict, list, tuple)):
        return "a list" if not isinstance(value, dict) else "an object"
    text = value if isinstance(value, str) else json.dumps(value)
    cut = text if len(text) <= length else text[: length - 1] + "…"
    if not isinstance(value, str):
        return cut
    safe = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in cut)
    return f"'{safe}'"


def place_of(path: Sequence[Step]) -> str:
    """Return a path as words: ``readings[14].station``; the top is ``document``."""
    words = ""
    for step in path:
        if isinstance(step, int):
            words += f"[{step}]"
        elif _PLAIN_KEY.fullmatch(step):
            words += f".{step}" if words else step
        else:
            words += f"[{show(step)}]"
    return words or "document"
