"""The audit list: every line holds the one before, and whoever touches one is found out."""

import threading
from dataclasses import replace
from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.exc import DBAPIError

from levelbook.archive.tables import AUDIT
from levelbook.firm import audit
from levelbook.firm.audit import BEGINNING, Line, follow, link, note
from levelbook.firm.roles import Who

ONE, OTHER = Who("one", "ann", "owner"), Who("other", "bo", "owner")


def write(database, who=ONE, number=5):
    """Write so many lines."""
    for k in range(number):
        with database.use(who.firm) as connection:
            note(connection, who, "released", f"visit-{k}", issue=k)


def chain(number: int, firm: str = "one") -> list[Line]:
    """Return a list of lines that fit."""
    made, before = [], BEGINNING
    for k in range(number):
        row = {"at": f"t{k}", "person": "ann", "action": "x", "subject": str(k), "detail": "{}"}
        before = link(before, firm, row)
        made.append(Line(seq=k + 1, chain=before, **row))
    return made


def test_lines_are_listed_newest_first(database):
    """With what was told, and from where one left off."""
    write(database)
    with database.look("one") as connection:
        first = audit.lines(connection, "one", 2)
        rest = audit.lines(connection, "one", 10, after=first[-1].seq)
    assert [line.subject for line in first + rest] == [f"visit-{k}" for k in (4, 3, 2, 1, 0)]
    assert first[0].detail == '{"issue":4}'
    assert abs(datetime.now(UTC) - datetime.fromisoformat(first[0].at)).total_seconds() < 60


def test_a_list_that_nobody_touched_holds(database):
    """Each firm's list is a chain of its own."""
    write(database)
    write(database, OTHER, 3)
    for firm, number in (("one", 5), ("other", 3), ("nobody", 0)):
        with database.look(firm) as connection:
            found = audit.check(connection, firm)
        assert (found.lines, found.broken) == (number, None)
        assert bool(found.chain) is (number > 0)


def test_a_line_stands_and_falls_with_what_it_tells(database):
    """What is undone leaves no line behind."""

    class UndoneError(Exception):
        pass

    def broken_off():
        with database.use("one") as connection:
            note(connection, ONE, "released", "visit")
            raise UndoneError

    with pytest.raises(UndoneError):
        broken_off()
    with database.look("one") as connection:
        assert audit.lines(connection, "one", 5) == []


def test_many_writers_make_one_chain(database):
    """Lines written at the same time from several places still fit, none is lost."""
    threads = [threading.Thread(target=write, args=(database, ONE, 10)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with database.look("one") as connection:
        found = audit.check(connection, "one")
    assert (found.lines, found.broken) == (40, None)


@pytest.mark.parametrize(
    "change", [sa.update(AUDIT).values(subject="other"), sa.delete(AUDIT)], ids=["update", "delete"]
)
def test_the_database_refuses_to_change_a_line(database, change):
    """Neither the app nor whoever has its password alters or removes a line."""
    write(database)
    with pytest.raises(DBAPIError, match="never changed"), database.use("one") as connection:
        connection.execute(change)
    with database.look("one") as connection:
        assert audit.check(connection, "one").lines == 5


def test_whoever_takes_the_guards_away_is_found_out(database):
    """A line altered behind the database's back breaks the chain at its place."""
    write(database)
    with database.use("one") as connection:
        if database.postgresql:
            connection.execute(sa.text("DROP TRIGGER audit_added_only ON audit"))
        else:
            connection.execute(sa.text("DROP TRIGGER audit_no_update"))
        third = sa.select(AUDIT.c.seq).where(AUDIT.c.subject == "visit-2").scalar_subquery()
        connection.execute(sa.update(AUDIT).where(AUDIT.c.seq == third).values(person="bo"))
        number = connection.execute(sa.select(third)).scalar_one()
    with database.look("one") as connection:
        assert audit.check(connection, "one").broken == number


@given(st.integers(1, 12), st.data())
def test_any_touch_breaks_the_chain(number, data):
    """Altering any field of any line, removing, repeating or swapping lines is found."""
    whole = chain(number)
    assert follow("one", whole).broken is None
    assert follow("other", whole).broken == 1
    k = data.draw(st.integers(0, number - 1))
    name = data.draw(st.sampled_from(["at", "person", "action", "subject", "detail", "chain"]))
    altered = [*whole]
    altered[k] = replace(whole[k], **{name: getattr(whole[k], name) + "x"})
    assert follow("one", altered).broken == k + 1
    if k < number - 1:
        assert follow("one", whole[:k] + whole[k + 1 :]).broken == k + 2
        swapped = [*whole[:k], whole[k + 1], whole[k], *whole[k + 2 :]]
        assert follow("one", swapped).broken is not None
    assert follow("one", [*whole, whole[k]]).broken == k + 1


def test_cutting_off_the_end_shows_against_a_chain_written_down():
    """A shortened list holds in itself, but the chain that was told is not in it."""
    whole = chain(6)
    told = follow("one", whole).chain
    cut = follow("one", whole[:4], told)
    assert (cut.broken, cut.expected) == (None, False)
    grown = follow("one", chain(9), told)
    assert (grown.broken, grown.expected) == (None, True)


def test_a_list_written_anew_shows_too():
    """Whoever rebuilds the whole chain cannot rebuild the one that was written down."""
    told = follow("one", chain(6)).chain
    anew = chain(6)
    anew[0] = replace(anew[0], subject="another")
    before = BEGINNING
    for k, line in enumerate(anew):
        row = {n: getattr(line, n) for n in ("at", "person", "action", "subject", "detail")}
        before = link(before, "one", row)
        anew[k] = replace(line, chain=before)
    assert follow("one", anew).broken is None
    assert not follow("one", anew, told).expected
