"""What is concluded: criteria with their state, the screening and the words for it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from levelbook.book.model import Book
from levelbook.floor.shape import Floor
from levelbook.levels.model import Levels

State = Literal["within", "beyond", "too close to call", "not measured"]
Basis = Literal["published", "common practice"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One criterion applied to one area (or the property); value, sd and limit in ``unit``."""

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
    """The outcome of screening, never a verdict on the structure."""

    outcome: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Words:
    """The plain words of a report: every sentence has a key so that it can be overruled."""

    title: str
    summary: tuple[str, ...]
    meaning: tuple[str, ...]
    advice: tuple[str, ...]
    limits: tuple[str, ...]
    cautions: tuple[str, ...]
    overrides: tuple[Override, ...]
    labels: Mapping[str, str]


@dataclass(frozen=True)
class Assessment:
    """Everything computed from one book."""

    book: Book
    digest: str
    warnings: tuple[str, ...]
    levels: Levels
    floor: Floor
    findings: tuple[Finding, ...]
    screening: Screening
    words: Words
