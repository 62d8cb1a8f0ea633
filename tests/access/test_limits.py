"""Limits on tries: guessing is slowed down, and nobody can keep somebody else out."""

from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
from argon2 import PasswordHasher
from test_coming_in import cookies, sign_in
from two_firms import ADDRESS, PASSWORD, quick

from levelbook.archive.database import EVERY_FIRM
from levelbook.archive.tables import ATTEMPTS, PEOPLE
from levelbook.errors import TooManyError
from levelbook.firm import audit, limits
from levelbook.firm.accounts import Accounts, Place, WrongError
from levelbook.firm.passkeys import Keys
from levelbook.firm.passwords import Passwords

START = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)
WRONG = "eight grey herons walking"


@pytest.fixture
def accounts(world):
    """Give what signs in, with a clock that the test moves."""
    return Accounts(world.database, quick(), Keys(ADDRESS))


def at(seconds: float) -> datetime:
    """Return a moment after the start."""
    return START + timedelta(seconds=seconds)


def fail(accounts, email, now, times=limits.FREE, place=Place("192.0.2.1")):  # noqa: B008
    """Fail so often at one moment."""
    for _ in range(times):
        with pytest.raises(WrongError):
            accounts.sign_in(email, WRONG, place, now)


@pytest.mark.parametrize("email", ["owner@alder.example", "nobody@nowhere.example"])
def test_after_ten_failures_an_account_waits(accounts, email):
    """The eleventh try is not looked at, whether there is such an account or not."""
    fail(accounts, email, START)
    with pytest.raises(TooManyError) as told:
        accounts.sign_in(email, PASSWORD, Place("198.51.100.7"), at(5))
    assert told.value.wait == 26
    with pytest.raises(TooManyError):
        accounts.sign_in(email, PASSWORD, Place("198.51.100.7"), at(29))


def test_the_wait_grows_and_has_an_end(accounts, world):
    """It doubles with each failure up to a quarter of an hour, and then the right one opens."""
    email, now = world.one.email("owner"), START
    fail(accounts, email, now)
    waits = []
    for _ in range(9):
        with pytest.raises(TooManyError) as told:
            accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), now)
        waits.append(told.value.wait - 1)
        now += timedelta(seconds=told.value.wait)
        fail(accounts, email, now, 1)
    assert waits == [30, 60, 120, 240, 480, 900, 900, 900, 900]
    assert accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), now + timedelta(seconds=900))


def test_tries_within_the_wait_do_not_lengthen_it(accounts, world):
    """Who hammers on a locked account changes nothing."""
    email = world.one.email("owner")
    fail(accounts, email, START)
    for second in range(30):
        with pytest.raises(TooManyError):
            accounts.sign_in(email, WRONG, Place("192.0.2.1"), at(second))
    assert accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), at(30))


def test_a_known_device_does_not_wait(accounts, world):
    """Somebody else's failures do not keep out whoever signed in on this device before."""
    email = world.one.email("owner")
    device = accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), START).device
    fail(accounts, email, START, 10, Place("203.0.113.9"))
    with pytest.raises(TooManyError):
        accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), at(1))
    assert accounts.sign_in(email, PASSWORD, Place("192.0.2.1", token=device), at(1))


def test_a_device_is_known_for_its_person_alone(accounts, world):
    """The cookie of one's own sign-in does not open a way to guess another's password."""
    device = accounts.sign_in(world.one.email("owner"), PASSWORD, Place("192.0.2.1"), START).device
    email = world.one.email("reviewer")
    fail(accounts, email, START, 10, Place("192.0.2.1", token=device))
    with pytest.raises(TooManyError):
        accounts.sign_in(email, WRONG, Place("192.0.2.1", token=device), at(1))


def test_a_known_device_is_unlearned_by_failing(accounts, world):
    """Ten failures on it, and it counts as any other."""
    email = world.one.email("owner")
    device = accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), START).device
    place = Place("192.0.2.1", token=device)
    fail(accounts, email, START, 20, place)
    with pytest.raises(TooManyError):
        accounts.sign_in(email, PASSWORD, place, at(1))


