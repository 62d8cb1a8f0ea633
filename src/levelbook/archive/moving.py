"""Moving an archive: from one's own machine to a firm's server, back, or between servers.

Nothing is taken away where it comes from, and nothing that is there already is changed: what
the target lacks is added, a visit at a time, so that a move that broke off goes on by being
started again. At its end everything is read on both sides and must be the same.
"""

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from levelbook.archive.chain import BEGINNING, TOLD, link
from levelbook.archive.life import lifeless
from levelbook.archive.place import Place
from levelbook.archive.rows import firm_ids, owner, read_rows, write_rows
from levelbook.archive.summary import summarise
from levelbook.archive.tables import (
    ADDED_ONLY,
    AUDIT,
    BLOBS,
    CHECKS,
    ENTRIES,
    FIRMS,
    INSTRUMENTS,
    INVITATIONS,
    LINKS,
    LOCAL,
    PASSKEYS,
    PEOPLE,
    RELEASES,
    REVIEWS,
    VISITS,
)
from levelbook.errors import ConflictError, DamagedError, UsageError

ACCOUNTS = (PEOPLE, PASSKEYS, INVITATIONS)
"""Moved from server to server; one's own machine has none."""
BY_KEY = (INSTRUMENTS, CHECKS, RELEASES, LINKS)
AFTER_VISITS = (ENTRIES, REVIEWS)
_REVIEW = ("state", "person", "at", "reason", "release")
_ENTRY = ("id", "visit", "body")
Row = dict[str, Any]


@dataclass
class Moved:
    """How much was added, and the digest that both sides have of what was moved."""

    visits: int = 0
    entries: int = 0
    files: int = 0
    lines: int = 0
    others: int = 0
    sha256: str = ""
    firms: list[str] = field(default_factory=list)

    @property
    def added(self) -> int:
        """Return how many rows and files the target lacked."""
        return self.visits + self.entries + self.files + self.lines + self.others


@dataclass(frozen=True)
class _Way:
    """A firm's way: its connection to read from and its id there, where to, and as what."""

    source: Place
    read: Connection
    was: str
    target: Place
    firm: str
    moved: Moved

    @property
    def accounts(self) -> bool:
        return not (self.source.own or self.target.own)

    def rows(self, table: sa.Table, *where: sa.ColumnElement[bool]) -> Iterator[Row]:
        """Yield rows of the source as they are to be at the target."""
        for row in read_rows(self.read, table, self.was, *where):
            row.pop("seq", None)
            if table is FIRMS:
                row["settings"] = lifeless(row["settings"])
            yield row | {owner(table).name: self.firm}


def move(source: Place, target: Place, firm: str | None, now: str) -> Moved:
    """Add to the target what it lacks of the source, of one firm or of all.

    Parameters
    ----------
    source, target
        Whence and whither.
    firm
        The firm on the server; may be left out where there is one, or between servers all.
    now
        The time, for the line that the target's audit list gets.

    Raises
    ------
    ConflictError
        If the same thing is written differently on both sides; what was moved before stays.
    DamagedError
        If a file is not what was kept, or both sides are not the same in the end.
    """
    moved = Moved()
    with source.database.snapshot() as read:
        for was, to in _pairs(source, target, read, firm):
            source.database.name_firm(read, was)
            way = _Way(source, read, was, target, to, moved)
            _move_firm(way)
            moved.sha256 = _verify(way, moved.sha256)
            moved.firms.append(to)
    for to in moved.firms:
        if moved.added and not target.own:
            _note(target, to, now, moved)
    return moved


def _pairs(
    source: Place, target: Place, read: Connection, firm: str | None
) -> list[tuple[str, str]]:
    """Return the firms to move: what each is called where it comes from, and where it goes."""
    if source.own and target.own:
        return [(LOCAL, LOCAL)]
    there = firm_ids(source.database, read)
    if source.own:
        with target.database.snapshot() as connection:
            there = firm_ids(target.database, connection)
        return [(LOCAL, _chosen(there, firm))]
    if target.own:
        return [(_chosen(there, firm), LOCAL)]
    return [(name, name) for name in (there if firm is None else (_chosen(there, firm),))]


def _chosen(there: tuple[str, ...], firm: str | None) -> str:
    if firm in there:
        return str(firm)
    if firm is None and len(there) == 1:
        return there[0]
    if not there:
        problem = "the server has no firm yet"
        raise UsageError("--firm", problem, "make it first: levelbook firm new NAME --owner EMAIL")
    problem = "there are several firms" if firm is None else f"there is no firm {firm[:64]!r}"
    raise UsageError("--firm", problem, f"give one of: {', '.join(there[:20])}")


