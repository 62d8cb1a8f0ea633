"""Release: sealed, numbered, made once and kept; two at once give one; nothing is made again."""

import io
import json
import threading
from collections.abc import Callable
from datetime import timedelta
from functools import partial

import houses
import pikepdf
import pytest
import sqlalchemy as sa
from houses import FIRM, KEY, LEAD, NOW, OTHER, STRANGER, WALKER

from levelbook.archive.database import Database
from levelbook.archive.keys import hex_of
from levelbook.archive.opening import open_bytes
from levelbook.archive.tables import BLOBS, RELEASES, VISITS
from levelbook.archive.verify import verify
from levelbook.book import digest, read_book
from levelbook.book.model import Book
from levelbook.errors import ConflictError, DeniedError, DocumentError, MissingError, UsageError
from levelbook.findings import Assessment, assess
from levelbook.firm import releases as releasing
from levelbook.firm.files import NAMES, Made, Told
from levelbook.firm.issues import earlier, find, newer, releases
from levelbook.firm.noting import note
from levelbook.firm.releases import Office, file_of, release
from levelbook.firm.reviews import CHANGED, FOR_REVIEW, RELEASED, events, move, state_of

AT = "2026-05-20T16:00:00.000000Z"
WHY = "A reading was taken again."


@pytest.fixture(scope="module")
def assessed() -> Assessment:
    """Give what some book amounts to."""
    return assess(read_book(json.dumps(houses.document())))


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch, assessed: Assessment) -> None:
    """Let the files of a release be small texts, where the files are not what is looked at."""

    def small(book, told: Told, private, photos) -> Made:
        return Made({n: f"{told.name} {n}".encode() for n in NAMES}, assessed)

    monkeypatch.setattr(releasing, "make_files", small)


def state(database: Database, visit: str, firm: str = FIRM) -> str:
    """Return the state of a visit in the list."""
    with database.look(firm) as connection:
        return state_of(connection, firm, visit)


def asked(database: Database, reason: str = "", **about: str) -> str:
    """Return a new visit that is for review."""
    visit = houses.take_in(database, **about)
    move(database, WALKER, visit, FOR_REVIEW, reason, AT)
    return visit


def test_a_release_is_sealed_numbered_and_kept(firms: Database) -> None:
    """The client's files are there, the PDF proves its record, and issue and firm are told."""
    office = houses.office(firms)
    visit = asked(firms, address="4 Ostrich Lane")
    made = release(office, LEAD, visit, "", NOW)
    assert (made.number, made.issue, made.name) == ("2026-0001", 1, "2026-0001, issue 1")
    assert set(made.files) == set(NAMES)
    assert releases(firms, FIRM, visit) == (made,)
    assert find(firms, FIRM, made.id) == made
    pdf, media = file_of(office.blobs, made, "report.pdf")
    assert media == "application/pdf"
    verdict = verify(open_bytes(pdf), hex_of(KEY.public_key()))
    assert verdict.proved
    assert verdict.digest == made.digest
    assert verify(open_bytes(file_of(office.blobs, made, "book.sealed.json")[0])).proved
    assert b"2026-0001, issue 1" in file_of(office.blobs, made, "plan.html")[0]
    about = json.loads(file_of(office.blobs, made, "page.json")[0])
    assert about["firm"] == "Low Plains Survey"
    assert about["digest"] == made.digest
    assert "±" in about["plan"] or "give or take" in " ".join(about["summary"])
    assert len(pikepdf.open(io.BytesIO(pdf)).pages) > 2
    assert state(firms, visit) == RELEASED
    assert [e.release for e in events(firms, FIRM, visit)] == [None, made.id]
    with firms.look(FIRM) as connection:
        row = connection.execute(sa.select(VISITS).where(VISITS.c.id == visit)).one()
    assert row.finding
    assert row.assessed == row.updated


def test_nobody_else_releases(firms: Database, quick: None) -> None:
    """A surveyor, another firm, and a visit that is not for review or not whole are refused."""
    office = houses.office(firms)
    draft, visit = houses.take_in(firms), asked(firms)
    with pytest.raises(DeniedError):
        release(office, WALKER, visit, "", NOW)
    with pytest.raises(ConflictError, match="ask for its review first"):
        release(office, LEAD, draft, "", NOW)
    with pytest.raises(MissingError):
        release(houses.office(firms, OTHER), STRANGER, visit, "", NOW)
    with pytest.raises(ConflictError, match="not the one you looked at"):
        release(office, LEAD, visit, "", NOW, "0" * 64)
    houses.write(firms, visit, "reading", "r1", {"value": "much"})
    with pytest.raises(DocumentError):
        release(office, LEAD, visit, "", NOW)
    assert releases(firms, FIRM, visit) == ()
    assert releases(firms, OTHER, visit) == ()


