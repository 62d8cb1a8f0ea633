"""Passkeys: keys that a device keeps, asked for by a challenge that is good once.

Web Authentication Level 2 (W3C), by the library ``webauthn``. A key must verify its user, so
that having the device is not enough. A counter that does not go up tells of a copied key
(section 6.1.1 there); such a key is refused.
"""

import json
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit

import sqlalchemy as sa
import webauthn
from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from levelbook.archive.moments import stamp
from levelbook.archive.tables import PASSKEYS
from levelbook.errors import DeniedError, MissingError, UsageError
from levelbook.firm import limits
from levelbook.firm.audit import note
from levelbook.firm.people import Person
from levelbook.firm.roles import Who
from levelbook.firm.tokens import digest

PATIENCE = 300
"""Seconds within which a challenge must be answered."""
MOST = 20
"""Keys of one person."""
LONGEST_ID = 400
NAME = "Levelbook"


@dataclass(frozen=True, slots=True)
class Passkey:
    """A key as its person sees it."""

    id: str
    name: str
    created: str
    used: str | None


@dataclass(frozen=True, slots=True)
class Keys:
    """Passkeys for a server at ``address``: a key is bound to its host."""

    address: str

    @property
    def host(self) -> str:
        """Return the host that keys are bound to."""
        return urlsplit(self.address).hostname or ""

    def ask_new(self, connection: Connection, person: Person, now: datetime) -> dict[str, Any]:
        """Return what a browser needs to make a key for a person."""
        challenge = _challenge(connection, person.id, now)
        have = [item.id for item in listed(connection, person.firm, person.id)]
        options = webauthn.generate_registration_options(
            rp_id=self.host,
            rp_name=NAME,
            user_id=person.id.encode(),
            user_name=person.email,
            user_display_name=person.name or person.email,
            challenge=challenge,
            authenticator_selection=AuthenticatorSelectionCriteria(
                resident_key=ResidentKeyRequirement.REQUIRED,
                user_verification=UserVerificationRequirement.REQUIRED,
            ),
            exclude_credentials=[
                PublicKeyCredentialDescriptor(id=base64url_to_bytes(key)) for key in have
            ],
        )
        return _plain(options)

    def add(
        self, connection: Connection, who: Who, answer: dict[str, Any], name: str, now: datetime
    ) -> Passkey:
        """Keep a new key for somebody.

        Raises
        ------
        UsageError
            If the answer does not hold, or there are too many keys.
        """
        if len(listed(connection, who.firm, who.person)) >= MOST:
            raise UsageError("passkey", f"there are {MOST} passkeys already", "remove one first")
        try:
            made = webauthn.verify_registration_response(
                credential=answer,
                expected_challenge=_answered(connection, answer, who.person, now),
                expected_rp_id=self.host,
                expected_origin=self.address,
                require_user_verification=True,
            )
        except (WebAuthnException, *_MALFORMED):
            raise _refused() from None
        key = bytes_to_base64url(made.credential_id)
        if len(key) > LONGEST_ID:
            raise _refused()
        row = {
            "id": key,
            "firm": who.firm,
            "person": who.person,
            "public_key": bytes_to_base64url(made.credential_public_key),
            "sign_count": made.sign_count,
            "name": name,
            "created": stamp(now),
        }
        try:
            connection.execute(sa.insert(PASSKEYS).values(**row))
        except IntegrityError:
            raise _refused() from None  # somebody has this very key, perhaps in another firm
        _note(connection, who, "passkey added", key, now)
        return Passkey(key, name, stamp(now), None)

    def ask(self, connection: Connection, now: datetime) -> dict[str, Any]:
        """Return what a browser needs to sign in with a key, whosever it is."""
        options = webauthn.generate_authentication_options(
            rp_id=self.host,
            challenge=_challenge(connection, "", now),
            user_verification=UserVerificationRequirement.REQUIRED,
        )
        return _plain(options)

    def check(self, connection: Connection, answer: dict[str, Any], now: datetime) -> Who:
        """Return whose key answered, and write its counter down.

        ``connection`` must see every firm. The role is not told here.

        Raises
        ------
        DeniedError
            If the answer does not hold.
        """
        query = sa.select(PASSKEYS).where(PASSKEYS.c.id == _text(answer, "id"))
        row = connection.execute(query).one_or_none()
        challenge = _answered(connection, answer, "", now)
        if row is None:
            raise _denied()
        try:
            told = webauthn.verify_authentication_response(
                credential=answer,
                expected_challenge=challenge,
                expected_rp_id=self.host,
                expected_origin=self.address,
                credential_public_key=base64url_to_bytes(row.public_key),
                credential_current_sign_count=row.sign_count,
                require_user_verification=True,
            )
        except (WebAuthnException, *_MALFORMED):
            raise _denied() from None
        # The counter is part of the condition: of two answers at once, one finds it gone up.
        same = (PASSKEYS.c.id == row.id, PASSKEYS.c.sign_count == row.sign_count)
        used = {"sign_count": told.new_sign_count, "used": stamp(now)}
        if connection.execute(sa.update(PASSKEYS).where(*same).values(**used)).rowcount != 1:
            raise _denied()
        return Who(row.firm, row.person, "")


