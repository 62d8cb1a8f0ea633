"""Links: an address that shows one release until it ends, and is told to nobody else."""

import re
from datetime import timedelta

import pytest
import sqlalchemy as sa
from houses import FIRM, LEAD, NOW, OTHER, STRANGER

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.tables import LINKS
from levelbook.errors import MissingError, UsageError
from levelbook.firm.issues import Release, insert
from levelbook.firm.links import (
    count_view,
    get,
    is_secret_of,
    links_of,
    new_link,
    open_link,
    revoke,
)


@pytest.fixture
def released(firms: Database) -> str:
    """Give the id of a release of the first firm."""
    made = Release(
        id="release-1", visit="visit-0001", number="2026-0001", issue=1, digest="0" * 64,
        files={}, by=LEAD.person, at="2026-05-20T15:00:00.000000Z", reason="",
        date="2026-05-14", house="",
    )  # fmt: skip
    with firms.use(FIRM) as connection:
        insert(connection, FIRM, made)
    return made.id


def test_a_secret_opens_its_release_until_it_ends(firms: Database, released: str) -> None:
    """It works to the last moment, for the days it was made for, and not after."""
    secret, link = new_link(firms, LEAD, released, 30, earlier=False, now=NOW)
    assert open_link(firms, secret, NOW) == link
    assert open_link(firms, secret, NOW + timedelta(days=29, hours=23)) == link
    assert open_link(firms, secret, NOW + timedelta(days=30)) is None
    assert (link.firm, link.release) == (FIRM, released)


def test_secrets_are_long_random_and_not_kept(firms: Database, released: str) -> None:
    """256 bits in 43 characters, each another; the database has the digest alone."""
    made = [new_link(firms, LEAD, released, 1, earlier=False, now=NOW)[0] for _ in range(50)]
    assert len(set(made)) == 50
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{43}", secret) for secret in made)
    for position in range(42):
        assert len({secret[position] for secret in made}) > 15
    with firms.look(EVERY_FIRM) as connection:
        rows = connection.execute(sa.select(LINKS)).all()
    kept = " ".join(str(value) for row in rows for value in row)
    assert len(rows) == 50
    assert [secret for secret in made if secret in kept] == []


def test_a_revoked_link_opens_nothing(firms: Database, released: str) -> None:
    """Revoking ends it at once and stays; others to the same release go on."""
    secret, link = new_link(firms, LEAD, released, 30, earlier=False, now=NOW)
    other, _ = new_link(firms, LEAD, released, 30, earlier=True, now=NOW)
    revoke(firms, LEAD, link.id, NOW)
    revoke(firms, LEAD, link.id, NOW + timedelta(days=1))
    assert open_link(firms, secret, NOW) is None
    assert open_link(firms, other, NOW) is not None
    assert get(firms, FIRM, link.id).revoked == "2026-05-20T15:00:00.000000Z"


def test_views_are_counted(firms: Database, released: str) -> None:
    """Each showing of the page counts one, with the time of the last."""
    _, link = new_link(firms, LEAD, released, 30, earlier=False, now=NOW)
    for hours in (1, 2, 3):
        count_view(firms, link, NOW + timedelta(hours=hours))
    (found,) = links_of(firms, FIRM, released)
    assert (found.views, found.viewed) == (3, "2026-05-20T18:00:00.000000Z")


@pytest.mark.parametrize("days", [0, -1, 731, 10**9])
def test_a_link_ends_within_two_years(firms: Database, released: str, days: int) -> None:
    """No link is for good."""
    with pytest.raises(UsageError, match="1 to 730 days"):
        new_link(firms, LEAD, released, days, earlier=False, now=NOW)


def test_another_firm_can_neither_make_nor_see_nor_end_it(firms: Database, released: str) -> None:
    """To another firm the release and its links are as if they were not."""
    secret, link = new_link(firms, LEAD, released, 30, earlier=False, now=NOW)
    for attempt in (
        lambda: new_link(firms, STRANGER, released, 30, earlier=False, now=NOW),
        lambda: links_of(firms, OTHER, released),
        lambda: get(firms, OTHER, link.id),
        lambda: revoke(firms, STRANGER, link.id, NOW),
    ):
        with pytest.raises(MissingError):
            attempt()
    assert open_link(firms, secret, NOW) == link


@pytest.mark.parametrize(
    "secret", ["", "x", "x" * 43, "../" * 14 + "x", "\0" * 43, "' OR 1=1 --", "x" * 5000]
)
def test_what_is_no_secret_opens_nothing(firms: Database, released: str, secret: str) -> None:
    """Guesses, hostile and long texts are looked at without harm."""
    _, link = new_link(firms, LEAD, released, 30, earlier=False, now=NOW)
    assert open_link(firms, secret, NOW) is None
    assert not is_secret_of(link, secret)
    assert open_link(firms, link.id[:43], NOW) is None
