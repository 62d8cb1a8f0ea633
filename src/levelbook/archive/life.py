"""The life of an archive: a word that is another one after every restoring.

A firm's settings keep two words: of the archive, which goes along in its backups, and of its
life, which does not. A device remembers both with each visit that it exchanged. Where the
server tells the same archive in another life, it was brought back from a backup, and may lack
what it once acknowledged: then the device goes through all its visits.
"""

import json
import secrets
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database
from levelbook.archive.tables import FIRMS

SKIPPED = 1_000
"""How far the numbers of releases jump after restoring, past those handed out meanwhile."""
_ARCHIVE, _LIFE, _RESTORED = "archive", "life", "restored"


def life_of(database: Database, firm: str) -> str:
    """Return the words of a firm's archive and of its life, ``ARCHIVE.LIFE``."""
    with database.look(firm) as connection:
        words = _words(_settings(connection, firm))
    if words:
        return words
    with database.use(firm) as connection:
        return life_in(database, connection, firm)


def life_in(database: Database, connection: Connection, firm: str) -> str:
    """Return the same in the caller's transaction, which may write; made if there is none.

    Empty where the database has no such firm.
    """
    if words := _words(_settings(connection, firm)):
        return words
    database.hold(connection, f"firm/{firm}")
    settings = _settings(connection, firm)
    if settings is None:
        return ""
    if not _words(settings):
        settings = {_ARCHIVE: _word()} | settings | {_LIFE: _word()}
        _keep(connection, firm, settings)
    return _words(settings)


def renew(connection: Connection, firm: str, now: str) -> None:
    """Begin another life of a firm's archive, as it is restored at the time ``now``."""
    settings = {_ARCHIVE: _word()} | (_settings(connection, firm) or {})
    _keep(connection, firm, settings | {_LIFE: _word(), _RESTORED: now})


def lifeless(settings: str) -> str:
    """Return a firm's settings for another place, where its archive has a life of its own."""
    return json.dumps({k: v for k, v in _read(settings).items() if k != _LIFE}, sort_keys=True)


def skipped(connection: Connection, firm: str, year: int, last: str) -> int:
    """Return how many numbers of releases of a year are left out, 0 or :data:`SKIPPED`.

    After restoring, numbers were perhaps handed out that the backup did not know. ``last`` is
    when the last number of the year was given, empty if none was.
    """
    restored = str((_settings(connection, firm) or {}).get(_RESTORED, ""))
    after = restored.startswith(str(year)) and last[:19] < restored[:19]
    return SKIPPED if after else 0


def _settings(connection: Connection, firm: str) -> dict[str, Any] | None:
    query = sa.select(FIRMS.c.settings).where(FIRMS.c.id == firm)
    text = connection.execute(query).scalar_one_or_none()
    return None if text is None else _read(text)


def _read(text: str) -> dict[str, Any]:
    try:
        told = json.loads(text)
    except ValueError:
        told = None
    return told if isinstance(told, dict) else {}


def _words(settings: dict[str, Any] | None) -> str:
    if settings and _ARCHIVE in settings and _LIFE in settings:
        return f"{settings[_ARCHIVE]}.{settings[_LIFE]}"
    return ""


def _keep(connection: Connection, firm: str, settings: dict[str, Any]) -> None:
    text = json.dumps(settings, sort_keys=True)
    connection.execute(sa.update(FIRMS).where(FIRMS.c.id == firm).values(settings=text))


def _word() -> str:
    return secrets.token_hex(8)
