"""The columns of a visit's row: name, kind, unit and what each tells.

Lengths are in metres, levels in millimetres and slopes rise over run, whatever a book was
written in, so that rows of all books can stand in one table. Each figure that hangs on
readings has its standard deviation in the column ``…_sd`` after it.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import rfc8785

from levelbook.errors import UsageError
from levelbook.findings.catalogue import builtin_sets
from levelbook.findings.criteria import CriteriaSet, Criterion

FORMAT = "levelbook-figures/1"
"""Raised when columns change their meaning, so that rows of two kinds never mix."""

Kind = Literal["text", "whole", "number", "flag"]
Value = str | int | float | bool | None
Row = dict[str, Value]


@dataclass(frozen=True, slots=True)
class Column:
    """One column; every one may be empty. ``unit`` is empty for words and counts."""

    name: str
    kind: Kind
    says: str
    unit: str = ""


@dataclass(frozen=True)
class Criteria:
    """The criteria of one evaluation; ``sets`` is ``None`` where each book's own are taken."""

    sets: tuple[CriteriaSet, ...] | None = None

    def __post_init__(self) -> None:
        """Refuse sets that share an id, since their states would share a column."""
        twice = sorted({name for name in self.names if self.names.count(name) > 1})
        if twice:
            problem = f"two sets of criteria have the id {twice[0]!r}"
            raise UsageError("--criteria", problem, "give each an id of its own")

    @property
    def possible(self) -> tuple[CriteriaSet, ...]:
        """Every set that a row may have states of."""
        return builtin_sets() if self.sets is None else self.sets

    @property
    def names(self) -> tuple[str, ...]:
        """Ids of the sets named, none where each book's own are taken."""
        return () if self.sets is None else tuple(each.id for each in self.sets)

    @cached_property
    def digest(self) -> str:
        """SHA-256 of all that the sets say, and of whether each book's own are taken."""
        told = [each.model_dump(mode="json") for each in self.possible]
        chosen = "each book's own" if self.sets is None else "named"
        return hashlib.sha256(rfc8785.dumps([FORMAT, chosen, told])).hexdigest()

    @cached_property
    def columns(self) -> tuple[Column, ...]:
        """The columns of the rows by these criteria, in their order."""
        judged = (
            column
            for each in self.possible
            for criterion in each.criteria
            for column in _of_criterion(each, criterion)
        )
        return (*BASE, *judged)


def column_of(set_id: str, criterion_id: str) -> str:
    """Return the name of the column with the state of a criterion."""
    return f"{set_id}/{criterion_id}"


def _of_criterion(each: CriteriaSet, criterion: Criterion) -> tuple[Column, Column, Column]:
    name, unit = column_of(each.id, criterion.id), criterion.unit
    limit = f"{criterion.title}; limit {criterion.limit:g} {unit}; {criterion.source}"
    return (
        Column(name, "text", f"Gravest state in the house. {limit}"),
        Column(f"{name}/value", "number", "Value of that finding", unit),
        Column(f"{name}/sd", "number", "Standard deviation of the value", unit),
    )


def _measured(name: str, unit: str, says: str) -> Sequence[Column]:
    return (
        Column(name, "number", says, unit),
        Column(f"{name}_sd", "number", f"Standard deviation of {name}", unit),
    )


BASE: tuple[Column, ...] = (
    Column("visit", "text", "Id of the visit in the store, or the name of its file"),
    Column("firm", "text", "Firm of the store; of a file, the firm written in it"),
    Column("house", "text", "Digest of the address, or of label and outlines without one"),
    Column("sha256", "text", "Digest of the level-book document"),
    Column("program", "text", "Program and version that made the row"),
    Column("criteria", "text", "Digest of the criteria"),
    Column("date", "text", "Day of the visit"),
    Column("purpose", "text", "Purpose of the visit"),
    Column("foundation", "text", "What the floor stands on"),
    Column("year_built", "whole", "Year the house was built"),
    Column("post_tensioned", "flag", "Whether the slab is post-tensioned"),
    Column("written_in", "text", "Level unit of the book"),
    Column("areas", "whole", "Floors in the book"),
    Column("stations", "whole", "Stations with a level"),
    Column("readings", "whole", "Readings that count"),
    Column("struck", "whole", "Readings struck out"),
    Column("suspects", "whole", "Readings that do not fit and were not confirmed"),
    Column("distress", "whole", "Signs of distress"),
    Column("fits", "flag", "Whether the scatter agrees with the instruments; empty if untested"),
    Column("floor", "text", "Id of the floor that the figures are of: the largest built level"),
    Column("size", "number", "Size of that floor", "m2"),
    Column("used", "whole", "Stations of that floor in its surface"),
    *_measured("range", "mm", "Highest less lowest station"),
    *_measured("tilt", "rise/run", "Slope of the floor's plane"),
    *_measured("deflection", "mm", "Largest offset from a chord, + hog, - sag"),
    Column("deflection_length", "number", "Length of that chord", "m"),
    *_measured("deflection_ratio", "rise/run", "Deflection, without sign, over that length"),
    *_measured("steepest", "rise/run", "Steepest slope between two stations"),
    Column("bend", "text", "Word for the bend"),
    Column("garage", "text", "Word for where water goes on the first garage with a door"),
    *_measured("garage_fall", "mm", "Fall of that floor to its door"),
    Column("outcome", "text", "Outcome of the screening, the program's own"),
    Column("overruled", "text", "Outcome that the inspector put in its place"),
)