def test_a_change_after_release_is_seen_and_needs_a_reason(firms: Database, quick: None) -> None:
    """Later writing shows at once; undone it counts no more; a new issue tells why."""
    office = houses.office(firms)
    visit = asked(firms)
    first = release(office, LEAD, visit, "", NOW)
    before = houses.document()["readings"][0]["value"]
    name = houses.document()["readings"][0]["id"]
    houses.write(firms, visit, "reading", name, {"value": "0.7"})
    assert state(firms, visit) == CHANGED
    note(firms, FIRM, visit)
    assert state(firms, visit) == CHANGED
    houses.write(firms, visit, "reading", name, {"value": before})
    assert note(firms, FIRM, visit).digest == first.digest
    assert state(firms, visit) == RELEASED
    houses.write(firms, visit, "reading", name, {"value": "0.8"})
    with pytest.raises(UsageError, match="needs its reason"):
        move(firms, WALKER, visit, FOR_REVIEW, "", AT)
    move(firms, WALKER, visit, FOR_REVIEW, WHY, AT)
    with pytest.raises(UsageError, match="why it is needed"):
        release(office, LEAD, visit, " ", NOW)
    second = release(office, LEAD, visit, WHY, NOW + timedelta(days=400))
    assert (second.number, second.issue, second.reason) == (first.number, 2, WHY)
    assert second.digest != first.digest
    assert newer(firms, FIRM, first) == second
    assert newer(firms, FIRM, second) is None
    assert file_of(office.blobs, first, "plan.svg")[0] == b"2026-0001, issue 1 plan.svg"


def test_a_new_issue_tells_what_it_replaces(firms: Database) -> None:
    """The reason stands in the report of the new issue, and the old files are as they were."""
    office = houses.office(firms)
    visit = asked(firms)
    first = release(office, LEAD, visit, "", NOW)
    kept = {name: file_of(office.blobs, first, name)[0] for name in NAMES}
    move(firms, LEAD, visit, FOR_REVIEW, WHY, AT)
    second = release(office, LEAD, visit, WHY, NOW + timedelta(days=3))
    about = json.loads(file_of(office.blobs, second, "page.json")[0])
    told = f"This is issue 2. It replaces issue 1 of May 20, 2026. Reason: {WHY}"
    assert about["notes"][0] == told
    assert told.encode() in file_of(office.blobs, second, "plan.html")[0]
    again = find(firms, FIRM, first.id)
    assert {name: file_of(office.blobs, again, name)[0] for name in NAMES} == kept


