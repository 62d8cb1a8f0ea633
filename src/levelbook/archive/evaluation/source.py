"""Where the visits of an evaluation come from, read a page at a time in a fixed order."""

import json
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

import sqlalchemy as sa

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.evaluation.work import Visit, pack
from levelbook.archive.holders import read_bounded
from levelbook.archive.tables import ENTRIES, FIRMS, VISITS
from levelbook.errors import UsageError

PAGE = 50
"""Visits read from a database at once."""


class Source(Protocol):
    """Visits in an order that stays the same; ``kind`` tells what they lie in."""

    kind: str

    def count(self) -> int:
        """Return how many visits there are now."""

    def visits(self) -> Iterator[Visit]:
        """Yield every visit, ready to travel, in the order of their ids."""


class FolderSource:
    """The ``.json`` files of a folder: books, sealed or not."""

    kind = "folder"

    def __init__(self, folder: Path) -> None:
        try:
            self._files = sorted(file for file in folder.glob("*.json") if file.is_file())
        except OSError as error:
            raise _refused(folder, error) from None
        self._folder = folder
        if not self._files:
            raise UsageError(str(folder), "there is no .json file in this folder", "name another")

    def count(self) -> int:
        """Return how many files there are."""
        return len(self._files)

    def visits(self) -> Iterator[Visit]:
        """Yield every file's content.

        Raises
        ------
        UsageError
            If a file cannot be read.
        """
        for path in self._files:
            try:
                with path.open("rb") as file:
                    data = read_bounded(file.read)
            except OSError as error:
                raise _refused(path, error) from None
            yield pack(path.name, "", "document", data)


class DatabaseSource:
    """The visits of one firm in a database, in keyset pages: no long transaction, no offset."""

    kind = "database"

    def __init__(self, database: Database, firm: str) -> None:
        self.database, self.firm = database, firm

    def count(self) -> int:
        """Return how many visits the firm has."""
        query = sa.select(sa.func.count()).select_from(VISITS).where(VISITS.c.firm == self.firm)
        with self.database.look(self.firm) as connection:
            return int(connection.execute(query).scalar_one())

    def visits(self) -> Iterator[Visit]:
        """Yield every visit's entries as they came."""
        last = ""
        while page := self._page(last):
            yield from page
            last = page[-1].id

    def _page(self, last: str) -> list[Visit]:
        """Return the visits after the id ``last``, as many as make a page."""
        own = sa.and_(VISITS.c.firm == self.firm, VISITS.c.id > last)
        query = sa.select(VISITS.c.id).where(own).order_by(VISITS.c.id).limit(PAGE)
        with self.database.look(self.firm) as connection:
            ids = list(connection.execute(query).scalars())
            written = sa.and_(ENTRIES.c.firm == self.firm, ENTRIES.c.visit.in_(ids))
            rows = connection.execute(
                sa.select(ENTRIES.c.visit, ENTRIES.c.body).where(written).order_by(ENTRIES.c.seq)
            )
            bodies: defaultdict[str, list[str]] = defaultdict(list)
            for visit, body in rows:
                bodies[visit].append(body)
        return [pack(i, self.firm, "entries", json.dumps(bodies[i]).encode()) for i in ids]


def firms(database: Database) -> tuple[str, ...]:
    """Return the ids of the firms of a database."""
    with database.look(EVERY_FIRM) as connection:
        return tuple(connection.execute(sa.select(FIRMS.c.id).order_by(FIRMS.c.id)).scalars())


def _refused(place: Path, error: OSError) -> UsageError:
    told = (error.strerror or type(error).__name__).lower()
    return UsageError(str(place), told, "check the path and its permissions")