def _move_firm(way: _Way) -> None:
    """Move everything of a firm; what others name comes before them."""
    if way.accounts:
        _add_missing(way, (FIRMS, *ACCOUNTS))
    files, blobs = way.source.blobs(way.was), way.target.blobs(way.firm)
    for row in way.rows(BLOBS):
        if not _is_there(blobs.get, row["sha256"]):
            data = files.get(row["sha256"])
            blobs.put(data or b"", row["media"], row["received"])
            way.moved.files += 1
    _add_missing(way, BY_KEY)
    for visit in _visits(way):
        _move_visit(way, visit)
    _move_audit(way)


def _visits(way: _Way) -> list[str]:
    """Return the ids of all visits of which the source has anything, in order."""
    found: set[str] = set()
    for column in (VISITS.c.id, ENTRIES.c.visit, REVIEWS.c.visit):
        query = sa.select(column).where(column.table.c.firm == way.was).distinct()
        found.update(way.read.execute(query).scalars())
    return sorted(found)


def _is_there(get: Any, sha256: str) -> bool:  # noqa: ANN401 - a method
    try:
        return get(sha256) is not None
    except DamagedError:
        return False


def _add_missing(way: _Way, tables: Iterable[sa.Table]) -> None:
    """Add the rows whose keys the target lacks; what never changes must be the same there."""
    for table in tables:
        with way.target.database.use(way.firm) as connection:
            there = {_key(table, row): row for row in read_rows(connection, table, way.firm)}
            missing = []
            for row in way.rows(table):
                found = there.get(_key(table, row))
                if found is None:
                    missing.append(row)
                elif table.name in ADDED_ONLY and found != row:
                    raise _conflict(table.name, str(row["id"]))
            try:
                way.moved.others += write_rows(connection, table, missing)
            except IntegrityError:
                told = ", ".join(str(_key(table, row)[-1]) for row in missing[:3])
                raise _conflict(table.name, told) from None


def _key(table: sa.Table, row: Row) -> tuple[Any, ...]:
    return tuple(row[column.name] for column in table.primary_key.columns)


def _move_visit(way: _Way, visit: str) -> None:
    """Add the entries and reviews of a visit that the target lacks, in one transaction."""
    database, row = way.target.database, next(way.rows(VISITS, VISITS.c.id == visit), None)
    with database.use(way.firm) as connection:
        database.hold(connection, f"{way.firm}/{visit}")
        entries = list(way.rows(ENTRIES, ENTRIES.c.visit == visit))
        reviews = list(way.rows(REVIEWS, REVIEWS.c.visit == visit))
        there = {
            found["id"]: found
            for found in read_rows(connection, ENTRIES, way.firm, ENTRIES.c.visit == visit)
        }
        missing = [entry for entry in entries if entry["id"] not in there]
        for entry in entries:
            if entry["id"] in there and _said(there[entry["id"]], _ENTRY) != _said(entry, _ENTRY):
                raise _conflict("entries", entry["id"])
        reviewed = list(read_rows(connection, REVIEWS, way.firm, REVIEWS.c.visit == visit))
        more = _after(reviewed, reviews, visit)
        try:
            write_rows(connection, ENTRIES, missing)
        except IntegrityError:
            raise _conflict("entries", f"of the visit {visit}") from None
        write_rows(connection, REVIEWS, more)
        same = len(there) + len(missing) == len(entries) and len(reviewed) <= len(reviews)
        new = row is not None and _settle_visit(
            way, connection, row, changed=bool(missing or more), same=same
        )
    way.moved.visits += new
    way.moved.entries += len(missing)
    way.moved.others += len(more)


def _after(there: list[Row], here: list[Row], visit: str) -> list[Row]:
    """Return the reviews that come after those that the target has."""
    both = min(len(there), len(here))
    told = [[_said(row, _REVIEW) for row in rows[:both]] for rows in (there, here)]
    if told[0] != told[1]:
        raise _conflict("reviews", f"of the visit {visit}")
    return here[both:]


def _settle_visit(
    way: _Way, connection: Connection, row: Row, *, changed: bool, same: bool
) -> bool:
    """Bring the target's row of a visit up to date; tell whether it is new."""
    here = sa.and_(VISITS.c.firm == way.firm, VISITS.c.id == row["id"])
    found = connection.execute(sa.select(VISITS).where(here)).mappings().one_or_none()
    if found is None:
        write_rows(connection, VISITS, [row])
        return True
    if changed and same:
        connection.execute(sa.update(VISITS).where(here).values(**row))
        summarise(connection, way.firm, row["id"], row["updated"])
        connection.execute(sa.update(VISITS).where(here).values(**row))
    elif changed:
        summarise(connection, way.firm, row["id"], max(row["updated"], found["updated"]))
    return False


