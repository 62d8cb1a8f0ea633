"""Signing keys and mail settings in a backup: when asked, encrypted, and never written over."""

import json
import stat
import zipfile
from pathlib import Path

import pytest
from store_rows import VISIT, entry, row

from levelbook.archive import encrypted, keyring
from levelbook.archive.backup import backup, opened, restore
from levelbook.archive.container import MANIFEST, Writer
from levelbook.archive.keys import list_keys, new_key
from levelbook.archive.migrating import HEAD
from levelbook.archive.place import Place, ensure_firm, open_place
from levelbook.archive.rows import to_line
from levelbook.archive.store import Store
from levelbook.archive.tables import FIRMS, LOCAL
from levelbook.cli.main import main
from levelbook.errors import DamagedError, UsageError
from levelbook.firm.mail import SETTINGS
from levelbook.firm.signing import KEYS

SECRET = b"a long password, invented"
MAIL = 'host = "mail.example.org"\npassword_file = "/etc/levelbook/mail-password"\n'


@pytest.fixture(autouse=True)
def quick_keys(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Draw the backup's key quickly, and take nothing from the settings of the machine."""
    monkeypatch.setattr(encrypted, "COST", 4)
    for name in ("LEVELBOOK_DATABASE", "LEVELBOOK_FILES"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LEVELBOOK_DATA", str(tmp_path / "usual"))


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Give a server's data folder: two firms' keys, mail settings, and what is neither."""
    folder = tmp_path / "data"
    new_key(folder / KEYS, "ash")
    new_key(folder / KEYS, "birch")
    (folder / SETTINGS).write_text(MAIL)
    (folder / KEYS / "notes.txt").write_text("not a key")
    (folder / KEYS / ".ash.key.part").write_text("half")
    (folder / KEYS / "older").mkdir()
    return folder


@pytest.fixture
def mine(tmp_path: Path) -> Place:
    """Give an archive of one's own machine."""
    place = open_place(str(tmp_path / "mine"), new=True)
    Store(place.database).sync(VISIT, 0, [entry(1)], "t")
    yield place
    place.close()


NAMES = ("keys/ash.key", "keys/ash.pub", "keys/birch.key", "keys/birch.pub", "mail.toml")


def contents(folder: Path) -> dict[str, bytes]:
    """Return what a data folder has of the files in question."""
    return {name: (folder / name).read_bytes() for name in NAMES if (folder / name).exists()}


def test_the_names_are_those_of_the_server() -> None:
    """What is looked for is where the server keeps it."""
    assert (keyring.KEYS, keyring.MAIL) == (KEYS, SETTINGS)


def test_keys_go_there_and_back(mine: Place, data: Path, tmp_path: Path) -> None:
    """Keys and mail settings come back as they were, for their owner alone; nothing else goes."""
    told = backup(mine, tmp_path / "b", "t", SECRET, keys=data)
    assert told.keys == NAMES
    assert told.files == 0
    new = open_place(str(tmp_path / "new"), new=True)
    with pytest.raises(UsageError, match=r"--keys-to: there are signing keys"):
        restore(tmp_path / "b", new, SECRET)
    assert restore(tmp_path / "b", new, SECRET, keys=tmp_path / "back") == told
    new.close()
    assert contents(tmp_path / "back") == contents(data)
    assert sorted(p.name for p in (tmp_path / "back").rglob("*")) == sorted(
        ["keys", *(name.removeprefix("keys/") for name in NAMES)]
    )
    modes = {stat.S_IMODE((tmp_path / "back" / name).stat().st_mode) for name in NAMES}
    assert modes == {0o600}
    assert stat.S_IMODE((tmp_path / "back" / KEYS).stat().st_mode) == 0o700
    assert [k.key for k in list_keys(tmp_path / "back" / KEYS)] == [
        k.key for k in list_keys(data / KEYS)
    ]


def test_a_backup_shows_no_key(mine: Place, data: Path, tmp_path: Path) -> None:
    """In the clear no key goes in; encrypted, nothing of one can be seen."""
    with pytest.raises(UsageError, match=r"--with-keys: .* encrypted .*--password-file"):
        backup(mine, tmp_path / "b", "t", keys=data)
    assert not (tmp_path / "b").exists()
    backup(mine, tmp_path / "b", "t", SECRET, keys=data)
    written = (tmp_path / "b").read_bytes()
    assert b"PRIVATE KEY" not in written
    assert b"mail.example.org" not in written
    without = backup(mine, tmp_path / "without", "t", SECRET)
    assert without.keys == ()


def test_another_key_stays(mine: Place, data: Path, tmp_path: Path) -> None:
    """A key that is there already stays, and is told; the same one is no other."""
    backup(mine, tmp_path / "b", "t", SECRET, keys=data)
    back = tmp_path / "back"
    new_key(back / KEYS, "ash")
    (back / SETTINGS).write_text(MAIL)
    before = contents(back)
    new = open_place(str(tmp_path / "new"), new=True)
    told = restore(tmp_path / "b", new, SECRET, keys=back)
    new.close()
    assert told.left == ("keys/ash.key", "keys/ash.pub")
    after = contents(back)
    assert {name: after[name] for name in before} == before
    assert after["keys/birch.key"] == contents(data)["keys/birch.key"]


def test_what_cannot_be_read_or_written(mine: Place, data: Path, tmp_path: Path) -> None:
    """A folder that is none, a key that is far too large, a file in the way: told by name."""
    with pytest.raises(UsageError, match=r"nowhere: there is no such folder"):
        backup(mine, tmp_path / "b", "t", SECRET, keys=tmp_path / "nowhere")
    (data / KEYS / "large.key").write_bytes(b"x" * 10_001)
    with pytest.raises(UsageError, match=r"large.key: this is larger"):
        backup(mine, tmp_path / "b", "t", SECRET, keys=data)
    (data / KEYS / "large.key").unlink()
    assert list(tmp_path.glob("b*")) == []
    backup(mine, tmp_path / "b", "t", SECRET, keys=data)
    new = open_place(str(tmp_path / "new"), new=True)
    (tmp_path / "file").write_text("a file")
    with pytest.raises(UsageError, match=r"file/keys/ash.key: .*check the folder"):
        restore(tmp_path / "b", new, SECRET, keys=tmp_path / "file")
    assert Store(new.database).entries(VISIT) == ()
    restore(tmp_path / "b", new, SECRET, keys=tmp_path / "back")  # and can be tried again
    new.close()


@pytest.mark.parametrize("name", ["../evil", "keys/../../evil.key", "keys/a.txt", "mail.toml.x"])
def test_a_crafted_name_is_refused(tmp_path: Path, name: str) -> None:
    """A backup cannot write anything but keys and mail settings, and nothing elsewhere."""
    with (tmp_path / "crafted").open("wb") as stream:
        writer = Writer(stream)
        line = to_line(row(FIRMS, LOCAL))
        writer.add("firms/local/firms.jsonl", LOCAL, "firms", [line])
        writer.add(f"data/{name}", "", "", [b"x"])
        writer.close("t", HEAD, ())
    new = open_place(str(tmp_path / "new"), new=True)
    with opened(tmp_path / "crafted") as reader:
        reader.check()
    with pytest.raises(DamagedError, match="no file of a data folder"):
        restore(tmp_path / "crafted", new, keys=tmp_path / "back" / "deep")
    assert not (tmp_path / "back").exists()
    new.close()


def given(*arguments: object) -> int:
    """Give a command and return its exit code."""
    return main(["archive", *map(str, arguments)])


def test_the_commands(mine: Place, data: Path, tmp_path: Path, capsys) -> None:
    """Without keys a backup says so; with them it needs a password, and says what it holds."""
    place, word = tmp_path / "mine", tmp_path / "word"
    word.write_bytes(SECRET)
    assert given("backup", "--data", place, "--out", tmp_path / "plain") == 0
    assert "Not in it: signing keys and mail settings" in capsys.readouterr().out
    with_keys = ["backup", "--data", place, "--with-keys", data]
    assert given(*with_keys, "--out", tmp_path / "b") == 2
    assert "give --password-file, too" in capsys.readouterr().err
    assert given(*with_keys, "--out", tmp_path / "b", "--password-file", word) == 0
    assert f"Keys and settings: {', '.join(NAMES)}" in capsys.readouterr().out
    new = tmp_path / "new"
    new_key(new / KEYS, "ash")
    again = ["restore", tmp_path / "b", "--to", new, "--password-file", word]
    assert given(*again) == 0
    told = capsys.readouterr().out
    assert f"Left as it is: {new}/keys/ash.key" in told
    assert f"In place: {new}/mail.toml" in told
    assert "Devices send again by themselves" in told
    assert contents(new)["keys/birch.key"] == contents(data)["keys/birch.key"]
    assert given("restore", tmp_path / "plain", "--to", tmp_path / "other") == 0
    assert "bring your copy of them back" in capsys.readouterr().out


def test_a_servers_keys_need_a_folder(data: Path, sqlite_url, bare_url, tmp_path, capsys) -> None:
    """Restoring a server asks for the keys' folder before anything is made."""
    place = open_place(sqlite_url, str(tmp_path / "files"))
    ensure_firm(place.database, "ash")
    place.close()
    (tmp_path / "word").write_bytes(SECRET)
    files, word = ["--files", tmp_path / "files"], ["--password-file", tmp_path / "word"]
    taken = ["backup", "--database", sqlite_url, *files, "--out", tmp_path / "b", *word]
    assert given(*taken, "--with-keys", data, "--json") == 0
    assert json.loads(capsys.readouterr().out)["keys"] == list(NAMES)
    back = ["restore", tmp_path / "b", "--to", bare_url, "--files", tmp_path / "new", *word]
    assert given(*back) == 2
    assert "--keys-to: there are signing keys" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()
    assert given(*back, "--keys-to", tmp_path / "back") == 0
    assert contents(tmp_path / "back") == contents(data)


def test_other_programs_open_it(mine: Place, data: Path, tmp_path: Path) -> None:
    """The parts are named as they lie in the data folder, and stand in the manifest."""
    backup(mine, tmp_path / "b", "t", SECRET, keys=data)
    with opened(tmp_path / "b", SECRET) as reader:
        names = [part.name for part in reader.parts if part.firm == ""]
        assert names == [f"data/{name}" for name in NAMES]
        assert all(part.firm in ("", LOCAL) for part in reader.parts)
    with pytest.raises(zipfile.BadZipFile):
        zipfile.ZipFile(tmp_path / "b").read(MANIFEST)
