"""Mail: its text, no header slipped in, and sent to a real server on this machine."""

import email
import email.policy
import socket
from pathlib import Path

import pytest
from houses import NOW
from hypothesis import given, settings
from hypothesis import strategies as st
from smtp_sink import PASSWORD, USER, certificate, sink

from levelbook.errors import UsageError
from levelbook.firm.mail import Invitation, NotSentError, Smtp, compose, read_settings, send

WHAT = Invitation(
    label="7 Saltgrass Court",
    date="May 14, 2026",
    issue="2026-0014, issue 2",
    fingerprint="0979 3064 b0ab fee8 f465 e51a",
    address="https://levels.example.org/r/" + "s" * 43,
    expires="August 18, 2026",
    firm="Low Plains Survey",
)
FROM, TO = "reports@levels.example.org", "buyer@example.com"
HEADERS = ["To", "From", "Message-ID", "Date", "Auto-Submitted", "Subject"]


def test_the_text_tells_what_a_client_needs() -> None:
    """House, address, how long it works, fingerprint, and that it is no engineering opinion."""
    message = compose(TO, WHAT, FROM, NOW)
    body = message.get_content()
    for told in (WHAT.address, WHAT.expires, WHAT.fingerprint, WHAT.label, WHAT.firm):
        assert told in body
    assert "not an engineering opinion" in body
    assert (
        message["Subject"] == "Floor level survey of 7 Saltgrass Court: report 2026-0014, issue 2"
    )
    assert message["To"] == TO


@settings(max_examples=150)
@given(label=st.text(max_size=200), firm=st.text(max_size=80))
def test_no_name_begins_a_header(label: str, firm: str) -> None:
    """Whatever a house or a firm is called, the mail has its own headers and no others."""
    what = Invitation(
        label, WHAT.date, WHAT.issue, WHAT.fingerprint, WHAT.address, WHAT.expires, firm
    )
    message = compose(TO, what, FROM, NOW)
    back = email.message_from_bytes(message.as_bytes(policy=email.policy.SMTP))
    assert [name for name in back if name in HEADERS] == HEADERS
    assert set(back) - set(HEADERS) <= {
        "Content-Type", "Content-Transfer-Encoding", "MIME-Version",
    }  # fmt: skip


@pytest.mark.parametrize(
    "to",
    [
        "buyer@example.com\r\nBcc: everyone@example.com",
        "buyer@example.com\nBcc: x@example.com",
        "buyer@example.com, other@example.com",
        "<buyer@example.com>",
        "Buyer <buyer@example.com>",
        '"a\r\nb"@example.com',
        "buyer@example.com\0",
        "buyer",
        "buyer@",
        "@example.com",
        "buyer@-example.com",
        "büyer@example.com",
        "a" * 250 + "@example.com",
        "",
    ],
)
def test_a_receiver_is_one_plain_address(to: str) -> None:
    """Lists, names, line breaks and what is no address are refused."""
    with pytest.raises(UsageError, match="no e-mail address"):
        compose(to, WHAT, FROM, NOW)


def test_mail_is_sent_encrypted_and_signed_in(tmp_path: Path) -> None:
    """It arrives whole at a server whose certificate is trusted, with user and password."""
    public, context = certificate(tmp_path)
    (tmp_path / "password").write_text(f"{PASSWORD}\n", "utf-8")
    with sink(context=context) as server:
        settings_ = Smtp(
            "localhost", server.port, FROM, user=USER,
            password_file=str(tmp_path / "password"), authority=str(public),
        )  # fmt: skip
        send(settings_, compose(TO, WHAT, FROM, NOW))
    (mail,) = server.mails
    assert server.signed_in
    back = email.message_from_bytes(mail, policy=email.policy.default)
    assert WHAT.address in back.get_content()
    assert back["From"] == FROM


def test_nothing_is_sent_to_a_server_that_is_another(tmp_path: Path) -> None:
    """A certificate for another name, or one that nobody vouches for, ends the talk."""
    public, context = certificate(tmp_path, "other.example.org")
    with sink(context=context) as server:
        for authority in (str(public), ""):
            settings_ = Smtp("localhost", server.port, FROM, authority=authority)
            with pytest.raises(NotSentError, match="certificate"):
                send(settings_, compose(TO, WHAT, FROM, NOW))
    assert server.mails == []


def test_a_server_without_encryption_gets_nothing_unless_it_is_meant() -> None:
    """Where starttls is asked for and not offered, nothing is sent in the open."""
    with sink() as server:
        with pytest.raises(NotSentError):
            send(Smtp("127.0.0.1", server.port, FROM), compose(TO, WHAT, FROM, NOW))
        assert server.mails == []
        plain = Smtp("127.0.0.1", server.port, FROM, starttls=False)
        send(plain, compose(TO, WHAT, FROM, NOW))
    assert len(server.mails) == 1


def test_a_refusal_and_an_absent_server_are_told() -> None:
    """The error says that it was not taken, and what to do; the password is not in it."""
    with sink(refuses=True) as server, pytest.raises(NotSentError, match="send the text yourself"):
        send(Smtp("127.0.0.1", server.port, FROM, starttls=False), compose(TO, WHAT, FROM, NOW))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with pytest.raises(NotSentError, match="not taken"):
        send(Smtp("127.0.0.1", port, FROM), compose(TO, WHAT, FROM, NOW))


def test_settings_are_read_and_looked_at(tmp_path: Path) -> None:
    """The file's parts become settings; none is the same as no file."""
    assert read_settings(tmp_path) is None
    file = tmp_path / "mail.toml"
    file.write_text(f'host = "mail.example.org"\nport = 587\nsender = "{FROM}"\n', "utf-8")
    assert read_settings(tmp_path) == Smtp("mail.example.org", 587, FROM)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("host = [", "cannot be read"),
        ('host = "h"\nport = 25', "are needed"),
        (f'host = "h"\nport = "25"\nsender = "{FROM}"', "port is not of its kind"),
        (f'host = "h"\nport = true\nsender = "{FROM}"', "port is not of its kind"),
        (f'host = "h"\nport = 25\nsender = "{FROM}"\ntls = true', "no setting 'tls'"),
        (f'host = "h"\nport = 25\nsender = "{FROM}"\nuser = "u"', "go together"),
        ('host = "h"\nport = 25\nsender = "nobody"', "no e-mail address"),
        (
            f'host = "h"\nport = 25\nsender = "{FROM}"\nstarttls = false\nuser = "u"\n'
            'password_file = "p"',
            "not sent without starttls",
        ),
    ],
)
def test_settings_that_cannot_work_are_refused(tmp_path: Path, text: str, problem: str) -> None:
    """Each is told before any mail is lost to it."""
    (tmp_path / "mail.toml").write_text(text, "utf-8")
    with pytest.raises(UsageError, match=problem):
        read_settings(tmp_path)
