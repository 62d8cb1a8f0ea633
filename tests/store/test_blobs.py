"""Photographs and released files: kept whole by their hash, each firm's apart."""

import hashlib
import sys
import threading
from pathlib import Path

import pytest
import sqlalchemy as sa

from levelbook.archive.blobs import Blob, Blobs, Folder
from levelbook.archive.bucket import Bucket, open_shelf
from levelbook.archive.database import Database
from levelbook.archive.store import open_store
from levelbook.archive.tables import BLOBS, LOCAL
from levelbook.errors import DamagedError, UsageError

DATA = b"a file of some kind"
NAME = hashlib.sha256(DATA).hexdigest()
KEYS = {
    "AWS_ACCESS_KEY_ID": "invented",
    "AWS_SECRET_ACCESS_KEY": "invented",
    "AWS_REGION": "us-east-1",
    "AWS_EC2_METADATA_DISABLED": "true",
}


@pytest.fixture(scope="module")
def object_store():
    """Give the address of an object store in this process."""
    from moto.server import ThreadedMotoServer

    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture(params=["folder", "s3"])
def shelf(request, tmp_path, monkeypatch):
    """Give a place for bytes, of each kind."""
    if request.param == "folder":
        return open_shelf(str(tmp_path / "files"))
    return open_shelf(f"s3://{bucket(request, monkeypatch)}/in/here/")


def bucket(request, monkeypatch) -> str:
    """Make a bucket of its own for a test and return its name."""
    address = request.getfixturevalue("object_store")
    for name, value in (KEYS | {"AWS_ENDPOINT_URL": address}).items():
        monkeypatch.setenv(name, value)
    name = f"test-{abs(hash(request.node.nodeid))}"
    Bucket(name)._client.create_bucket(Bucket=name)
    return name


def test_bytes_come_back_as_they_were(shelf) -> None:
    """What is laid on a shelf is there for its firm, and for no other."""
    assert (shelf.get("ash", NAME), shelf.has("ash", NAME), shelf.size("ash", NAME)) == (
        None,
        False,
        None,
    )
    for _ in range(2):
        shelf.put("ash", NAME, DATA)
        assert shelf.get("ash", NAME) == DATA
        assert shelf.has("ash", NAME)
        assert shelf.size("ash", NAME) == len(DATA)
    assert shelf.get("birch", NAME) is None
    shelf.put("ash", hashlib.sha256(b"").hexdigest(), b"")
    assert shelf.get("ash", hashlib.sha256(b"").hexdigest()) == b""


@pytest.mark.parametrize("name", ["", "..", "a/b", NAME.upper(), NAME + "\n", f"../{NAME}"])
def test_a_name_is_no_path(shelf, name: str) -> None:
    """Neither a firm nor a file can name anything outside of its place."""
    for firm, sha256 in ((name if name != NAME.upper() else "a b", NAME), ("ash", name)):
        for ask in (shelf.get, shelf.has, shelf.size, lambda f, s: shelf.put(f, s, b"x")):
            with pytest.raises(UsageError, match="is no"):
                ask(firm, sha256)


def test_files_of_a_firm(database: Database, shelf) -> None:
    """A file has a row with its kind and size; another firm knows nothing of it."""
    ash = Blobs(database, shelf, "ash")
    assert ash.put(DATA, "text/plain", "t1") == NAME
    assert ash.put(DATA, "text/plain", "t2") == NAME
    assert ash.about(NAME) == Blob(NAME, "text/plain", len(DATA), "t1")
    assert (ash.get(NAME), ash.has(NAME), ash.size(NAME)) == (DATA, True, len(DATA))
    birch = ash.of("birch")
    assert (birch.get(NAME), birch.has(NAME), birch.size(NAME)) == (None, False, None)
    assert ash.get("no hash") is None


def test_bytes_without_a_row_are_not_told(database: Database, tmp_path: Path) -> None:
    """A sending that broke off between bytes and row is as if it had not been; again mends it."""
    folder = Folder(tmp_path)
    folder.put("ash", NAME, DATA)
    blobs = Blobs(database, folder, "ash")
    assert blobs.get(NAME) is None
    blobs.put(DATA, "text/plain", "t")
    assert blobs.get(NAME) == DATA


