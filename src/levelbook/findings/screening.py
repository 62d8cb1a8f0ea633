"""Screening of a house: the rules area by area, and what holds a conclusion back."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from levelbook.book.model import Book, Reading
from levelbook.findings.facts import AreaFacts
from levelbook.findings.model import Outcome
from levelbook.findings.rules import ORDER, Rule, decide
from levelbook.floor.model import Suspect, TooFew
from levelbook.floor.shape import AreaShape, Floor
from levelbook.levels.model import Levels

LEFT_OUT = 0.2
"""Share of an area's stations without a connection that holds a conclusion back (our own)."""

UNCOVERED = 0.25
"""Share of a floor too far from readings to say that nothing is unusual there (our own)."""

Hold = Literal["no-floor", "too-few", "suspects", "finish", "cover"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The rules that decided one area; all of them have its outcome."""

    facts: AreaFacts
    rules: tuple[Rule, ...]

    @property
    def outcome(self) -> Outcome:
        """The outcome of the area."""
        return self.rules[0].outcome


@dataclass(frozen=True, slots=True)
class Held:
    """One thing that holds the outcome back, and the area it belongs to if any."""

    kind: Hold
    area: str = ""


@dataclass(frozen=True)
class Decision:
    """The outcome of a house; ``provisional`` is what it would be but for ``holds``."""

    outcome: Outcome
    provisional: Outcome | None
    verdicts: tuple[Verdict, ...]
    holds: tuple[Held, ...]


def screen(
    facts: Sequence[AreaFacts], levels: Levels, alternative: Outcome | None = None
) -> Decision:
    """Return the outcome of a house.

    Parameters
    ----------
    facts : every area and what lies outside them, from :func:`facts.gather`.
    levels : the adjusted levels, for what is connected to what.
    alternative : the outcome without the readings that look like slips, if there are any.
    """
    verdicts = tuple(Verdict(f, rules) for f in facts if (rules := decide(f)))
    provisional = max((v.outcome for v in verdicts), key=ORDER.index, default=None)
    holds = tuple(_holds(facts, levels, provisional, alternative))
    if holds and not any(v.facts.urgent for v in verdicts):
        nothing = any(h.kind in ("no-floor", "too-few") for h in holds)
        told = None if nothing else provisional
        return Decision("readings not sufficient", told, verdicts, holds)
    return Decision(provisional or "readings not sufficient", None, verdicts, holds)


def _holds(
    facts: Sequence[AreaFacts],
    levels: Levels,
    provisional: Outcome | None,
    alternative: Outcome | None,
) -> list[Held]:
    holds: list[Held] = []
    rooms = [f for f in facts if isinstance(f.shape, AreaShape | TooFew)]
    if not any(f.judged for f in rooms):
        few = [f.id for f in rooms if isinstance(f.shape, TooFew) and f.meant_level]
        holds += [Held("too-few", area) for area in few] or [Held("no-floor")]
    if alternative is not None and alternative != provisional:
        holds.append(Held("suspects"))
    for room in rooms:
        if not isinstance(room.shape, AreaShape) or not room.judged:
            continue
        read, left = connected(room.book, levels, room.shape)
        if left > LEFT_OUT * read:
            holds.append(Held("finish", room.id))
        if room.shape.coverage.share_beyond > UNCOVERED and provisional == "nothing unusual":
            holds.append(Held("cover", room.id))
    return holds


def connected(book: Book, levels: Levels, shape: AreaShape) -> tuple[int, int]:
    """Return how many stations of an area were read, and how many its surface leaves out."""
    read = [s.id for s in book.stations if s.area == shape.area and s.id in levels.stations]
    return len(read), len(read) - len(shape.surface.stations)


def confirmed(reading: Reading) -> bool:
    """Tell whether the inspector read again and kept a reading.

    It is said so in the reading itself: ``"extra": {"confirmed": "why it is kept"}``.
    """
    kept = (reading.extra or {}).get("confirmed")
    return isinstance(kept, str) and bool(kept.strip())


def unanswered(book: Book, floor: Floor) -> tuple[Suspect, ...]:
    """Return the suspect readings that the inspector has not confirmed."""
    kept = {r.id for r in book.readings if confirmed(r)}
    return tuple(s for s in floor.suspects if s.reading not in kept)


def without(book: Book, readings: Sequence[str]) -> Book:
    """Return the book with some readings struck, for a trial; the book itself stays."""
    gone = frozenset(readings)
    trial = tuple(
        r.model_copy(update={"struck": True}) if r.id in gone else r for r in book.readings
    )
    return book.model_copy(update={"readings": trial})
