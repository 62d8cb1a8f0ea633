"""How long a page of the list takes among 100,000 visits, in SQLite and in PostgreSQL.

Run as ``python bench/search.py [visits]``. Invented visits of one firm, and a tenth as many of
another, are put straight into the tables; PostgreSQL is asked as a role that row-level security
holds. Every query asks for one page of 50. Asked is a median under 100 ms for each.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import psycopg
import sqlalchemy as sa

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tools"))

import temporary_postgres
from levelbook.archive.database import Database, file_url
from levelbook.archive.migrating import migrate
from levelbook.archive.tables import VISIT_WORDS, VISITS
from levelbook.archive.words import listed
from levelbook.firm.search import Query, find_visits, inspectors

VISITS_ASKED, PAGE, TIMES, ASKED = 100_000, 50, 60, 0.1
FIRM, OTHER, ROLE = "firm-a", "firm-b", "levelbook_app"
BATCH = 5_000
TREES = ("Oak", "Marl", "Reed", "Cane", "Salt", "Clay", "Gum", "Elm")
ENDS = ("wood", "grass", " Hill", " Creek", "field", "ton", " Bend", "ridge")
STREETS = [f"{tree}{end}" for tree in TREES for end in ENDS]
KINDS = ("Lane", "Court", "Street", "Drive", "Row", "Trail")
TOWNS = ("Marl Creek", "Low Plains", "Heron Bay", "Dry Fork", "Brazo Springs")
FINDINGS = (
    ("nothing unusual", 60),
    ("keep watching", 30),
    ("ask an engineer", 8),
    ("readings not sufficient", 2),
)
STATES = (("draft", 20), ("for review", 1), ("released", 77), ("changed", 2))


def rows(count: int, firm: str, chance: random.Random) -> Iterator[dict[str, object]]:
    """Yield rows of invented visits; a firm has 50 people, and is at work for ten years."""
    findings, states = ([word for word, n in each for _ in range(n)] for each in (FINDINGS, STATES))
    for k in range(count):
        day = f"{2016 + k * 10 // count}-{1 + k % 12:02d}-{1 + k % 28:02d}"
        street = f"{chance.randrange(1, 9999)} {chance.choice(STREETS)} {chance.choice(KINDS)}"
        row: dict[str, object] = {
            "firm": firm,
            "id": f"{k:08d}-visit",
            "label": f"House {k}",
            "address": f"{street}, {chance.choice(TOWNS)}",
            "date": day,
            "purpose": "baseline",
            "stations": 80,
            "readings": 90,
            "updated": f"{day}T10:{k // 60 % 60:02d}:{k % 60:02d}.{k:06d}Z"[:32],
            "inspector": f"Inspector {chance.randrange(50)}",
            "instrument": f"LV-{chance.randrange(60)}",
            "state": chance.choice(states),
            "finding": chance.choice(findings),
            "found": "In the house: the floor slopes beyond a figure used.",
        }
        yield row | {"words": listed({name: str(value) for name, value in row.items()})}


def fill(database: Database, count: int) -> None:
    """Put the visits of both firms into the tables, and let the database look at them."""
    chance = random.Random(11)
    for firm, many in ((FIRM, count), (OTHER, count // 10)):
        batch: list[dict[str, object]] = []
        for row in rows(many, firm, chance):
            batch.append(row)
            if len(batch) == BATCH:
                put(database, firm, batch)
                batch = []
        put(database, firm, batch)
    with database.engine.connect() as connection:
        connection.execution_options(isolation_level="AUTOCOMMIT")
        connection.execute(sa.text("ANALYZE"))


def put(database: Database, firm: str, batch: list[dict[str, object]]) -> None:
    """Insert some visits with their words."""
    if not batch:
        return
    words = [
        {"firm": firm, "visit": row["id"], "word": word}
        for row in batch
        for word in str(row["words"]).split()
    ]
    with database.use(firm) as connection:
        connection.execute(sa.insert(VISITS), batch)
        connection.execute(sa.insert(VISIT_WORDS), words)


def queries(count: int, chance: random.Random) -> dict[str, list[Query]]:
    """Return queries by what they are like, each kind in many variants."""
    some = [chance.randrange(count) for _ in range(TIMES)]
    return {
        "the list as it opens": [Query()] * TIMES,
        "one house by its number": [Query(search=f"house {k}") for k in some],
        "a street and its number": [
            Query(search=f"{k % 9999} {chance.choice(STREETS)}") for k in some
        ],
        "the beginning of a street": [
            Query(search=chance.choice(STREETS)[:4].lower()) for _ in some
        ],
        "common words together": [
            Query(search=f"{chance.choice(KINDS)} {chance.choice(TOWNS)} engineer") for _ in some
        ],
        "common words, no visit": [Query(search="house lane court street")] * TIMES,
        "a word that is nowhere": [Query(search="zinnia")] * TIMES,
        "waiting for review": [Query(state="for review")] * TIMES,
        "one inspector": [Query(inspector=f"Inspector {k % 50}") for k in some],
        "any inspector, by a word of all": [Query(inspector="insp")] * TIMES,
        "inspector and words, no visit": [Query("house lane row", inspector="insp")] * TIMES,
        "a month as people write it": [Query(search=f"Nov 20{16 + k % 10}") for k in some],
        "a day and a street": [
            Query(search=f"11/{1 + k % 28}/20{16 + k % 10} {chance.choice(TREES)}") for k in some
        ],
        "a finding within a month": [
            Query(finding="ask an engineer", start=f"20{16 + k % 10}-05", end=f"20{16 + k % 10}-05")
            for k in some
        ],
        "an inspector's word, in a year": [
            Query(search="elm", inspector=f"Inspector {k % 50}", start="2019", end="2019")
            for k in some
        ],
        "an instrument": [Query(instrument=f"LV-{k % 60}") for k in some],
        "nothing fits": [Query(inspector="Nobody", state="released")] * TIMES,
    }


def measure(database: Database, asked: list[Query]) -> tuple[float, float, int]:
    """Return median and 95th percentile in seconds, and how many rows the pages had."""
    times, found = [], 0
    for query in asked:
        begun = time.perf_counter()
        page = find_visits(database, FIRM, query, PAGE)
        times.append(time.perf_counter() - begun)
        found += len(page.rows)
    times.sort()
    return times[len(times) // 2], times[int(0.95 * len(times))], found


def times_of(job: Callable[[], object]) -> tuple[float, float]:
    """Return median and 95th percentile of a job in seconds."""
    times = []
    for _ in range(TIMES):
        begun = time.perf_counter()
        job()
        times.append(time.perf_counter() - begun)
    times.sort()
    return times[len(times) // 2], times[int(0.95 * len(times))]


def deep(database: Database) -> list[float]:
    """Return the times of pages far down the list, reached page by page."""
    after, times = "", []
    for _ in range(200):
        begun = time.perf_counter()
        page = find_visits(database, FIRM, Query(after=after), PAGE)
        times.append(time.perf_counter() - begun)
        after = page.next
        if not after:
            break
    return sorted(times[len(times) // 2 :])


@contextmanager
def databases() -> Iterator[dict[str, Database]]:
    """Give both databases, migrated and empty."""
    with tempfile.TemporaryDirectory() as folder, temporary_postgres.shared() as server:
        name = f"bench_{os.getpid()}"
        owner = temporary_postgres.address(server, "postgres", temporary_postgres.OWNER)
        with psycopg.connect(owner, autocommit=True) as connection:
            known = connection.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [ROLE])
            if known.fetchone() is None:
                connection.execute(f"CREATE ROLE {ROLE} LOGIN NOSUPERUSER NOBYPASSRLS")
            connection.execute(f"CREATE DATABASE {name} TEMPLATE template0 OWNER {ROLE}")
        made = {
            "SQLite": Database(file_url(Path(folder) / "levelbook.sqlite")),
            "PostgreSQL": Database(temporary_postgres.address(server, name, ROLE)),
        }
        for each in made.values():
            migrate(each)
        yield made
        for each in made.values():
            each.close()
        with psycopg.connect(owner, autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


def main(count: int = VISITS_ASKED) -> bool:
    """Measure and print; return whether every median is as asked."""
    good = True
    with databases() as both:
        print(f"{count} visits, pages of {PAGE}; median and 95th percentile of {TIMES}, in ms")
        print(f"{'':34}" + "".join(f"{name:>20}" for name in both))
        for database in both.values():
            fill(database, count)
        for name, asked in queries(count, random.Random(5)).items():
            told = {key: measure(database, asked) for key, database in both.items()}
            if len({found for _, _, found in told.values()}) != 1:
                raise SystemExit(f"{name}: the databases do not find the same")
            good &= all(median < ASKED for median, _, _ in told.values())
            show(name, [(median, most) for median, most, _ in told.values()])
        named = [times_of(partial(inspectors, each, FIRM)) for each in both.values()]
        show("the names of inspectors", named)
        good &= all(median < ASKED for median, _ in named)
        far = [deep(database) for database in both.values()]
        show("10,000 visits down the list", [(t[len(t) // 2], t[int(0.95 * len(t))]) for t in far])
        good &= all(t[len(t) // 2] < ASKED for t in far)
    print(f"every median under {1000 * ASKED:.0f} ms: {'yes' if good else 'NO'}")
    return good


def show(name: str, figures: list[tuple[float, float]]) -> None:
    """Print one row."""
    told = (f"{1000 * median:8.1f} {1000 * most:8.1f}" for median, most in figures)
    print(f"{name:34}" + "".join(f"{each:>20}" for each in told), flush=True)


if __name__ == "__main__":
    sys.exit(0 if main(*map(int, sys.argv[1:])) else 1)