def listed(connection: Connection, firm: str, person: str) -> list[Passkey]:
    """Return the keys of a person, the oldest first."""
    query = sa.select(*(PASSKEYS.c[name] for name in Passkey.__slots__)).where(
        PASSKEYS.c.firm == firm, PASSKEYS.c.person == person
    )
    return [Passkey(*row) for row in connection.execute(query.order_by(PASSKEYS.c.created))]


def remove(connection: Connection, who: Who, key: str, now: datetime) -> None:
    """Remove a key of one's own.

    Raises
    ------
    MissingError
        If there is none.
    """
    mine = (PASSKEYS.c.firm == who.firm, PASSKEYS.c.person == who.person, PASSKEYS.c.id == key)
    if connection.execute(sa.delete(PASSKEYS).where(*mine)).rowcount == 0:
        raise MissingError("passkey", "there is no such passkey", "go back to the list")
    _note(connection, who, "passkey removed", key, now)


def remove_all(connection: Connection, firm: str, person: str) -> int:
    """Remove every key of a person and return how many there were; the caller writes it down."""
    theirs = sa.delete(PASSKEYS).where(PASSKEYS.c.firm == firm, PASSKEYS.c.person == person)
    return connection.execute(theirs).rowcount


def _note(connection: Connection, who: Who, action: str, key: str, now: datetime) -> None:
    session = who.session[:16]
    note(connection, who, action, digest(key)[:16], at=stamp(now), session=session)


def _challenge(connection: Connection, person: str, now: datetime) -> bytes:
    """Return a new challenge that this person (or anyone, if empty) may answer once."""
    challenge = secrets.token_bytes(32)
    key = digest("challenge", person, bytes_to_base64url(challenge))
    limits.open_challenge(connection, key, now, PATIENCE)
    return challenge


def _answered(connection: Connection, answer: dict[str, Any], person: str, now: datetime) -> bytes:
    """Return the challenge that an answer says it answers, if it is open; it is closed then."""
    response = answer.get("response")
    told = _text(response, "clientDataJSON") if isinstance(response, dict) else ""
    try:
        data = json.loads(base64url_to_bytes(told))
        challenge = base64url_to_bytes(_text(data, "challenge"))
    except _MALFORMED:
        raise _refused() from None
    key = digest("challenge", person, bytes_to_base64url(challenge))
    if not limits.close_challenge(connection, key, now):
        raise _refused()
    return challenge


def _text(given: Any, name: str) -> str:  # noqa: ANN401 - whatever JSON holds
    """Return a text of a JSON object, empty if it has none of that name."""
    value = given.get(name, "") if isinstance(given, dict) else ""
    return value if isinstance(value, str) and value.isascii() else ""


def _plain(options: Any) -> dict[str, Any]:  # noqa: ANN401 - either kind of the library's options
    plain: dict[str, Any] = json.loads(webauthn.options_to_json(options))
    return plain


def _refused() -> UsageError:
    return UsageError("passkey", "this answer does not hold", "begin again")


def _denied() -> DeniedError:
    return DeniedError("passkey", "this passkey does not open anything here", "use your password")


_MALFORMED = (ValueError, TypeError, KeyError, AttributeError, RecursionError)
"""What bytes that are no answer make the parsers raise."""