def test_a_known_device_is_forgotten_in_time(accounts, world):
    """After 180 days its cookie exempts from nothing."""
    email = world.one.email("owner")
    device = accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), START).device
    now = at(limits.DEVICE + 1)
    fail(accounts, email, now)
    with pytest.raises(TooManyError):
        accounts.sign_in(email, PASSWORD, Place("192.0.2.1", token=device), now)


def test_success_and_time_forget_failures(accounts, world):
    """Nine failures and a success begin anew; so does a day without a try."""
    email = world.one.email("owner")
    for round_ in range(3):
        fail(accounts, email, at(round_), 9)
        accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), at(round_))
    fail(accounts, email, at(10), 9, Place("198.51.100.1"))
    later = at(10 + limits.FORGOTTEN)
    fail(accounts, email, later, 9, Place("198.51.100.1"))
    assert accounts.sign_in(email, PASSWORD, Place("198.51.100.1"), later)


def test_one_address_is_limited_over_all_accounts(accounts, world):
    """A hundred failures within a quarter of an hour, whichever accounts they were for."""
    place = Place("192.0.2.1")
    for k in range(limits.PER_ADDRESS):
        fail(accounts, f"guess{k}@nowhere.example", START, 1, place)
    with pytest.raises(TooManyError) as told:
        accounts.sign_in(world.one.email("owner"), PASSWORD, place, at(10))
    assert told.value.wait == limits.SPAN - 10 + 1
    assert accounts.sign_in(world.one.email("owner"), PASSWORD, Place("192.0.2.2"), at(10))
    assert accounts.sign_in(world.one.email("owner"), PASSWORD, place, at(limits.SPAN))


def test_successes_do_not_count_against_an_office(accounts, world):
    """Fifty people who sign in from one address leave it all its tries."""
    place = Place("192.0.2.1")
    for k in range(50):
        accounts.sign_in(world.one.email("owner"), PASSWORD, place, at(k))
    with world.database.look(EVERY_FIRM) as connection:
        query = sa.select(ATTEMPTS.c.count).where(ATTEMPTS.c.key == limits.address_key("192.0.2.1"))
        assert connection.execute(query).scalar_one() == 0


def test_a_network_of_ipv6_is_one_address():
    """Whoever has a network of 64 bits has no more tries than others."""
    key = limits.address_key
    assert key("2001:db8:1:2::1") == key("2001:db8:1:2:ffff::9")
    assert key("2001:db8:1:2::1") != key("2001:db8:1:3::1")
    assert key("192.0.2.1") != key("192.0.2.2")
    assert key("testclient") != key("")


def test_keys_tell_nothing(accounts, world):
    """No address of any kind is kept in the clear."""
    fail(accounts, "nobody@nowhere.example", START, 1)
    with world.database.look(EVERY_FIRM) as connection:
        keys = connection.execute(sa.select(ATTEMPTS.c.key)).scalars().all()
    assert keys
    assert all(len(key) == 64 and set(key) <= set("0123456789abcdef") for key in keys)


def test_old_counts_are_swept(accounts, world):
    """What no longer counts is gone after the next sign-in."""
    fail(accounts, "nobody@nowhere.example", START, 3)
    accounts.sign_in(world.one.email("owner"), PASSWORD, Place("192.0.2.9"), at(2 * 86_400))
    with world.database.look(EVERY_FIRM) as connection:
        keys = set(connection.execute(sa.select(ATTEMPTS.c.key)).scalars())
    assert limits.account_key("nobody@nowhere.example") not in keys


def test_waits_only_grow():
    """The wait never gets shorter with more failures, and never longer than its limit."""
    waits = [limits.wait_after(n) for n in range(2000)]
    assert waits == sorted(waits)
    assert (waits[9], waits[10], waits[-1]) == (0, 30, limits.LONGEST)


