"""Where an archive lies: a folder on one's own machine, or a server's database and files."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from levelbook.archive.blobs import Blobs, Shelf
from levelbook.archive.bucket import open_shelf
from levelbook.archive.database import EVERY_FIRM, Database, file_url
from levelbook.archive.migrating import migrate, open_database, revision
from levelbook.archive.moments import stamp
from levelbook.archive.tables import FIRMS, LOCAL
from levelbook.errors import UsageError

STORE, PHOTOS = "levelbook.sqlite", "photos"
"""Names of the database and of the folder of files within a folder of one's own machine."""


@dataclass(frozen=True)
class Place:
    """An archive: its database, where its files lie, and whether it is one's own machine's."""

    name: str
    database: Database
    shelf: Shelf
    own: bool

    def blobs(self, firm: str) -> Blobs:
        """Return the files of a firm."""
        return Blobs(self.database, self.shelf, firm)

    def close(self) -> None:
        """Close the database."""
        self.database.close()


def open_place(where: str, files: str | None = None, *, new: bool = False) -> Place:
    """Open an archive.

    Parameters
    ----------
    where
        A folder of one's own machine, or the address of a server's database.
    files
        Where a server's files lie: a folder, or ``s3://BUCKET/PREFIX``.
    new
        Whether it may be made now.

    Raises
    ------
    UsageError
        If there is none, or its files are not told.
    """
    if "://" in where:
        if files is None:
            problem = "where the files of this database lie is not told"
            remedy = "name the folder, or s3://BUCKET/PREFIX, that the server keeps them in"
            raise UsageError(where.rpartition("@")[2], problem, remedy)
        database = _made(where) if new else open_database(where)
        return Place(where.rpartition("@")[2], database, open_shelf(files), own=False)
    folder = Path(where).expanduser()
    if not new and not (folder / STORE).is_file():
        raise UsageError(where, "there is no archive in this folder", "name the folder of a store")
    database = open_database(file_url(folder / STORE))
    ensure_firm(database, LOCAL)
    place = Place(where, database, open_shelf(files or str(folder / PHOTOS)), own=True)
    place.blobs(LOCAL).adopt()
    return place


def ensure_firm(database: Database, firm: str) -> None:
    """Note a firm in the list of firms, if it is not there."""
    query = sa.select(FIRMS.c.id).where(FIRMS.c.id == firm)
    with database.look(EVERY_FIRM) as connection:
        if connection.execute(query).first() is not None:
            return
    with database.use(EVERY_FIRM) as connection:
        database.hold(connection, f"firm/{firm}")
        if connection.execute(query).first() is None:
            now = stamp(datetime.now(UTC))
            connection.execute(sa.insert(FIRMS).values(id=firm, created=now))


def _made(url: str) -> Database:
    """Open a server's database, which gets its tables now if it has none."""
    database = Database(url)
    try:
        if not revision(database):
            migrate(database)
    finally:
        database.close()
    return open_database(url)