def _move_audit(way: _Way) -> None:
    """Add the lines that the target's list lacks, each bound to the one before it there."""
    database = way.target.database
    with database.use(way.firm) as connection:
        database.hold(connection, f"audit/{way.firm}")
        there = Counter(_said(row, TOLD) for row in read_rows(connection, AUDIT, way.firm))
        last = _last_chain(connection, way.firm)
        for row in way.rows(AUDIT):
            told = _said(row, TOLD)
            if there[told] > 0:
                there[told] -= 1
                continue
            last = link(last, way.firm, row)
            connection.execute(sa.insert(AUDIT).values(**row | {"chain": last}))
            way.moved.lines += 1


def _note(target: Place, firm: str, now: str, moved: Moved) -> None:
    """Write into the target's audit list that an archive was moved here."""
    detail = {key: value for key, value in asdict(moved).items() if key not in ("firms", "others")}
    row = {"at": now, "person": "operator", "action": "archive-moved", "subject": ""}
    row["detail"] = json.dumps(detail, sort_keys=True, separators=(",", ":"))
    with target.database.use(firm) as connection:
        target.database.hold(connection, f"audit/{firm}")
        chain = link(_last_chain(connection, firm), firm, row)
        connection.execute(sa.insert(AUDIT).values(firm=firm, chain=chain, **row))


def _last_chain(connection: Connection, firm: str) -> str:
    last = sa.select(AUDIT.c.chain).where(AUDIT.c.firm == firm).order_by(AUDIT.c.seq.desc())
    return connection.execute(last.limit(1)).scalar() or BEGINNING


def _verify(way: _Way, before: str) -> str:
    """Read all that was to be moved on both sides, and return the digest that both have.

    Raises
    ------
    DamagedError
        If something is not at the target as it is at the source.
    """
    digests = [hashlib.sha256(before.encode()), hashlib.sha256(before.encode())]
    with way.target.database.snapshot() as connection:
        way.target.database.name_firm(connection, way.firm)
        for visit in _visits(way):
            _compare(way, connection, digests, visit)
        blobs = way.target.blobs(way.firm)
        for row in way.rows(BLOBS):
            digests[0].update(row["sha256"].encode())
            digests[1].update(row["sha256"].encode() if blobs.get(row["sha256"]) else b"")
        lines = Counter(_said(row, TOLD) for row in read_rows(connection, AUDIT, way.firm))
        lacking = bool(Counter(_said(row, TOLD) for row in way.rows(AUDIT)) - lines)
        for table in (*BY_KEY, *(ACCOUNTS if way.accounts else ())):
            keys = {_key(table, row) for row in read_rows(connection, table, way.firm)}
            lacking |= not keys.issuperset(_key(table, row) for row in way.rows(table))
    if digests[0].digest() != digests[1].digest() or lacking:
        problem = f"the archive of {way.firm} is not the same on both sides"
        raise DamagedError(way.target.name, problem, "start the move again")
    return digests[0].hexdigest()


def _compare(way: _Way, connection: Connection, digests: list[Any], visit: str) -> None:
    """Add the entries and reviews of a visit, and that it is listed, to the digests of both."""
    listed = way.rows(VISITS, VISITS.c.id == visit)
    there = read_rows(connection, VISITS, way.firm, VISITS.c.id == visit)
    for digest, rows in zip(digests, (listed, there), strict=True):
        digest.update("".join(row["id"] for row in rows).encode())
    for table, names in ((ENTRIES, _ENTRY), (REVIEWS, _REVIEW)):
        told = [_said(row, names) for row in way.rows(table, table.c.visit == visit)]
        found = read_rows(connection, table, way.firm, table.c.visit == visit)
        both = Counter(told) & Counter(_said(row, names) for row in found)
        for digest, each in zip(digests, (told, list(both.elements())), strict=True):
            digest.update(json.dumps(sorted(each, key=str), ensure_ascii=False).encode())


def _said(row: Row, names: tuple[str, ...]) -> tuple[Any, ...]:
    return tuple(row[name] for name in names)


def _conflict(table: str, what: str) -> ConflictError:
    problem = f"the same row of {table} is written differently on both sides"
    return ConflictError(what, problem, "nothing was changed there; find out which one is right")
