"""What changed in somebody's way in is told by mail where it is set up, and kept from nothing."""

import email
import email.policy
import logging

import pytest
from smtp_sink import sink
from test_changes import NEW, change_password, signed_in, told
from test_coming_in import me, token_of
from test_passkeys import add, device
from two_firms import ADDRESS, PASSWORD, made

from levelbook.app.access import CSRF
from levelbook.app.settings import Settings


@pytest.fixture
def posted(database, tmp_path):
    """Give a server whose mail goes to a sink, and the sink."""
    with sink() as kept:
        (tmp_path / "mail.toml").write_text(
            f'host = "127.0.0.1"\nport = {kept.port}\nstarttls = false\n'
            'sender = "levels@alder.example"\n'
        )
        with made(database, tmp_path, Settings(ADDRESS, folder=tmp_path)) as world:
            yield world, kept


def mails(kept) -> list[tuple[str, str, str]]:
    """Return receiver, subject and text of what was sent."""
    found = [email.message_from_bytes(m[:-5], policy=email.policy.default) for m in kept.mails]
    return [(m["To"], m["Subject"], m.get_content()) for m in found]


def test_each_change_is_told_by_mail(posted):
    """To the person whom it concerns, with what to do if it was not them; no secret in it."""
    world, kept = posted
    here = signed_in(world, world.one.email("surveyor"))
    change_password(world, here)
    add(world, here, device())
    owner = world.caller(world.one, "owner")
    token = world.ask("POST", f"/api/people/{here.who.person}/reset", owner).json()["token"]
    again = "eleven bridges over a lantern"
    world.ask("POST", f"/api/invitations/{token}", json={"name": "", "password": again})
    found = mails(kept)
    assert [to for to, _, _ in found] == [world.one.email("surveyor")] * 4
    assert [subject.strip().removeprefix("Your account: ") for _, subject, _ in found] == [
        "your password was changed",
        "a passkey was added",
        "an address was made by which your password can be set anew",
        "your password was set anew with an address made for it, and every passkey was removed",
    ]
    texts = [text for _, _, text in found]
    assert all("If it was not" in text and ADDRESS in text for text in texts)
    assert "on the device a phone" in texts[0]
    assert "by Alder owner" in texts[2]
    assert not any(secret in text for text in texts for secret in (token, NEW, again, here.token))


def test_joining_is_told_by_no_mail(posted):
    """Nothing changed for anyone when somebody new sets their first password."""
    world, kept = posted
    invited = {"email": "cleo@alder.example", "name": "Cleo", "role": "surveyor"}
    owner = world.caller(world.one, "owner")
    token = world.ask("POST", "/api/invitations", owner, json=invited).json()["token"]
    joined = world.ask("POST", f"/api/invitations/{token}", json={"name": "C", "password": NEW})
    assert joined.status_code == 201
    assert kept.mails == []


@pytest.mark.parametrize("settings", ["nonsense = 1", 'host = "127.0.0.1"\nport = 9'])
def test_mail_that_does_not_go_keeps_nothing_from_being_done(database, tmp_path, caplog, settings):
    """The password is changed, the page tells it, and the log says that no word went out."""
    more = 'starttls = false\nsender = "levels@alder.example"\n' if "host" in settings else ""
    (tmp_path / "mail.toml").write_text(f"{settings}\n{more}")
    logging.getLogger("levelbook").propagate = True
    with made(database, tmp_path, Settings(ADDRESS, folder=tmp_path)) as world:
        change_password(world, signed_in(world, world.one.email("surveyor")))
        assert len(told(world, signed_in(world, world.one.email("surveyor"), NEW))) == 1
    assert "word of a change not sent" in caplog.text
    assert "alder" not in caplog.text.casefold().replace("test_", "")


def test_no_name_begins_a_header_of_the_mail(posted):
    """A device called as a header is written out in the text, on its line."""
    world, kept = posted
    body = {
        "email": world.one.email("surveyor"), "password": PASSWORD,
        "device": "phone Bcc: all@example.com",
    }  # fmt: skip
    answer = world.ask("POST", "/api/sign-in", json=body)
    token = token_of(answer)
    csrf = me(world, f"levelbook={token}").json()["csrf"]
    headers = {"cookie": f"levelbook={token}", CSRF: csrf, "origin": ADDRESS}
    world.ask("POST", "/api/password", json={"old": PASSWORD, "new": NEW}, headers=headers)
    (raw,) = kept.mails
    message = email.message_from_bytes(raw[:-5], policy=email.policy.default)
    assert message["Bcc"] is None
    assert "on the device phone Bcc: all@example.com" in message.get_content()
