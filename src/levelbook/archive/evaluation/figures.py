"""How figures are spread over an archive, and where one house stands among its kind.

One visit speaks for a house, the latest, so that a house seen often weighs no more than
another. Visits with readings that look like slips and were not confirmed are left out, and
counted. What is told is how the measured figures of *these* houses are spread: the readings'
own errors are in the spread, and an archive is not a sample of all houses.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np

from levelbook.archive.evaluation.parquet import tables
from levelbook.archive.evaluation.quantiles import SHARES, Place, Quantile, place, quantile
from levelbook.floor.model import Array

By = Literal["year-built", "foundation", "purpose", "firm", "all"]
QUANTITIES: Mapping[str, str] = {"range": "mm", "tilt": "rise/run", "deflection_ratio": "rise/run"}
"""What is told of, by the column, with its unit."""

LEAST = 10
"""Other houses of its kind that a house is placed among, at least (our own rule)."""

NOT_TOLD = "not told"
ALL = "all houses"
_ABOUT = ("visit", "firm", "house", "date", "purpose", "foundation", "year_built", "suspects")
_READ = (*_ABOUT, "written_in", *(c for q in QUANTITIES for c in (q, f"{q}_sd")))


@dataclass(frozen=True)
class Houses:
    """One row a house, by column; ``visits`` were read and ``slips`` left out."""

    rows: tuple[Mapping[str, Any], ...]
    visits: int
    slips: int

    @property
    def unit(self) -> str:
        """The level unit that most books were written in."""
        units = Counter(row["written_in"] for row in self.rows)
        return str(max(("in", "mm"), key=lambda u: units[u]))


@dataclass(frozen=True)
class Spread:
    """How one quantity is spread over a group of houses.

    ``doubt`` is the root mean square of the figures' own sds: what of the spread is due to
    the readings. A share without an interval at this ``count`` has no quantile.
    """

    quantity: str
    unit: str
    count: int
    doubt: float
    quantiles: tuple[Quantile, ...]


@dataclass(frozen=True)
class Group:
    """Houses of one kind: how many, and the spread of each quantity."""

    name: str
    houses: int
    spreads: tuple[Spread, ...]


@dataclass(frozen=True, slots=True)
class Placed:
    """One figure of a house and where it stands; ``among`` is ``None`` with too few others."""

    quantity: str
    unit: str
    value: float
    sd: float
    count: int
    among: Place | None


def read_houses(folder: Path) -> Houses:
    """Return the latest visit to each house of an evaluated archive.

    Raises
    ------
    UsageError
        If the folder holds no finished evaluation, or a part is damaged.
    """
    latest: dict[str, Mapping[str, Any]] = {}
    visits = slips = 0
    for table in tables(folder, _READ):
        for row in table.to_pylist():
            visits += 1
            if row["suspects"]:
                slips += 1
                continue
            before = latest.get(row["house"])
            if before is None or _order(row) > _order(before):
                latest[row["house"]] = row
    rows = sorted(latest.values(), key=lambda row: str(row["visit"]))
    return Houses(tuple(rows), visits, slips)


def _order(row: Mapping[str, Any]) -> tuple[str, str]:
    return str(row["date"]), str(row["visit"])


def kind_of(row: Mapping[str, Any], by: By) -> str:
    """Return the group that a row belongs to."""
    if by == "all":
        return ALL
    if by == "year-built":
        year = row["year_built"]
        return NOT_TOLD if year is None else f"{year // 10 * 10} to {year // 10 * 10 + 9}"
    return str(row[by] or NOT_TOLD)


def groups(houses: Houses, by: By) -> tuple[Group, ...]:
    """Return the spread over all houses and over each kind, those not told last."""
    kinds: dict[str, list[Mapping[str, Any]]] = {}
    for row in houses.rows:
        kinds.setdefault(kind_of(row, by), []).append(row)
    ordered = sorted(kinds, key=lambda name: (name == NOT_TOLD, name))
    named = [(ALL, list(houses.rows))] if by != "all" else []
    named += [(name, kinds[name]) for name in ordered]
    return tuple(_group(name, rows) for name, rows in named)


def _group(name: str, rows: Sequence[Mapping[str, Any]]) -> Group:
    spreads = (spread(rows, quantity) for quantity in QUANTITIES)
    return Group(name, len(rows), tuple(spreads))


def spread(rows: Iterable[Mapping[str, Any]], quantity: str) -> Spread:
    """Return how a quantity is spread over the rows that have it."""
    values, sds = _values(rows, quantity)
    found = (quantile(values, share) for share in SHARES)
    return Spread(
        quantity=quantity,
        unit=QUANTITIES[quantity],
        count=len(values),
        doubt=float(np.sqrt(np.mean(sds**2))) if len(sds) else 0.0,
        quantiles=tuple(each for each in found if each is not None),
    )


def _values(rows: Iterable[Mapping[str, Any]], quantity: str) -> tuple[Array, Array]:
    """Return the values of a quantity and their sds, (n,) each."""
    pairs = [(row[quantity], row[f"{quantity}_sd"]) for row in rows if row[quantity] is not None]
    both = np.array(pairs, dtype=float).reshape(-1, 2)
    return both[:, 0], both[:, 1]


def place_house(houses: Houses, own: Mapping[str, Any], by: By) -> tuple[str, tuple[Placed, ...]]:
    """Return the kind of a house, and where it stands among the other houses of it.

    ``own`` is the house's row; rows of the same house are left out of the others. One whose
    kind is not told is placed among all.
    """
    kind = kind_of(own, by)
    if kind == NOT_TOLD:
        kind, by = ALL, "all"
    others = [r for r in houses.rows if r["house"] != own["house"] and kind_of(r, by) == kind]
    found = (_placed(own, others, q) for q in QUANTITIES if own[q] is not None)
    return kind, tuple(found)


def _placed(own: Mapping[str, Any], others: Sequence[Mapping[str, Any]], quantity: str) -> Placed:
    value, sd = float(own[quantity]), float(own[f"{quantity}_sd"])
    values, _ = _values(others, quantity)
    among = place(value, sd, values) if len(values) >= LEAST else None
    return Placed(quantity, QUANTITIES[quantity], value, sd, len(values), among)
