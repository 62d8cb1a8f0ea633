"""Coming in and leaving: what a sign-in takes, in the order in which it is looked at."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.moments import stamp
from levelbook.archive.tables import PEOPLE
from levelbook.errors import DeniedError, MissingError
from levelbook.firm import limits, people, sessions
from levelbook.firm.audit import note
from levelbook.firm.passkeys import Keys
from levelbook.firm.passwords import Passwords, judge
from levelbook.firm.people import Person
from levelbook.firm.roles import OWNER, Who
from levelbook.firm.tokens import new_token


@dataclass(frozen=True, slots=True)
class Place:
    """Where a try comes from: the client's address, a name for the device, its cookie."""

    client: str
    device: str = ""
    token: str = ""


@dataclass(frozen=True, slots=True)
class Entered:
    """Who came in, with the secrets for the cookies of the session and of the device."""

    who: Who
    session: str
    device: str


class WrongError(DeniedError):
    """E-mail address and password do not go together; ``who`` is whose account it was, if any."""

    def __init__(self, who: Who | None) -> None:
        self.who = who
        problem = "the e-mail address or the password is not right"
        super().__init__("sign-in", problem, "try again, or ask an owner of your firm for a reset")


class Accounts:
    """Signing in and out over a database."""

    def __init__(self, database: Database, passwords: Passwords, keys: Keys) -> None:
        self.database, self.passwords, self.keys = database, passwords, keys

    def sign_in(self, email: str, password: str, place: Place, now: datetime) -> Entered:
        """Begin a session by password.

        Each step is the same whether there is such an account or not.

        Raises
        ------
        TooManyError
            If there were too many tries; the password is not looked at then.
        WrongError
            If it is not right, or the person is shut out.
        """
        with self.database.look(EVERY_FIRM) as connection:
            person = people.by_email(connection, email)
        self._count(email, person, place, now)
        kept = person.password if person and person.disabled is None else None
        right = self.passwords.check(kept, password)
        if not right or person is None or kept is None:
            raise WrongError(person.who if person else None)
        again = self.passwords.hash(password) if self.passwords.is_old(kept) else None
        return self._enter(person, place, now, again)

    def sign_in_by_key(self, answer: dict[str, Any], place: Place, now: datetime) -> Entered:
        """Begin a session by a passkey; no wait of the account holds it up.

        Raises
        ------
        UsageError, DeniedError, TooManyError
            If the answer does not hold, or too many came from there.
        """
        with self.database.use(EVERY_FIRM) as connection:
            limits.take_address(connection, limits.address_key(place.client), now)
        with self.database.use(EVERY_FIRM) as connection:
            who = self.keys.check(connection, answer, now)
            person = people.by_id(connection, who.firm, who.person)
        if person.disabled is not None:
            raise DeniedError("passkey", "this account is shut out", "ask an owner of your firm")
        return self._enter(person, place, now, None)

    def note_failure(self, who: Who | None, now: datetime) -> None:
        """Write down that a password was wrong; at a sign-in after the answer has left.

        So its time tells nothing to who is not signed in. Only the account's own list learns of
        it. Where there is no such account something is written, too: a file lets one write at a
        time, and who comes next would feel it.
        """
        if who is None:
            with self.database.use(EVERY_FIRM) as connection:
                limits.open_challenge(connection, limits.account_key(""), now, 0)
            return
        with self.database.use(who.firm) as connection:
            note(connection, who, "sign-in failed", who.person, at=stamp(now))

    def sign_out(self, who: Who, session: str, now: datetime) -> None:
        """End a session of one's own, or, as an owner, of anyone in the firm.

        Raises
        ------
        MissingError
            If there is no such session, or it is not for whoever asks.
        """
        with self.database.use(who.firm) as connection:
            person = sessions.person_of(connection, who.firm, session)
            if person is None or (person != who.person and who.role != OWNER):
                raise MissingError("session", "there is no such device", "go back to the list")
            sessions.end(connection, who.firm, session, now)
            note(connection, who, "signed out", person, at=stamp(now), session=session[:16])

    def sign_out_all(self, who: Who, person: str, now: datetime) -> None:
        """End every session of a person but the one that asks.

        Raises
        ------
        MissingError
            If there is no such person, or they are not for whoever asks.
        """
        with self.database.use(who.firm) as connection:
            if person != who.person and who.role != OWNER:
                raise MissingError("person", "there is no such person", "go back to the list")
            people.by_id(connection, who.firm, person)
            sessions.end_all(connection, who.firm, person, now, but=who.session)
            note(connection, who, "signed out", person, at=stamp(now), session="all")

    def change_password(self, who: Who, old: str, new: str, now: datetime) -> None:
        """Set a new password in place of the old; every other session ends.

        Raises
        ------
        TooManyError, WrongError, UsageError
            If the old one was tried too often or is wrong, or the new one is easily guessed.
        """
        person, firm = self._own(who, old, now)
        judge(new, (person.email, person.name, firm))
        kept = self.passwords.hash(new)
        with self.database.use(who.firm) as connection:
            _hold_unchanged(connection, person)
            _keep_password(connection, person, kept)
            sessions.end_all(connection, who.firm, who.person, now, but=who.session)
            limits.forget(connection, limits.account_key(person.email))
            detail = {"session": who.session[:16]}
            note(connection, who, "password changed", who.person, at=stamp(now), **detail)

    def prove(self, who: Who, password: str, now: datetime) -> None:
        """Take the password again, for what is most serious.

        Raises
        ------
        TooManyError, WrongError
            If it was tried too often, or is wrong.
        """
        self._own(who, password, now)
        with self.database.use(who.firm) as connection:
            self._prove(connection, who, now)

    def prove_by_key(self, who: Who, answer: dict[str, Any], client: str, now: datetime) -> None:
        """Take a passkey again, for what is most serious.

        Raises
        ------
        UsageError, DeniedError, TooManyError
            If the answer does not hold, is somebody else's, or too many came from there.
        """
        with self.database.use(EVERY_FIRM) as connection:
            limits.take_address(connection, limits.address_key(client), now)
        with self.database.use(EVERY_FIRM) as connection:
            told = self.keys.check(connection, answer, now)
        if (told.firm, told.person) != (who.firm, who.person):
            problem = "this passkey is somebody else's"
            raise DeniedError("passkey", problem, "use your own, or your password")
        with self.database.use(who.firm) as connection:
            limits.give_back(connection, limits.address_key(client))
            self._prove(connection, who, now)

    def _prove(self, connection: sa.Connection, who: Who, now: datetime) -> None:
        sessions.prove(connection, who.session, now)
        detail = {"session": who.session[:16]}
        note(connection, who, "proved again", who.person, at=stamp(now), **detail)

    def _own(self, who: Who, password: str, now: datetime) -> tuple[Person, str]:
        """Return somebody and their firm's name if this is their password.

        Tries are counted for the session: who fails at signing in elsewhere, on purpose, does
        not keep anyone from their own account.
        """
        with self.database.use(who.firm) as connection:
            person = people.by_id(connection, who.firm, who.person)
            firm = people.firm_name(connection, who.firm)
            limits.take_account(connection, limits.session_key(who.session), now)
        if not self.passwords.check(person.password, password):
            self.note_failure(who, now)
            raise WrongError(who)
        with self.database.use(who.firm) as connection:
            limits.forget(connection, limits.session_key(who.session))
        return person, firm

    def _count(self, email: str, person: Person | None, place: Place, now: datetime) -> None:
        """Count a try as failed before it is known whether it is, so that none slip by at once."""
        known = limits.device_key(place.token, person.id if person else "")
        with self.database.use(EVERY_FIRM) as connection:
            limits.take_address(connection, limits.address_key(place.client), now)
            if not limits.take_device(connection, known, now):
                limits.take_account(connection, limits.account_key(email), now)

    def _enter(self, person: Person, place: Place, now: datetime, again: str | None) -> Entered:
        """Begin a session for somebody who has shown who they are."""
        device = new_token()
        with self.database.use(person.firm) as connection:
            _hold_unchanged(connection, person)
            limits.give_back(connection, limits.address_key(place.client))
            limits.forget(connection, limits.account_key(person.email))
            limits.forget(connection, limits.device_key(place.token, person.id))
            limits.know_device(connection, limits.device_key(device, person.id), now)
            limits.sweep(connection, now)
            if again is not None:
                _keep_password(connection, person, again)
            token = sessions.begin(connection, person.who, place.device, now)
            note(connection, person.who, "signed in", person.id, at=stamp(now))
        return Entered(person.who, token, device)


def _keep_password(connection: sa.Connection, person: Person, kept: str) -> None:
    here = (PEOPLE.c.firm == person.firm, PEOPLE.c.id == person.id)
    connection.execute(sa.update(PEOPLE).where(*here).values(password=kept))


def _hold_unchanged(connection: sa.Connection, person: Person) -> None:
    """Hold a firm's people, and refuse whoever was shut out or got another password meanwhile.

    Checking a password takes a while; a reset in that time must end what the old one began.
    """
    people.hold_people(connection, person.firm)
    now = people.by_id(connection, person.firm, person.id)
    if now.disabled is not None or now.password != person.password:
        raise WrongError(person.who)
