"""The list: whatever is asked, it holds what a plain look at every row holds, page by page."""

import itertools
import random

import houses
import pytest
import sqlalchemy as sa
from houses import FIRM, OTHER
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from levelbook.archive.database import Database
from levelbook.archive.tables import VISIT_WORDS, VISITS
from levelbook.archive.words import index_visit, spaced, words_of
from levelbook.errors import UsageError
from levelbook.firm import search
from levelbook.firm.days import read_days
from levelbook.firm.noting import note, waiting
from levelbook.firm.search import OUTCOMES, Found, Query, Row, find_visits, inspectors

STREETS = ("Oak", "Oakley", "Élm", "Marl Creek", "Straße", "O'Brien", "Ünder-Hill", "12th")
PEOPLE = ("A. Levels", "B. Floor", "Béa Floor-Reed", "")
STATES = ("draft", "for review", "released", "changed")
FINDINGS = ("nothing unusual", "keep watching", "ask an engineer", "")
PLACES = ("label", "address", "date", "inspector", "instrument", "finding")


def fill(database: Database, count: int, firm: str = FIRM) -> list[Row]:
    """Put invented visits into the list and return them."""
    chance, rows = random.Random(7), []
    with database.use(firm) as connection:
        for k in range(count):
            row = {
                "id": f"visit-{k:05d}",
                "label": f"House {k % 13}",
                "address": f"{k % 40} {chance.choice(STREETS)} {chance.choice(('Lane', 'Court'))}",
                "date": f"202{k % 6}-0{1 + k % 9}-1{k % 9}",
                "purpose": "",
                "stations": 3,
                "readings": 4,
                "updated": f"2026-05-{1 + k // 40:02d}T10:00:00.000000Z",
                "inspector": chance.choice(PEOPLE),
                "instrument": chance.choice(("LV-100", "LV-7, LV-9", "")),
                "state": chance.choice(STATES),
                "finding": chance.choice(FINDINGS),
                "found": "",
            }
            connection.execute(sa.insert(VISITS).values(firm=firm, **row))
            index_visit(connection, firm, str(row["id"]))
            rows.append(Row(**row))
    return rows


def plainly(rows: list[Row], query: Query) -> list[Row]:
    """Return what a query asks for by a look at every row, by the rule as it is documented."""
    text, days = read_days(query.search)

    def has(row: Row, asked: str, *names: str) -> bool:
        here = {w for name in names for w in words_of(getattr(row, name))}
        return all(any(w.startswith(part) for w in here) for part in words_of(asked)[:8])

    def fits(row: Row) -> bool:
        return (
            has(row, text, *PLACES)
            and (not days or any(row.date.startswith(day) for day in days))
            and (not query.state or row.state == query.state)
            and has(row, query.inspector, "inspector")
            and has(row, query.finding, "finding")
            and query.instrument in row.instrument
            and (not query.start or row.date >= query.start)
            and (not query.end or row.date[: len(query.end)] <= query.end)
        )

    return sorted(filter(fits, rows), key=lambda row: (row.updated, row.id), reverse=True)


def every(database: Database, query: Query, limit: int) -> list[Row]:
    """Return all rows of a query, page after page."""
    found, after = [], ""
    for _ in itertools.count():
        page = find_visits(database, FIRM, Query(**_told(query) | {"after": after}), limit)
        found += page.rows
        assert len(page.rows) <= limit
        if not page.next:
            return found
        after = page.next
    raise AssertionError


def _told(query: Query) -> dict[str, str]:
    return {name: getattr(query, name) for name in Query.__slots__}


QUERIES = [
    Query(),
    Query(search="oak"),
    Query(search="OAK  lane"),
    Query(search="oakley"),
    Query(search="elm"),
    Query(search="marl creek court"),
    Query(search="strasse"),
    Query(search="o'brien"),
    Query(search="under"),
    Query(search="2024"),
    Query(search="house 12"),
    Query(search="lv"),
    Query(search="engineer"),
    Query(search="nowhere"),
    Query(search="%"),
    Query(search="' OR 1=1 --"),
    Query(state="for review"),
    Query(inspector="A. Levels", finding="keep watching"),
    Query(inspector="flo"),
    Query(inspector="bea REED", search="lane"),
    Query(inspector="oak"),
    Query(inspector="nobody"),
    Query(finding="engineer"),
    Query(finding="n"),
    Query(search="2023-04"),
    Query(search="Apr 2023 lane"),
    Query(search="4/13/2023"),
    Query(search="2 Feb 2022, 2021-02-11"),
    Query(search="2019-01"),
    Query(instrument="LV-9"),
    Query(start="2023", end="2024-05"),
    Query(start="2023-04-13"),
    Query(end="2021-02-10", search="lane", state="draft"),
]


