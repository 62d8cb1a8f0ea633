"""What is concluded: criteria with their state, the screening and the words for it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from levelbook.book.model import Book
from levelbook.floor.garage import Garage
from levelbook.floor.grade import GradeFall
from levelbook.floor.shape import AreaShape, Floor
from levelbook.levels.model import Levels

State = Literal["within", "beyond", "too close to call", "not measured"]
Basis = Literal["published", "common practice"]
Kind = Literal[
    "movement", "construction tolerance", "damage category", "survey quality", "drainage"
]
Outcome = Literal["nothing unusual", "keep watching", "ask an engineer", "readings not sufficient"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One criterion applied to one area (or the property); value, sd and limit in ``unit``.

    ``kind`` keeps limits on movement apart from construction tolerances; where ``at_least``
    the value is asked to reach the limit, not to stay under it. ``signs_needed`` is how many
    signs of distress the source asks for before the number means anything, and ``signs`` how
    many were written down there.
    """

    id: str
    set: str
    title: str
    quantity: str
    area: str | None
    value: float | None
    sd: float | None
    limit: float
    unit: str
    state: State
    basis: Basis
    source: str
    note: str
    kind: Kind = "movement"
    secondary: bool = False
    signs_needed: int = 0
    signs: int = 0
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class SetInfo:
    """Where a set of criteria comes from and when it applies."""

    id: str
    title: str
    edition: str
    applies_when: str
    note: str


@dataclass(frozen=True, slots=True)
class Override:
    """A sentence that the inspector replaced, with the reason; the original is kept."""

    key: str
    original: str
    text: str
    reason: str
    by: str | None


@dataclass(frozen=True, slots=True)
class Screening:
    """The outcome of screening, never a verdict on the structure.

    ``outcome`` is the one that stands: the program's, or the inspector's where ``overruled``
    tells the original and the reason.
    """

    outcome: Outcome
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    overruled: Override | None = None


@dataclass(frozen=True, slots=True)
class NoGarage:
    """Why nothing is said about a garage floor: too few stations, or no door drawn."""

    area: str
    stations: int | None = None
    needs: int | None = None


@dataclass(frozen=True)
class Water:
    """Where water goes: every garage by area id, and the ground outside, pair by pair."""

    garages: Mapping[str, Garage | NoGarage]
    grades: tuple[GradeFall, ...]

    @property
    def main(self) -> Garage | NoGarage | None:
        """The first garage with a vehicle door, else the first, ``None`` where there is none."""
        every = list(self.garages.values())
        drawn = [g for g in every if not isinstance(g, NoGarage) or g.stations is not None]
        return next(iter(drawn or every), None)


@dataclass(frozen=True)
class Words:
    """The plain words of a report: every sentence has a key so that it can be overruled.

    ``labels`` are headings and words for states; ``sentences`` gives every sentence shown by
    the key that overrules it. ``alerts`` belong beside the summary, where there are any: water
    that would not leave a garage, ground that falls to the house. ``garages`` are the sentences
    about each garage by area id, ``water`` what holds for any, ``ground`` those about the ground
    outside.
    """

    title: str
    summary: tuple[str, ...]
    meaning: tuple[str, ...]
    advice: tuple[str, ...]
    limits: tuple[str, ...]
    cautions: tuple[str, ...]
    overrides: tuple[Override, ...]
    labels: Mapping[str, str]
    sentences: Mapping[str, str] = field(default_factory=dict)
    garages: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    water: tuple[str, ...] = ()
    ground: tuple[str, ...] = ()
    water_cautions: tuple[str, ...] = ()
    alerts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Assessment:
    """Everything computed from one book.

    ``without`` has the shapes of the areas that suspects lie in, these readings left out; it
    is for comparison beside the shapes of all readings, and has no walls and no grid.
    """

    book: Book
    digest: str
    warnings: tuple[str, ...]
    levels: Levels
    floor: Floor
    findings: tuple[Finding, ...]
    screening: Screening
    words: Words
    sets: tuple[SetInfo, ...] = ()
    water: Water = field(default_factory=lambda: Water({}, ()))
    without: Mapping[str, AreaShape] = field(default_factory=dict)
