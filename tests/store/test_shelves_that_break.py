"""Where files are kept breaks off in the middle: nothing half is left, nothing is acknowledged."""

import errno
import hashlib
import os
import resource
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
import test_blobs

from levelbook.archive import blobs as kept
from levelbook.archive.blobs import LEFT, PARTS, Blobs, Folder
from levelbook.archive.bucket import Bucket
from levelbook.archive.database import Database

object_store = test_blobs.object_store
DATA = bytes(range(256)) * 400
NAME = hashlib.sha256(DATA).hexdigest()


def files(folder: Path) -> list[str]:
    """Return the names of all files below a folder."""
    return sorted(file.name for file in folder.rglob("*") if file.is_file())


def fails_at(step: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let one step of keeping a file fail, as the system would."""

    def refuse(number: int) -> Callable[..., None]:
        def refused(*_: object, **__: object) -> None:
            raise OSError(number, os.strerror(number))

        return refused

    if step == "begin":
        monkeypatch.setattr(kept.tempfile, "mkstemp", refuse(errno.EROFS))
    elif step == "see to the disk":
        monkeypatch.setattr(kept.os, "fsync", refuse(errno.EIO))
    elif step == "move":
        monkeypatch.setattr(Path, "replace", refuse(errno.EROFS))
    elif step == "see the folder to the disk":
        monkeypatch.setattr(kept, "_see_to_disk", refuse(errno.EIO))
    else:
        monkeypatch.setattr(Blobs, "_note", refuse(errno.EIO))


@pytest.mark.parametrize("firm", ["local", "ash"])
@pytest.mark.parametrize(
    "step", ["begin", "see to the disk", "move", "see the folder to the disk", "note"]
)
def test_a_folder_that_fails_at_any_step(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, firm: str
) -> None:
    """Nothing is acknowledged, no part is left, none is told; the next try keeps it."""
    mine = Blobs(database, Folder(tmp_path / "files"), firm)
    with monkeypatch.context() as broken:
        fails_at(step, broken)
        with pytest.raises(OSError, match=r"Read-only|Input/output"):
            mine.put(DATA, "text/plain", "t")
    assert files(tmp_path / "files") in ([], [NAME])
    assert (mine.get(NAME), mine.has(NAME)) == (None, False)
    assert mine.put(DATA, "text/plain", "t") == NAME
    assert mine.get(NAME) == DATA
    assert files(tmp_path / "files") == [NAME]


def test_a_folder_that_is_full_in_the_middle_of_a_file(database: Database, tmp_path: Path) -> None:
    """The system takes the first bytes and refuses the rest: nothing of it is left."""
    mine = Blobs(database, Folder(tmp_path / "files"), "ash")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (len(DATA) // 2, before[1]))
    try:
        with pytest.raises(OSError, match="File too large"):
            mine.put(DATA, "text/plain", "t")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert files(tmp_path / "files") == []
    mine.put(DATA, "text/plain", "t")
    assert mine.get(NAME) == DATA


def test_what_was_not_seen_to_the_disk_is_laid_there_again(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bytes without a row may not outlive a power failure: they are written before they count."""
    folder = Folder(tmp_path)
    folder.put("ash", NAME, DATA)
    seen: list[str] = []
    real = kept._see_to_disk
    monkeypatch.setattr(kept, "_see_to_disk", lambda f: (seen.append(f.name), real(f)))
    Blobs(database, folder, "ash").put(DATA, "text/plain", "t")
    assert seen == [NAME[:2], "ash", tmp_path.name]
    Blobs(database, folder, "ash").put(DATA, "text/plain", "t")
    assert len(seen) == 3


def test_what_a_killed_server_left_is_swept(tmp_path: Path) -> None:
    """A part that was begun a day ago goes; one that is being written, and what is kept, stay."""
    folder = Folder(tmp_path)
    folder.put("ash", NAME, DATA)
    for name, age in (("old", LEFT + 60), ("new", LEFT - 60)):
        part = tmp_path / PARTS / name
        part.write_bytes(b"half")
        os.utime(part, (time.time() - age,) * 2)
    folder.sweep()
    assert files(tmp_path) == sorted(["new", NAME])
    Folder(tmp_path / "nothing yet").sweep()


class Breaking:
    """A way to the object store that can break off: in the middle, or with a refusal."""

    def __init__(self, store: str) -> None:
        host, port = store.removeprefix("http://").rsplit(":", 1)
        self.store, self.how, self.tries = (host, int(port)), "", 0
        self.door = socket.create_server(("127.0.0.1", 0))
        threading.Thread(target=self._open, daemon=True).start()

    @property
    def address(self) -> str:
        """The address that it is asked at."""
        return f"http://127.0.0.1:{self.door.getsockname()[1]}"

    def _open(self) -> None:
        while True:
            try:
                asked = self.door.accept()[0]
            except OSError:
                return
            threading.Thread(target=self._answer, args=(asked,), daemon=True).start()

    def _answer(self, asked: socket.socket) -> None:
        with asked:
            first = asked.recv(65_536)
            if self.how and first.startswith(b"PUT"):
                self.tries += 1
                self._break(asked)
                return
            with socket.create_connection(self.store) as store:
                store.sendall(first)
                back = threading.Thread(target=_pump, args=(store, asked), daemon=True)
                back.start()
                _pump(asked, store)
                back.join()

    def _break(self, asked: socket.socket) -> None:
        if self.how == "full":
            body = b"<Error><Code>StorageFull</Code><Message>no room</Message></Error>"
            head = b"HTTP/1.1 507 Insufficient Storage\r\ncontent-type: application/xml\r\n"
            told = b"connection: close\r\ncontent-length: %d\r\n\r\n" % len(body)
            asked.sendall(head + told + body)
        else:
            asked.sendall(b"HTTP/1.1 100 Continue\r\n\r\n")
            asked.recv(1000)


def _pump(one: socket.socket, other: socket.socket) -> None:
    """Pass on what comes until it ends."""
    try:
        while data := one.recv(65_536):
            other.sendall(data)
        other.shutdown(socket.SHUT_WR)
    except OSError:
        pass


@pytest.fixture
def breaking(object_store: str) -> Iterator[Breaking]:
    """Give a way to the object store."""
    made = Breaking(object_store)
    yield made
    made.door.close()


@pytest.mark.parametrize(
    ("how", "number", "tries"),
    [("cut off", None, 5), ("full", errno.ENOSPC, 1)],
    ids=["cut off", "full"],
)
def test_an_object_store_that_breaks_off(
    database: Database,
    breaking: Breaking,
    monkeypatch: pytest.MonkeyPatch,
    how: str,
    number: int | None,
    tries: int,
) -> None:
    """An object that was taken in half, or refused, is not there; the next try keeps it."""
    for name, value in (test_blobs.KEYS | {"AWS_ENDPOINT_URL": breaking.address}).items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr("botocore.endpoint.time", SimpleNamespace(sleep=lambda _: None))
    shelf = Bucket("breaking", f"{how[:3]}-{database.engine.dialect.name}")
    shelf._client.create_bucket(Bucket="breaking")
    mine = Blobs(database, shelf, "ash")
    breaking.how = how
    with pytest.raises(OSError, match="object store could not be used") as told:
        mine.put(DATA, "image/png", "t")
    assert told.value.errno == number
    assert isinstance(told.value, ConnectionError) == (number is None)
    assert breaking.tries == tries
    breaking.how = ""
    assert (mine.get(NAME), mine.has(NAME), shelf.has(mine.firm, NAME)) == (None, False, False)
    assert mine.put(DATA, "image/png", "t") == NAME
    assert mine.get(NAME) == DATA
