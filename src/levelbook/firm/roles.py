"""Who somebody is, and what the roles are called.

A surveyor reads all of the firm's visits and writes entries; a reviewer also releases; an
owner also looks after people, instruments, settings and the audit list.
"""

from dataclasses import dataclass

from levelbook.archive.tables import LOCAL

SURVEYOR, REVIEWER, OWNER = "surveyor", "reviewer", "owner"
ROLES = (SURVEYOR, REVIEWER, OWNER)
EVERYONE = frozenset(ROLES)
"""Everyone who is signed in."""
RELEASERS = frozenset({REVIEWER, OWNER})
OWNERS = frozenset({OWNER})
ANYONE = frozenset({"anyone", *ROLES})
"""Whoever asks, signed in or not."""


@dataclass(frozen=True, slots=True)
class Who:
    """Somebody of a firm; ``session`` is the digest of the session's token, empty without one."""

    firm: str
    person: str
    role: str
    session: str = ""


@dataclass(frozen=True, slots=True)
class Known:
    """What a session's token tells: who it is, and the token that changes must carry.

    ``proved`` tells whether password or passkey were given not long ago.
    """

    who: Who
    csrf: str
    proved: bool = True


HERE = Who(LOCAL, LOCAL, OWNER)
"""Whoever sits at one's own machine, where there are no accounts."""
