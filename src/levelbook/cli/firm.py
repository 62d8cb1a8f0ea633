"""Firms of a shared server: making one, letting people in, and checking the list of what was done.

These commands stand above every firm: they are for whoever runs the server, and need no
account. An invitation's address is printed once and kept nowhere; the part after ``#`` is not
sent to the server when it is opened.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from levelbook.cli.failures import told_when_away
from levelbook.cli.options import DatabaseUrl, Json
from levelbook.cli.outputs import emit
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.archive.database import Database

GOOD, FINDINGS = 0, 1
HERE = "http://localhost:8321"

firm_app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    help="Make firms on a shared server, and let people in.",
)

Address = Annotated[
    str, typer.Option("--address", metavar="URL", help="where people find the server's pages")
]
Firm = Annotated[
    str, typer.Option("--firm", metavar="ID", help="the firm, where the server has several")
]
Email = Annotated[str, typer.Argument(metavar="EMAIL", help="the person's e-mail address")]


@firm_app.command("new")
def new(
    name: Annotated[str, typer.Argument(metavar="NAME", help="the firm's name")],
    owner: Annotated[str, typer.Option("--owner", metavar="EMAIL", help="its first owner")],
    database: DatabaseUrl,
    address: Address = HERE,
) -> int:
    """Make a firm; print the address by which its first owner comes in, once, within 7 days."""
    from levelbook.app import fields
    from levelbook.archive.migrating import migrate, require_bound, revision
    from levelbook.firm.invitations import new_firm

    called, whom = (
        fields.text({"NAME": name}, "NAME", 200),
        fields.email({"--owner": owner}, "--owner"),
    )
    with _opened(database, empty=True) as opened:
        require_bound(opened)
        if not revision(opened):
            migrate(opened)
        firm, token = new_firm(opened, called, whom, datetime.now(UTC))
    typer.echo(f"Firm: {firm}")
    typer.echo(f"Invitation: {_invitation(address, token)}")
    return GOOD


@firm_app.command("list")
def list_firms(database: DatabaseUrl, as_json: Json = False) -> int:
    """List the firms of a server."""
    from levelbook.firm.people import firms

    with _opened(database) as opened:
        found = firms(opened)
    if as_json:
        emit({"firms": [{"id": firm, "name": name} for firm, name in found]})
    else:
        for firm, name in found:
            typer.echo(f"{firm}  {name}")
    return GOOD


@firm_app.command("invite")
def invite(
    email: Email,
    database: DatabaseUrl,
    role: Annotated[str, typer.Option("--role", help="surveyor, reviewer or owner")] = "surveyor",
    name: Annotated[str, typer.Option("--name", help="the person's name")] = "",
    firm: Firm = "",
    address: Address = HERE,
) -> int:
    """Invite somebody; print the address by which they come in, once, within 7 days."""
    from levelbook.app import fields
    from levelbook.firm import invitations
    from levelbook.firm.roles import OWNER, Who

    called = fields.text({"--name": name}, "--name", 200, needed=False)
    whom = (fields.email({"EMAIL": email}, "EMAIL"), called, role)
    with _opened(database) as opened:
        who = Who(_firm(opened, firm), invitations.OPERATOR, OWNER)
        with opened.use(who.firm) as connection:
            token = invitations.invite(connection, who, whom, datetime.now(UTC))
    typer.echo(f"Invitation: {_invitation(address, token)}")
    return GOOD


@firm_app.command("reset")
def reset(email: Email, database: DatabaseUrl, address: Address = HERE) -> int:
    """Let somebody set a new password; print the address for it, once, within a day."""
    from levelbook.app import fields
    from levelbook.archive.database import EVERY_FIRM
    from levelbook.firm import invitations, people
    from levelbook.firm.roles import OWNER, Who

    whom = fields.email({"EMAIL": email}, "EMAIL")
    with _opened(database) as opened:
        with opened.look(EVERY_FIRM) as connection:
            person = people.by_email(connection, whom)
        if person is None:
            raise UsageError("EMAIL", "nobody has this e-mail address", "invite them")
        who = Who(person.firm, invitations.OPERATOR, OWNER)
        with opened.use(who.firm) as connection:
            token = invitations.start_reset(connection, who, person.id, datetime.now(UTC))
    typer.echo(f"New password: {_invitation(address, token)}")
    return GOOD


@firm_app.command("audit")
def audit(
    database: DatabaseUrl,
    firm: Firm = "",
    expect: Annotated[
        str, typer.Option("--expect", metavar="CHAIN", help="a chain that was written down before")
    ] = "",
    as_json: Json = False,
) -> int:
    """Check that no line of a firm's audit list was altered, removed or slipped in."""
    from levelbook.book.numbers import counted
    from levelbook.firm import audit as audit_list

    with _opened(database) as opened:
        name = _firm(opened, firm)
        with opened.look(name) as connection:
            found = audit_list.check(connection, name, expect)
    if as_json:
        emit({name: getattr(found, name) for name in type(found).__slots__})
    else:
        lines = counted(found.lines, "line")
        typer.echo(f"{lines}, the last chain is {found.chain or 'none'}")
        if found.broken is not None:
            typer.echo(f"The chain breaks at line {found.broken}.")
        if not found.expected:
            typer.echo("The chain that was written down before is not in the list.")
    return GOOD if found.broken is None and found.expected else FINDINGS


@contextmanager
def _opened(url: str, *, empty: bool = False) -> "Iterator[Database]":
    """Give the database, of this release's schema; ``empty``: or without any table."""
    from levelbook.archive.database import Database
    from levelbook.archive.migrating import require_current, revision

    opened = Database(url)
    try:
        with told_when_away():
            if not (empty and not revision(opened)):
                require_current(opened)
            yield opened
    finally:
        opened.close()


def _firm(database: "Database", named: str) -> str:
    """Return the firm that is meant: the named one, or the only one.

    Raises
    ------
    UsageError
        If there is none of that name, or several and none is named.
    """
    from levelbook.firm.people import firms

    found = [firm for firm, _ in firms(database)]
    if named in found or (not named and len(found) == 1):
        return named or found[0]
    if not found:
        raise UsageError("--firm", "there is no firm here yet", "make one with levelbook firm new")
    problem = "there is no such firm" if named else f"there are {len(found)} firms here"
    raise UsageError("--firm", problem, "name one that levelbook firm list tells")


def _invitation(address: str, token: str) -> str:
    return f"{address.rstrip('/')}/#/invitation/{token}"
