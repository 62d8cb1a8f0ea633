"""The firm's signing key: made on the first release, and kept in the server's data folder."""

import hashlib
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from levelbook.archive.database import Database
from levelbook.archive.keys import NAME, PRIVATE, new_key, private_key
from levelbook.errors import UsageError

KEYS = "keys"
"""The folder below the data folder; only the server's own user can read the files in it."""


def signing_key(database: Database, folder: Path, firm: str) -> Ed25519PrivateKey:
    """Return the key that a firm's records are sealed with, made if there is none yet.

    Servers that share a database must share the folder too, else each seals with its own.

    Raises
    ------
    OSError
        If the key cannot be written or read.
    UsageError
        If it is no key, or others on the machine can read it. Whoever releases is told so
        without a path of the server.
    """
    name = firm if NAME.fullmatch(firm) else hashlib.sha256(firm.encode()).hexdigest()[:40]
    try:
        if not (folder / (name + PRIVATE)).exists():
            with database.use(firm) as connection:
                database.hold(connection, f"{firm}/key")
                if not (folder / (name + PRIVATE)).exists():
                    new_key(folder, name)
        return private_key(folder, name)
    except UsageError as error:
        if isinstance(error.__cause__, OSError):
            raise error.__cause__ from None
        remedy = f"ask the operator to look at the folder {folder.name!r}"
        raise UsageError("signing key", error.problem, remedy) from None
