"""Commands for records that must be trusted later: seal, verify, and the keys for both."""

import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from levelbook.cli import inputs, outputs
from levelbook.cli.options import BookPath, Json, Overwrite
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.archive.keys import PublicKey

PROVED, NOT_PROVED = 0, 1

keys_app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    help="Make, list and show the keys that seals are made with.",
)

KeyFolder = Annotated[
    Path | None,
    typer.Option(
        "--keys",
        metavar="DIR",
        envvar="LEVELBOOK_KEYS",
        help="folder of the keys (default: in your own configuration)",
    ),
]
Name = Annotated[str, typer.Argument(metavar="NAME", help="the name of a key")]


def key_folder(given: Path | None) -> Path:
    """Return the folder of the keys: the one given, or the user's own."""
    return given or Path(typer.get_app_dir("levelbook")) / "keys"


def now() -> str:
    """Return the time of this machine in UTC, as a seal tells it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def passphrase() -> bytes:
    """Return the passphrase of a key: from the environment, or asked for on the terminal.

    Raises
    ------
    UsageError
        If there is nobody to ask.
    """
    told = os.environ.get("LEVELBOOK_PASSPHRASE")
    if told is None and not sys.stdin.isatty():
        raise UsageError("key", "the key has a passphrase", "set LEVELBOOK_PASSPHRASE")
    return (told or str(typer.prompt("Passphrase", hide_input=True, err=True))).encode()


def seal(
    book: BookPath,
    key: Annotated[
        str, typer.Option("--key", metavar="NAME|FILE", help="the private key to seal with")
    ],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="the sealed book (default: beside the book)"),
    ] = None,
    keys: KeyFolder = None,
    as_json: Json = False,
    overwrite: Overwrite = False,
) -> int:
    """Seal a book, so that anyone can see later whether anything in it was changed."""
    opened = inputs.opened(book)
    if opened.seal is not None:
        raise UsageError(book, "this record is sealed already", "see levelbook verify")
    target = out or _beside(book)
    if target.exists() and not overwrite:
        raise UsageError(str(target), "there is such a file", "choose another --out")
    from levelbook.archive.keys import private_key
    from levelbook.archive.seal import fingerprint
    from levelbook.archive.sealed import seal_book, write_sealed

    private = private_key(key_folder(keys), key, passphrase)
    made = seal_book(opened.book, private, now())
    text = write_sealed(opened.book, made)
    (place,) = outputs.save(target.parent, {target.name: text.encode()})
    if as_json:
        told = {"file": str(place.absolute()), "fingerprint": made.fingerprint}
        outputs.emit(told | {"seal": made.as_json()})
    else:
        typer.echo(f"{place}")
        typer.echo(f"record {made.fingerprint}")
        typer.echo(f"key    {fingerprint(made.key)}")
        typer.echo(f"time   {made.time} by the clock of this machine")
    return PROVED


def _beside(book: str) -> Path:
    if book == inputs.STDIN:
        return Path("book.sealed.json")
    return Path(book).with_name(f"{Path(book).stem}.sealed.json")


def verify(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="a sealed book, a bundle or a report PDF, or -")
    ],
    key: Annotated[
        str | None,
        typer.Option("--key", metavar="PUBLIC", help="the key it must have been sealed with"),
    ] = None,
    keys: KeyFolder = None,
    as_json: Json = False,
) -> int:
    """Tell what the seal of a record proves and what it does not; of a comparison, both.

    Exit codes: 0 proved unchanged, 1 not proved, 2 the file cannot be used.
    """
    from levelbook.archive.keys import list_keys, public_key
    from levelbook.archive.verify import verify as verify_opened

    folder = key_folder(keys)
    asked = None if key is None else public_key(folder, key)
    told = [verify_opened(opened, asked) for opened in inputs.visits(file)]
    proved = all(verdict.proved for verdict in told)
    if as_json:
        alone, both = told[0].as_json(), [verdict.as_json() for verdict in told]
        outputs.emit(alone if len(told) == 1 else {"proved": proved, "visits": both})
    else:
        from rich.console import Console

        from levelbook.cli import verdicts

        for verdict, name in zip(told, verdicts.names(file, len(told)), strict=True):
            verdicts.show(Console(highlight=False), name, verdict, list_keys(folder))
    return PROVED if proved else NOT_PROVED


@keys_app.command("new")
def keys_new(
    name: Name,
    keys: KeyFolder = None,
    ask: Annotated[
        bool, typer.Option("--passphrase", help="protect the private key with a passphrase")
    ] = False,
    as_json: Json = False,
) -> int:
    """Make a key pair; the private key is readable for you alone."""
    from levelbook.archive.keys import new_key

    secret = _new_passphrase() if ask else None
    made = new_key(key_folder(keys), name, secret)
    _tell([made], as_json=as_json)
    return PROVED


def _new_passphrase() -> bytes:
    told = os.environ.get("LEVELBOOK_PASSPHRASE")
    if told is None and sys.stdin.isatty():
        told = typer.prompt("Passphrase", hide_input=True, confirmation_prompt=True, err=True)
    if not told:
        raise UsageError("--passphrase", "there is no passphrase", "set LEVELBOOK_PASSPHRASE")
    return str(told).encode()


@keys_app.command("list")
def keys_list(keys: KeyFolder = None, as_json: Json = False) -> int:
    """List the keys with their fingerprints."""
    from levelbook.archive.keys import list_keys

    _tell(list_keys(key_folder(keys)), as_json=as_json)
    return PROVED


@keys_app.command("show")
def keys_show(name: Name, keys: KeyFolder = None, as_json: Json = False) -> int:
    """Show a public key in full, to be given to those who verify."""
    from levelbook.archive.keys import PublicKey, public_key

    folder = key_folder(keys)
    digits = public_key(folder, name)
    if as_json:
        _tell([PublicKey(name, digits, private=False)], as_json=True)
    else:
        typer.echo(digits)
    return PROVED


def _tell(found: "list[PublicKey]", *, as_json: bool) -> None:
    from levelbook.archive.seal import fingerprint

    if as_json:
        told = [{"name": k.name, "key": k.key, "fingerprint": fingerprint(k.key)} for k in found]
        outputs.emit({"keys": told})
        return
    for each in found:
        kind = "" if each.private else "  (public key only)"
        typer.echo(f"{fingerprint(each.key)}  {each.name}{kind}")
