"""The commands over an archive: migrate, move, backup, restore, as an operator gives them."""

import json
from pathlib import Path

import pytest
from store_rows import VISIT, entry

from databases import superuser_url
from levelbook.archive.database import Database
from levelbook.archive.migrating import FIRST, HEAD, migrate, revision
from levelbook.archive.place import ensure_firm, open_place
from levelbook.archive.store import Store
from levelbook.archive.tables import LOCAL
from levelbook.cli.main import main

PICTURE = b"\x89PNG invented"


@pytest.fixture(autouse=True)
def plain_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Take nothing from the settings of the machine, and nothing outside of the test's folder."""
    for name in ("LEVELBOOK_DATABASE", "LEVELBOOK_FILES"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LEVELBOOK_DATA", str(tmp_path / "usual"))


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """Give a folder with an archive of one's own machine."""
    place = open_place(str(tmp_path / "mine"), new=True)
    Store(place.database).sync(VISIT, 0, [entry(1), entry(2)], "t")
    place.blobs(LOCAL).put(PICTURE, "image/png", "t")
    place.close()
    return tmp_path / "mine"


def given(*arguments: object) -> int:
    """Give a command and return its exit code."""
    return main(["archive", *map(str, arguments)])


def test_migrate(bare_url: str, capsys) -> None:
    """A database is brought up, down and up again, and the command says from what to what."""
    told = []
    for more in ([], [], ["--to", FIRST], []):
        assert given("migrate", "--database", bare_url, *more) == 0
        told.append(capsys.readouterr().out.strip())
    assert told == [
        f"Schema: {HEAD} (was empty)",
        f"Schema: {HEAD} (as before)",
        f"Schema: {FIRST} (was {HEAD})",
        f"Schema: {HEAD} (was {FIRST})",
    ]
    assert given("migrate", "--database", bare_url, "--to", "x") == 2


def test_migrate_a_folder(mine: Path, capsys) -> None:
    """A folder of one's own machine is named by --data."""
    assert given("migrate", "--data", mine, "--to", FIRST) == 0
    assert given("migrate", "--data", mine) == 0
    assert "was 0001" in capsys.readouterr().out


def test_there_and_back(mine: Path, database_url: str, tmp_path: Path, capsys) -> None:
    """From a folder to a server and into another folder, with one digest of it all."""
    opened = Database(database_url)
    ensure_firm(opened, "ash")
    opened.close()
    files = ["--files", tmp_path / "files"]
    there = ["move", "--from", mine, "--to", database_url, "--firm", "ash", *files]
    assert given(*there) == 0
    told = capsys.readouterr().out
    assert "Added: 1 visit, 2 entries, 1 file, 0 other rows" in told
    again = tmp_path / "again"
    back = ["move", "--from", database_url, "--to", again, *files, "--json"]
    assert given(*back) == 0
    moved = json.loads(capsys.readouterr().out)
    assert moved["sha256"] in told
    assert (moved["visits"], moved["entries"], moved["files"]) == (1, 2, 1)
    place = open_place(str(again))
    assert Store(place.database).entries(VISIT) == (entry(1), entry(2))
    place.close()


@pytest.mark.parametrize("secret", [None, "a long password, invented\n"])
def test_backup_and_restore(mine: Path, tmp_path: Path, capsys, secret: str | None) -> None:
    """A backup is taken and comes back, with and without a password."""
    word = []
    if secret is not None:
        (tmp_path / "word").write_text(secret)
        word = ["--password-file", tmp_path / "word"]
    out, new = tmp_path / "backup", tmp_path / "new"
    assert given("backup", "--data", mine, "--out", out, *word) == 0
    assert "Holds: 1 firm, 1 visit, 2 entries, 1 file" in capsys.readouterr().out
    if word:
        assert given("restore", out, "--to", new) == 2
        assert "--password-file: this backup is encrypted" in capsys.readouterr().err
        assert not new.exists()
    assert given("restore", out, "--to", new, *word, "--json") == 0
    assert json.loads(capsys.readouterr().out)["entries"] == 2
    assert given("restore", out, "--to", new, *word) == 2
    assert "not empty" in capsys.readouterr().err
    place = open_place(str(new))
    assert Store(place.database).entries(VISIT) == (entry(1), entry(2))
    place.close()


def test_backup_of_a_server(mine, database_url, bare_url, tmp_path: Path, capsys) -> None:
    """A server's backup goes into a database that has no tables yet."""
    opened = Database(database_url)
    ensure_firm(opened, "ash")
    opened.close()
    files, new = ["--files", tmp_path / "files"], ["--files", tmp_path / "new-files"]
    assert given("move", "--from", mine, "--to", database_url, *files) == 0
    assert given("backup", "--database", database_url, *files, "--out", tmp_path / "b") == 0
    assert "signing keys" in capsys.readouterr().out
    assert given("restore", tmp_path / "b", "--to", bare_url, *new) == 0
    restored = Database(bare_url)
    assert revision(restored) == HEAD
    assert Store(restored, "ash").entries(VISIT) == (entry(1), entry(2))
    restored.close()


def test_a_damaged_backup_makes_nothing(mine: Path, tmp_path: Path, capsys) -> None:
    """A backup that is not whole is refused before a folder is made for it."""
    out = tmp_path / "backup"
    assert given("backup", "--data", mine, "--out", out) == 0
    data = bytearray(out.read_bytes())
    data[len(data) // 3] ^= 4
    out.write_bytes(data)
    assert given("restore", out, "--to", tmp_path / "new") == 2
    assert "use another copy" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["backup", "--data", "{none}", "--out", "{out}"], "no archive in this folder"),
        (["backup", "--out", "{out}"], "no archive in this folder"),
        (["backup", "--database", "{url}", "--out", "{out}"], "where the files"),
        (["backup", "--data", "{mine}", "--out", "{none}/deep/x"], "no such file or folder"),
        (["backup", "--data", "{mine}", "--out", "{out}", "--password-file", "{none}"], "no such"),
        (["backup", "--data", "{mine}", "--out", "{out}", "--password-file", "{short}"], "fewer"),
        (["restore", "{none}", "--to", "{out}"], "no such file"),
        (["restore", "{short}", "--to", "{out}"], "no backup"),
        (["move", "--from", "{mine}", "--to", "{url}"], "where the files"),
        (["move", "--from", "{url}", "--to", "{url}", "--files", "{out}"], "--to-files"),
        (["move", "--from", "{mine}", "--to", "{url}", "--files", "{out}"], "firm new"),
        (["migrate", "--database", "postgresql://nobody@127.0.0.1:9/x"], "does not answer"),
        (["migrate", "--database", "mysql://x"], "no address of a database"),
    ],
)
def test_what_cannot_be_done_is_told(
    mine: Path, sqlite_url: str, tmp_path: Path, capsys, arguments: list[str], told: str
) -> None:
    """Each refusal names the place and what to do, and ends with 2."""
    (tmp_path / "short").write_text("short")
    names = {"none": tmp_path / "none", "out": tmp_path / "out", "mine": mine, "url": sqlite_url}
    given_ = [a.format(**names, short=tmp_path / "short") for a in arguments]
    assert given(*given_) == 2
    assert told in capsys.readouterr().err


def test_rights_that_are_missing_are_told(postgres_url: str, tmp_path: Path, capsys) -> None:
    """A role that may not read the tables, or stands above the walls, is told so."""
    above = superuser_url(postgres_url)
    given_ = ["backup", "--database", above, "--files", tmp_path, "--out", tmp_path / "b"]
    assert given(*given_) == 2
    assert "row-level security" in capsys.readouterr().err


def test_serve_refuses_an_old_schema(postgres_url: str, tmp_path: Path, capsys) -> None:
    """The server does not start over an old schema, and tells which command mends it."""
    opened = Database(postgres_url)
    migrate(opened, FIRST)
    opened.close()
    arguments = ["serve", "--database", postgres_url, "--data", str(tmp_path), "--port", "0"]
    assert main([*arguments, "--no-browser"]) == 2
    assert "levelbook archive migrate" in capsys.readouterr().err
