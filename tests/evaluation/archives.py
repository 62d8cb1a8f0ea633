"""Small archives for tests: books in a folder or a database, and what an evaluation left."""

import json
from collections.abc import Iterable, Iterator
from pathlib import Path

import pyarrow as pa
from pyarrow import parquet

from levelbook.archive.clock import Clock
from levelbook.archive.database import Database
from levelbook.archive.document import to_entries
from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.crew import Alone, Finished
from levelbook.archive.evaluation.parquet import PARTS
from levelbook.archive.evaluation.plan import Chunk
from levelbook.archive.evaluation.simulate import simulate_archive
from levelbook.archive.evaluation.work import Visit, pack
from levelbook.archive.store import Store
from levelbook.book import Book, write_book


def books(count: int, drawn: int = 6) -> list[Book]:
    """Return some simulated books."""
    return list(simulate_archive(count, drawn=drawn))


def folder_of(some: Iterable[Book], folder: Path) -> Path:
    """Return a folder with books, ``v000.json`` and so on."""
    folder.mkdir(parents=True, exist_ok=True)
    for k, book in enumerate(some):
        (folder / f"v{k:03}.json").write_text(write_book(book), "utf-8")
    return folder


def sent(book: Book, visit: str, firm: str, database: Database) -> None:
    """Put a book into a database as a device would send it."""
    ids = (f"{visit}-{k:06}" for k in range(100_000))
    new = (lambda: next(ids), 1_800_000_000_000, "2027-01-15T08:00:00Z")
    document = json.loads(write_book(book))
    entries = to_entries(document, visit, "A", Clock(0, 0, "device01"), new)
    Store(database, firm).sync(visit, 0, tuple(entries), "2027-01-15T08:00:01Z")


def packed(book: Book, visit: str = "v000.json") -> Visit:
    """Return a book ready to travel."""
    return pack(visit, "", "document", write_book(book).encode())


def table(out: Path) -> pa.Table:
    """Return all rows of an evaluation, by visit."""
    return parquet.read_table(out / PARTS).sort_by("visit")


class Counting:
    """Works in this process, counts what it worked on, and gives up after ``most`` chunks."""

    def __init__(self, most: int = 1_000) -> None:
        self.most, self.visits = most, 0

    def work(self, chunks: Iterable[Chunk], criteria: Criteria) -> Iterator[Finished]:
        """Yield each chunk, and stop as if interrupted after ``most`` of them."""
        for number, (chunk, done) in enumerate(Alone().work(chunks, criteria)):
            if number == self.most:
                raise KeyboardInterrupt
            self.visits += len(chunk.visits)
            yield chunk, done