def at_once(works: list[Callable[[], object]]) -> list[object]:
    """Do all works at once, each in a thread, and return what each gave or raised."""
    gate, told = threading.Barrier(len(works)), [None] * len(works)

    def run(k: int) -> None:
        gate.wait()
        try:
            told[k] = works[k]()
        except UsageError as error:
            told[k] = error

    threads = [threading.Thread(target=run, args=(k,)) for k in range(len(works))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return told


def test_of_two_releases_at_once_one_wins(firms: Database, quick: None) -> None:
    """Four people release one visit: one issue, and the others are told of it."""
    office = houses.office(firms)
    for _ in range(3):
        visit = asked(firms)
        told = at_once([partial(release, office, LEAD, visit, "", NOW)] * 4)
        won = [each for each in told if not isinstance(each, Exception)]
        lost = [each for each in told if isinstance(each, Exception)]
        assert releases(firms, FIRM, visit) == tuple(won)
        assert len(won) == 1
        assert all(isinstance(each, ConflictError) for each in lost)
        assert all("in the meantime" in str(e) or "released" in str(e) for e in lost)


def test_visits_released_at_once_have_numbers_of_their_own(firms: Database, quick: None) -> None:
    """Four visits released at once get four numbers, one after the other."""
    office = houses.office(firms)
    visits = [asked(firms) for _ in range(4)]
    told = at_once([partial(release, office, LEAD, v, "", NOW) for v in visits])
    assert [each for each in told if isinstance(each, Exception)] == []
    assert sorted(each.number for each in told) == [f"2026-{n:04d}" for n in range(1, 5)]


def test_writing_during_a_release_is_not_lost_in_it(
    firms: Database, monkeypatch: pytest.MonkeyPatch, assessed: Assessment
) -> None:
    """An entry that arrives while the report is made stops the release; the next has it."""
    office = houses.office(firms)
    visit = asked(firms)
    name = houses.document()["readings"][0]["id"]
    books: list[Book] = []

    def meanwhile(book: Book, told: Told, private, photos) -> Made:
        if not books:
            houses.write(firms, visit, "reading", name, {"value": "0.7"})
        books.append(book)
        return Made(dict.fromkeys(NAMES, b"file"), assessed)

    monkeypatch.setattr(releasing, "make_files", meanwhile)
    with pytest.raises(ConflictError, match="written into the record"):
        release(office, LEAD, visit, "", NOW)
    assert releases(firms, FIRM, visit) == ()
    made = release(office, LEAD, visit, "", NOW)
    assert next(r.value for r in books[1].readings if r.id == name) == "0.7"
    assert made.digest == digest(books[1]) != digest(books[0])


def test_the_database_itself_refuses_a_second_release_of_an_issue(
    firms: Database, quick: None
) -> None:
    """Were every check left out, the unique constraint and the trigger would still hold."""
    visit = asked(firms)
    made = release(houses.office(firms), LEAD, visit, "", NOW)
    row = {"id": "other", "firm": FIRM, "visit": visit, "number": "2026-0099", "issue": 1}
    row |= {"digest": "", "files": "{}", "by": "x", "at": AT}
    with pytest.raises(sa.exc.IntegrityError), firms.use(FIRM) as connection:
        connection.execute(sa.insert(RELEASES).values(**row))
    with pytest.raises(sa.exc.DBAPIError), firms.use(FIRM) as connection:
        connection.execute(sa.update(RELEASES).values(reason="other"))
    with pytest.raises(sa.exc.DBAPIError), firms.use(FIRM) as connection:
        connection.execute(sa.delete(RELEASES))
    assert releases(firms, FIRM, visit) == (made,)


def test_numbers_count_by_year_and_firm(firms: Database, quick: None) -> None:
    """Each firm and year counts from 1, and past 9999 it goes on."""
    office, other = houses.office(firms), houses.office(firms, OTHER)
    assert release(office, LEAD, asked(firms), "", NOW).number == "2026-0001"
    assert release(office, LEAD, asked(firms), "", NOW).number == "2026-0002"
    later = NOW + timedelta(days=365)
    assert release(office, LEAD, asked(firms), "", later).number == "2027-0001"
    theirs = houses.take_in(firms, OTHER)
    move(firms, STRANGER, theirs, FOR_REVIEW, "", AT)
    assert release(other, STRANGER, theirs, "", NOW).number == "2026-0001"
    row = {"id": "big", "firm": FIRM, "visit": "v", "number": "2026-10011", "issue": 1}
    row |= {"digest": "", "files": "{}", "by": "x", "at": AT}
    with firms.use(FIRM) as connection:
        connection.execute(sa.insert(RELEASES).values(**row))
    assert release(office, LEAD, asked(firms), "", NOW).number == "2026-10012"


def test_earlier_visits_are_of_the_same_address_only(firms: Database, quick: None) -> None:
    """Accents and capitals aside the address must be the same, and there must be one."""
    office = houses.office(firms)

    def made(day: str, address: str | None, at=NOW):
        visit = asked(firms, date=day, address=address)
        return release(office, LEAD, visit, "", at)

    old = made("2024-03-01", "12 Sälzgrass Court, Unit 4")
    made("2024-04-01", "12 Salzgrass Court, Unit 5")
    bare = made("2024-05-01", None)
    late = made("2025-02-01", "12 SALZGRASS COURT  unit 4", NOW + timedelta(days=9))
    now = made("2026-05-01", "12 Salzgrass Court, unit 4")
    until = (NOW + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    assert earlier(firms, FIRM, now, until) == (old,)
    assert earlier(firms, FIRM, now, "2027-01-01T00:00:00.000000Z") == (late, old)
    assert earlier(firms, OTHER, now, "2027-01-01T00:00:00.000000Z") == ()
    assert earlier(firms, FIRM, bare, "2027-01-01T00:00:00.000000Z") == ()
    move(firms, LEAD, old.visit, FOR_REVIEW, WHY, AT)
    again = release(office, LEAD, old.visit, WHY, NOW + timedelta(days=20))
    assert earlier(firms, FIRM, now, until) == (again,)


def test_a_file_that_a_release_has_not_is_missing(firms: Database, quick: None) -> None:
    """A name outside the list, or a blob that is gone, is told as missing."""
    office = houses.office(firms)
    made = release(office, LEAD, asked(firms), "", NOW)
    with pytest.raises(MissingError):
        file_of(office.blobs, made, "../keys")
    empty: Office = houses.office(firms)
    with pytest.raises(MissingError):
        file_of(empty.blobs, made, "report.pdf")
    with pytest.raises(MissingError):
        find(firms, OTHER, made.id)
    assert BLOBS.name == "blobs"
