"""E-mails with a client's link and with word of changes, and sending them by the firm's SMTP.

The text is plain. Whatever a house or a person is called, it cannot begin another header: the
headers are set by the standard library's policy, which refuses line breaks in them.
"""

import re
import smtplib
import ssl
import tomllib
from dataclasses import dataclass
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime, make_msgid
from pathlib import Path
from typing import Any

from levelbook.errors import UsageError
from levelbook.firm.changes import Change
from levelbook.firm.wording import say, told_day

PATIENCE = 20
SETTINGS = "mail.toml"
_MAILBOX = re.compile(
    r"([A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(?:\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*)"
    r"@((?:[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?\.)*"
    r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?)"
)
"""A mailbox without quotes or comments (RFC 5321, section 4.1.2: dot-string at domain)."""
_PARTS = {"host", "port", "starttls", "user", "password_file", "sender", "authority"}


class NotSentError(UsageError):
    """The mail server does not take an e-mail."""


@dataclass(frozen=True, slots=True)
class Smtp:
    """How mail is sent; ``starttls`` is left out only for a server on this machine.

    ``authority`` is a file of certificates to trust; the system's if empty.
    """

    host: str
    port: int
    sender: str
    starttls: bool = True
    user: str = ""
    password_file: str = ""
    authority: str = ""


@dataclass(frozen=True, slots=True)
class Invitation:
    """What an e-mail tells of a link."""

    label: str
    date: str
    issue: str
    fingerprint: str
    address: str
    expires: str
    firm: str


@dataclass(frozen=True, slots=True)
class Word:
    """Whom an e-mail tells what changed in their way in, at which firm and server."""

    to: str
    firm: str
    address: str
    change: Change


def read_settings(folder: Path) -> Smtp | None:
    """Return how mail is sent by the file ``mail.toml`` of a folder, ``None`` if there is none.

    Raises
    ------
    UsageError
        If the file cannot be used.
    """
    file = folder / SETTINGS
    try:
        told = tomllib.loads(file.read_text("utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        raise _unusable(file, "it cannot be read") from None
    unknown = sorted(set(told) - _PARTS)
    if unknown:
        raise _unusable(file, f"there is no setting {unknown[0]!r}")
    return _checked(file, told)


def compose(to: str, what: Invitation, sender: str, now: datetime) -> EmailMessage:
    """Return the e-mail; ``sender`` may be empty where it is only shown.

    Raises
    ------
    UsageError
        If the receiver's address is none.
    """
    message = _headed(to, sender, now)
    message["Subject"] = say("mail.subject", label=_line(what.label), issue=what.issue)
    from_whom = say("mail.from", name=_line(what.firm)) if what.firm else ""
    body = say(
        "mail.body",
        label=_line(what.label),
        date=_line(what.date),
        issue=what.issue,
        fingerprint=what.fingerprint,
        address=what.address,
        expires=what.expires,
        sender=from_whom,
    )
    message.set_content(body, cte="quoted-printable")
    return message


def compose_word(word: Word, sender: str, now: datetime) -> EmailMessage:
    """Return the e-mail that tells somebody what changed in their way in.

    Raises
    ------
    UsageError
        If the receiver's address is none.
    """
    message, change = _headed(word.to, sender, now), word.change
    what = _what(change)
    device = say("changed.device", device=_line(change.device)) if change.device else ""
    from_whom = say("mail.from", name=_line(word.firm)) if word.firm else ""
    message["Subject"] = say("changed.subject", what=what)
    body = say(
        "changed.body",
        what=what,
        by=_by_whom(change),
        device=device,
        day=told_day(change.at),
        time=change.at[11:16],
        address=word.address,
        sender=from_whom,
    )
    message.set_content(body, cte="quoted-printable")
    return message


def _what(change: Change) -> str:
    told = {
        "password changed": say("changed.password-changed"),
        "password reset": say("changed.password-reset"),
        "reset started": say("changed.reset-started"),
        "passkey added": say("changed.passkey-added"),
        "passkey removed": say("changed.passkey-removed"),
    }
    return told[change.what]


def _by_whom(change: Change) -> str:
    if change.what == "password reset":
        return say("changed.by-holder")
    if change.own:
        return say("changed.by-you")
    return (
        say("changed.by-owner", name=_line(change.by)) if change.by else say("changed.by-operator")
    )


def send(settings: Smtp, message: EmailMessage) -> None:
    """Send an e-mail.

    Raises
    ------
    NotSentError
        If the server cannot be reached, is not the one it says it is, or refuses the mail.
    """
    try:
        with smtplib.SMTP(settings.host, settings.port, timeout=PATIENCE) as server:
            if settings.starttls:
                trusted = ssl.create_default_context(cafile=settings.authority or None)
                server.starttls(context=trusted)
            if settings.user:
                password = Path(settings.password_file).read_text("utf-8").strip()
                server.login(settings.user, password)
            server.send_message(message)
    except ssl.SSLError:
        problem = "the mail server's certificate is not one that is trusted"
        raise NotSentError("mail", problem, "ask the operator to look at mail.toml") from None
    except (OSError, smtplib.SMTPException) as error:
        problem = f"the mail was not taken ({type(error).__name__})"
        remedy = "send the text yourself, and ask the operator to look at mail.toml"
        raise NotSentError("mail", problem, remedy) from None


def _checked(file: Path, told: dict[str, Any]) -> Smtp:
    """Return the settings of a file if each is of its kind and they fit together."""
    kinds = {"port": int, "starttls": bool}
    for name, value in told.items():
        kind = kinds.get(name, str)
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            raise _unusable(file, f"{name} is not of its kind")
    if not {"host", "port", "sender"} <= set(told):
        raise _unusable(file, "host, port and sender are needed")
    settings = Smtp(**told)
    _address(settings.sender)
    if bool(settings.user) != bool(settings.password_file):
        raise _unusable(file, "user and password_file go together")
    if settings.user and not settings.starttls:
        raise _unusable(file, "a password is not sent without starttls")
    return settings


def _headed(to: str, sender: str, now: datetime) -> EmailMessage:
    """Return an e-mail with its headers but the subject; ``sender`` may be empty."""
    message = EmailMessage()
    message["To"] = _address(to)
    if sender:
        message["From"] = _address(sender)
        message["Message-ID"] = make_msgid(domain=_address(sender).domain)
        message["Date"] = format_datetime(now)
        message["Auto-Submitted"] = "auto-generated"
    return message


def _address(text: str) -> Address:
    """Return one address; no list, no line break, nothing but a mailbox.

    Raises
    ------
    UsageError
        If it is none.
    """
    found = _MAILBOX.fullmatch(text)
    if found is None or len(text) > 254:
        raise UsageError("to", "this is no e-mail address", "write it as name@example.com")
    return Address(username=found[1], domain=found[2])


def _line(text: str) -> str:
    """Return a text on one line without signs that cannot be seen."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _unusable(file: Path, problem: str) -> UsageError:
    return UsageError(str(file), problem, "see docs/firm.md, section on mail")