@pytest.mark.parametrize("rare", [0, 10, 500])
def test_every_query_finds_what_a_plain_look_finds(
    firms: Database, rare: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether words count as rare or common, the rows and their order are the same."""
    monkeypatch.setattr(search, "RARE", rare)
    rows = fill(firms, 160)
    fill(firms, 3, OTHER)
    for query in QUERIES:
        assert every(firms, query, 7) == plainly(rows, query), query
    assert find_visits(firms, FIRM, Query(), 500).next == ""


def test_pages_neither_repeat_nor_leave_out_while_others_write(firms: Database) -> None:
    """A visit that changes between two pages moves to the front; all others come once."""
    rows = fill(firms, 60)
    first = find_visits(firms, FIRM, Query(), 20)
    moved = rows[0].id
    with firms.use(FIRM) as connection:
        here = sa.and_(VISITS.c.firm == FIRM, VISITS.c.id == moved)
        connection.execute(sa.update(VISITS).where(here).values(updated="2026-06-01T00:00:00Z"))
    rest = find_visits(firms, FIRM, Query(after=first.next), 100)
    told = [row.id for row in (*first.rows, *rest.rows)]
    assert sorted(told) == sorted(row.id for row in rows if row.id != moved)


@pytest.mark.parametrize(
    "after", ["x", "eyJ9", "W10", "WzEsMl0", "WyJhIl0", "WyJcdTAwMDAiLCJiIl0", "é" * 9, "_" * 400]
)
def test_a_key_that_is_none_is_refused(firms: Database, after: str) -> None:
    """A cut, foreign or hostile key is told."""
    with pytest.raises(UsageError, match="no key of a page"):
        find_visits(firms, FIRM, Query(after=after), 5)


def test_a_visit_is_found_by_what_is_written_into_it(firms: Database) -> None:
    """Its words follow what is written: a new address is found, the old no more."""
    visit = houses.take_in(firms, address="3 Reed Row", label="Willow house")

    def found(text: str) -> list[str]:
        return [row.id for row in find_visits(firms, FIRM, Query(search=text), 5).rows]

    assert found("reed 3") == [visit]
    assert found("willow") == [visit]
    houses.write(firms, visit, "property", "", {"address": "8 Cane Close"})
    assert found("reed") == []
    assert found("cane clo") == [visit]
    note(firms, FIRM, visit)
    (row,) = find_visits(firms, FIRM, Query(search="cane"), 5).rows
    assert row.finding
    assert found(row.finding) == [visit]
    assert find_visits(firms, OTHER, Query(search="cane"), 5) == Found((), "")
    with firms.look(FIRM) as connection:
        kept = connection.execute(sa.select(VISIT_WORDS.c.word)).scalars().all()
    assert "reed" not in kept


def test_the_names_of_inspectors_are_told_once_each(firms: Database) -> None:
    """To choose from: by the alphabet, without the empty one, of one's own firm alone."""
    assert inspectors(firms, FIRM) == ()
    fill(firms, 60)
    assert inspectors(firms, FIRM) == ("A. Levels", "B. Floor", "Béa Floor-Reed")
    assert inspectors(firms, OTHER) == ()


def test_no_two_words_of_a_name_are_kept_alike(firms: Database) -> None:
    """Names of words longer than are kept, the same at their beginnings, do no harm."""
    long = "a" * 39
    visit = houses.take_in(firms, label="Willow house")
    houses.write(firms, visit, "visit", "", {"surveyor": f"{long}b {long}c"})
    (row,) = find_visits(firms, FIRM, Query(inspector=f"{long}c"), 5).rows
    assert row.id == visit


def test_a_finding_is_asked_for_by_its_words() -> None:
    """Each outcome is found by any of its words that no other begins with, and by all."""
    assert search._outcomes("engineer") == ["ask an engineer"]
    assert search._outcomes("not") == ["nothing unusual", "readings not sufficient"]
    assert search._outcomes("condemned") == ["condemned"]
    assert search._outcomes("--") == ["--"]
    assert all(search._outcomes(each) == [each] for each in OUTCOMES)


def test_what_waits_to_be_noted_is_found_until_it_is(firms: Database) -> None:
    """Each writing waits until it is noted, a record that is not whole too; none is left out."""
    first = houses.take_in(firms)
    second = houses.take_in(firms, address="8 Cane Close")
    houses.write(firms, second, "reading", "r1", {"value": "much"})
    late, early = "2027-01-01T00:00:00Z", "2026-01-01T00:00:00Z"
    assert set(waiting(firms, FIRM, late, 9)) == {first, second}
    assert waiting(firms, FIRM, early, 9) == ()
    assert note(firms, FIRM, first).finding
    assert note(firms, FIRM, second).finding == ""
    assert waiting(firms, FIRM, late, 9) == ()
    houses.write(firms, first, "visit", "", {"notes": "Again."})
    assert waiting(firms, FIRM, late, 9) == (first,)


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=300))
def test_words_are_the_same_however_a_text_is_written(text: str) -> None:
    """Words have no capitals, accents or signs, and fit into their place."""
    words = words_of(text)
    assert words_of(" ".join(words)) == words
    assert all(0 < len(word) <= 40 and " " not in word for word in words)
    assert len(spaced(words, 50)) <= 50
    assert all(word in words for word in spaced(words, 50).split())