@pytest.mark.parametrize("left", [b"", DATA[:-1], b"A" + DATA[1:], None])
def test_damage_is_told_and_mended(database: Database, tmp_path: Path, left) -> None:
    """A file that is not what was kept is never handed out; the same bytes again mend it."""
    blobs = Blobs(database, Folder(tmp_path), "ash")
    blobs.put(DATA, "text/plain", "t")
    file = Folder(tmp_path).file("ash", NAME)
    if left is None:
        file.unlink()
    else:
        file.write_bytes(left)
    with pytest.raises(DamagedError, match=f"{NAME}: .* backup"):
        blobs.get(NAME)
    blobs.put(DATA, "text/plain", "t")
    assert blobs.get(NAME) == DATA


def test_the_same_bytes_from_many_hands(database: Database, tmp_path: Path) -> None:
    """Sendings of one file at once leave one file and one row, and nothing beside them."""
    blobs, failed = Blobs(database, Folder(tmp_path / "files"), "ash"), []

    def send() -> None:
        try:
            blobs.put(DATA, "text/plain", "t")
        except Exception as error:  # noqa: BLE001 - told below
            failed.append(error)

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert [f.name for f in (tmp_path / "files").rglob("*") if f.is_file()] == [NAME]
    with database.use("ash") as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(BLOBS)).scalar() == 1


def test_a_full_disk_leaves_nothing_half(database: Database, tmp_path, monkeypatch) -> None:
    """A file that cannot be written whole is not there, and has no row."""

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("levelbook.archive.blobs.os.fsync", full)
    blobs = Blobs(database, Folder(tmp_path / "files"), "ash")
    with pytest.raises(OSError, match="No space"):
        blobs.put(DATA, "text/plain", "t")
    assert [f for f in (tmp_path / "files").rglob("*") if f.is_file()] == []
    assert not blobs.has(NAME)


def test_photographs_of_the_first_release_are_adopted(tmp_path: Path) -> None:
    """Files that lie in the folder without a row get one; what is no such file is left alone."""
    store = open_store(tmp_path / "store.sqlite")
    folder = Folder(tmp_path / "photos")
    for name, data in ((NAME, DATA), ("0" * 64, b"not what it says"), ("note.txt", b"mine")):
        (folder.path / name).write_bytes(data)
    blobs = Blobs(store.database, folder)
    assert blobs.adopt() == 2
    assert blobs.about(NAME) is not None
    assert blobs.get(NAME) == DATA
    assert not blobs.has("0" * 64)
    assert blobs.of("ash").adopt() == 0
    assert folder.file(LOCAL, NAME) == folder.path / NAME
    store.close()


def test_an_object_store_that_is_away_is_told(monkeypatch) -> None:
    """Without an answer, or with a refusal, it is told so; nothing is taken to be missing."""
    for name, value in (KEYS | {"AWS_ENDPOINT_URL": "http://127.0.0.1:9"}).items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("AWS_MAX_ATTEMPTS", "1")
    away = open_shelf("s3://nowhere")
    away._client.meta.config.retries = {"total_max_attempts": 1}
    with pytest.raises(ConnectionError, match="object store could not be used"):
        away.get("ash", NAME)


def test_a_bucket_that_is_not_there_is_told(request, monkeypatch) -> None:
    """A wrong bucket is no empty one."""
    bucket(request, monkeypatch)
    wrong = open_shelf("s3://another-bucket")
    for ask in (wrong.get, lambda f, s: wrong.put(f, s, DATA)):
        with pytest.raises(ConnectionError, match="object store could not be used"):
            ask("ash", NAME)


def test_the_library_is_an_extra(monkeypatch) -> None:
    """Where it is missing, the one who names a bucket is told how to install it."""
    monkeypatch.setitem(sys.modules, "boto3", None)
    with pytest.raises(UsageError, match=r"levelbook\[s3\]"):
        open_shelf("s3://bucket")
    with pytest.raises(UsageError, match="names no bucket"):
        open_shelf("s3://")