def test_the_server_says_when_to_try_again(world):
    """The answer is 429 with Retry-After, the same for an account that does not exist."""
    told = []
    for email in (world.one.email("owner"), "nobody@nowhere.example"):
        for _ in range(limits.FREE):
            assert sign_in(world, email, WRONG).status_code == 401
        answer = sign_in(world, email)
        assert int(answer.headers["retry-after"]) > 0
        told.append((answer.status_code, answer.json()["error"]["code"]))
    assert told == [(429, "too-many")] * 2


def test_failures_stand_in_the_audit_list(world):
    """The firm sees that somebody tried; an unknown account leaves no line anywhere."""
    sign_in(world, world.one.email("owner"), WRONG)
    sign_in(world, "nobody@nowhere.example", WRONG)
    with world.database.look(world.one.id) as connection:
        line = audit.lines(connection, world.one.id, 1)[0]
    assert (line.action, line.subject) == ("sign-in failed", world.one.people["owner"])


def test_the_device_cookie_works_in_the_browser(world):
    """The cookie that a sign-in sets exempts the browser from the account's wait."""
    email = world.one.email("owner")
    found = cookies(sign_in(world, email))["levelbook-device"].partition(";")[0]
    for _ in range(limits.FREE):
        sign_in(world, email, WRONG)
    assert sign_in(world, email).status_code == 429
    headers = {"cookie": f"levelbook-device={found}"}
    assert sign_in(world, email, headers=headers).status_code == 200


def test_a_password_is_kept_again_when_the_parameters_change(world):
    """At the next sign-in, and it still opens."""
    email = world.one.email("owner")
    newer = Passwords(PasswordHasher(time_cost=2, memory_cost=16, parallelism=1))
    accounts = Accounts(world.database, newer, Keys(ADDRESS))
    for now in (START, at(1)):
        accounts.sign_in(email, PASSWORD, Place("192.0.2.1"), now)
        with world.database.look(world.one.id) as connection:
            query = sa.select(PEOPLE.c.password).where(PEOPLE.c.email == email)
            assert not newer.is_old(connection.execute(query).scalar_one())


def test_each_address_of_ipv4_counts_for_itself():
    """A socket for both kinds tells IPv4 as IPv6: one guesser must not keep everybody out."""
    key = limits.address_key
    assert key("::ffff:192.0.2.1") == key("192.0.2.1")
    assert key("::ffff:192.0.2.1") != key("::ffff:192.0.2.2")
    assert key("::ffff:192.0.2.1") != key("::1")


def test_challenges_are_not_asked_for_without_end(world, monkeypatch):
    """Each is a row until it ends; who asks for very many waits, others do not."""
    monkeypatch.setattr(limits, "PER_ADDRESS_ASKED", 5)
    ask = "/api/sign-in/passkey/options"
    assert [world.ask("POST", ask).status_code for _ in range(7)] == [200] * 5 + [429] * 2
    assert sign_in(world, world.one.email("owner")).status_code == 200


def test_challenges_are_swept_when_their_time_is_over(world, accounts):
    """Those that nobody answered do not stay for a day."""
    count = sa.select(sa.func.count()).select_from(ATTEMPTS)
    with world.database.use(EVERY_FIRM) as connection:
        for k in range(20):
            accounts.keys.ask(connection, at(k))
    accounts.sign_in(world.one.email("owner"), PASSWORD, Place("192.0.2.9"), at(400))
    with world.database.look(EVERY_FIRM) as connection:
        assert connection.execute(count).scalar_one() == 2


def test_a_failure_for_nobody_writes_as_one_for_somebody_does(world):
    """Whoever writes next waits as long after either, so that waiting tells of no account."""
    begun = []
    use = world.database.use

    def counted(firm):
        begun.append(firm)
        return use(firm)

    world.database.use = counted
    told = []
    for email in (world.one.email("owner"), "nobody@nowhere.example"):
        begun.clear()
        assert sign_in(world, email, WRONG).status_code == 401
        told.append(len(begun))
    assert told[0] == told[1] >= 2
