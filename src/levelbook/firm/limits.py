"""Limits on tries, by where they come from and by the account they are for.

An account that does not exist is counted as one that does. After :data:`FREE` failures each
further try must wait, 30 seconds at first and twice as long each time, at most
:data:`LONGEST` seconds; a try within the wait is not looked at and does not make it longer.

So that nobody can keep somebody else out by failing on purpose, a device on which the person
once signed in carries a cookie that exempts it from the account's wait, until it fails
:data:`FREE` times itself (the device cookies of the OWASP page "Slow Down Online Guessing
Attacks with Device Cookies"). A key in the table is a digest of an address, an e-mail address
or a device; none can be read from it.
"""

import ipaddress
from datetime import datetime, timedelta

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.moments import later, read_stamp, stamp
from levelbook.archive.tables import ATTEMPTS
from levelbook.errors import TooManyError
from levelbook.firm.tokens import digest

FREE = 10
"""Failures before a wait; NIST SP 800-63B, section 5.2.2, allows at most 100."""
FIRST_WAIT, LONGEST = 30, 900
FORGOTTEN = 86_400
"""Seconds without a try after which failures are forgotten."""
PER_ADDRESS, SPAN = 100, 900
"""Failures from one address within so many seconds; a whole office may share an address."""
PER_ADDRESS_ASKED = 1000
"""Challenges asked for from one address within that span."""
DEVICE = 180 * 86_400
"""Seconds for which a device stays known."""


def address_key(client: str) -> str:
    """Return the key of a client's address; of IPv6, of its network of 64 bits."""
    try:
        parsed = ipaddress.ip_address(client)
    except ValueError:
        return digest("address", client)
    if isinstance(parsed, ipaddress.IPv6Address) and parsed.ipv4_mapped is not None:
        parsed = parsed.ipv4_mapped  # how a socket for both tells of IPv4: one each, not one in all
    if parsed.version == 6:
        parsed = ipaddress.ip_network((parsed, 64), strict=False).network_address
    return digest("address", str(parsed))


def account_key(email: str) -> str:
    """Return the key of an account, whether there is one or not."""
    return digest("account", email)


def session_key(session: str) -> str:
    """Return the key of the password's tries within a session."""
    return digest("own", session)


def device_key(token: str, person: str) -> str:
    """Return the key of a device's cookie for a person."""
    return digest("device", token, person)


def wait_after(failures: int) -> int:
    """Return for how many seconds an account waits after so many failures."""
    if failures < FREE:
        return 0
    return int(min(FIRST_WAIT * 2 ** min(failures - FREE, 10), LONGEST))


def take_address(connection: Connection, key: str, now: datetime, most: int | None = None) -> None:
    """Count one try from an address, of at most so many within the span.

    Raises
    ------
    TooManyError
        If there were too many within the span; it is not counted then.
    """
    count, until = _row(connection, key)
    if until <= now:
        count, until = 0, now + timedelta(seconds=SPAN)
    if count >= (PER_ADDRESS if most is None else most):
        raise TooManyError("sign-in", _seconds(until, now))
    _put(connection, key, count + 1, stamp(until))


def give_back(connection: Connection, key: str) -> None:
    """Take back one counted try, since it was no failure."""
    fewer = sa.update(ATTEMPTS).where(ATTEMPTS.c.key == key, ATTEMPTS.c.count > 0)
    connection.execute(fewer.values(count=ATTEMPTS.c.count - 1))


def take_account(connection: Connection, key: str, now: datetime) -> None:
    """Count one try on an account as failed, before it is known whether it is.

    Raises
    ------
    TooManyError
        If the account waits; the try is not counted then.
    """
    count, until = _row(connection, key)
    if count >= FREE and now < until:
        raise TooManyError("sign-in", _seconds(until, now))
    if now >= until + timedelta(seconds=FORGOTTEN):
        count = 0
    _put(connection, key, count + 1, later(now, wait_after(count + 1)))


def forget(connection: Connection, key: str) -> None:
    """Forget everything counted under a key."""
    connection.execute(sa.delete(ATTEMPTS).where(ATTEMPTS.c.key == key))


def know_device(connection: Connection, key: str, now: datetime) -> None:
    """Remember a device on which somebody signed in."""
    _put(connection, key, 0, later(now, DEVICE))


def take_device(connection: Connection, key: str, now: datetime) -> bool:
    """Tell whether a device is known, and count a try from it; the last one unlearns it."""
    count, until = _row(connection, key)
    if until <= now:
        return False
    if count + 1 >= FREE:
        forget(connection, key)
    else:
        _put(connection, key, count + 1, stamp(until))
    return True


def take_share(
    connection: Connection, key: str, share: tuple[int, int], now: datetime, span: int
) -> datetime | None:
    """Count an amount, of a most, within a span of seconds; return when it goes on if it is more.

    The span begins with the first amount; what is more is not counted.
    """
    by, most = share
    count, until = _row(connection, key)
    if until <= now:
        count, until = 0, now + timedelta(seconds=span)
    if count + by > most:
        return until
    _put(connection, key, count + by, stamp(until))
    return None


def open_challenge(connection: Connection, key: str, now: datetime, seconds: int) -> None:
    """Remember a challenge that may be answered once, for so many seconds."""
    _put(connection, key, 0, later(now, seconds))


def close_challenge(connection: Connection, key: str, now: datetime) -> bool:
    """Tell whether a challenge was open, and close it."""
    gone = sa.delete(ATTEMPTS).where(ATTEMPTS.c.key == key, ATTEMPTS.c.until > stamp(now))
    return connection.execute(gone).rowcount == 1


def sweep(connection: Connection, now: datetime) -> None:
    """Remove what no longer counts: failures after a day, all else when its time is over.

    What somebody else is just counting stays: two who waited for each other's rows would be
    held up until one is refused.
    """
    nothing = sa.and_(ATTEMPTS.c.count == 0, ATTEMPTS.c.until < stamp(now))
    old = sa.or_(nothing, ATTEMPTS.c.until < later(now, -FORGOTTEN))
    free = sa.select(ATTEMPTS.c.key).where(old).with_for_update(skip_locked=True)
    connection.execute(sa.delete(ATTEMPTS).where(ATTEMPTS.c.key.in_(free)))


def _row(connection: Connection, key: str) -> tuple[int, datetime]:
    """Return count and moment under a key, held against others until the transaction ends."""
    if connection.dialect.name == "postgresql":
        hold = sa.func.pg_advisory_xact_lock(sa.func.hashtextextended(key, 0))
        connection.execute(sa.select(hold))
    query = sa.select(ATTEMPTS.c.count, ATTEMPTS.c.until).where(ATTEMPTS.c.key == key)
    row = connection.execute(query).one_or_none()
    return (row[0], read_stamp(row[1])) if row else (0, read_stamp(_LONG_AGO))


def _put(connection: Connection, key: str, count: int, until: str) -> None:
    changed = sa.update(ATTEMPTS).where(ATTEMPTS.c.key == key).values(count=count, until=until)
    if connection.execute(changed).rowcount == 0:
        connection.execute(sa.insert(ATTEMPTS).values(key=key, count=count, until=until))


def _seconds(until: datetime, now: datetime) -> int:
    return max(1, int((until - now).total_seconds()) + 1)


_LONG_AGO = "2000-01-01T00:00:00.000000Z"
