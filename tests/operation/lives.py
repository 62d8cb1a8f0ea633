"""Servers that live and die: each a fork of one warm process, so that it begins in a moment.

The warm process is started as ``python lives.py`` and told one life a line, as JSON. It forks,
and the fork serves until it is told to end or is killed. A life may have a fault in it: a
database that may not grow, files that may not grow, a clock that is wrong.
"""

import json
import os
import resource
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace, TracebackType
from typing import Any


@dataclass
class Fault:
    """What is wrong in a life: pages the database may have, bytes a file may, days off."""

    pages: int = 0
    bytes: int = 0
    days: float = 0.0


@dataclass
class Life:
    """A server that lives: its process and its port."""

    nest: "Nest"
    pid: int
    port: int

    def end(self, how: signal.Signals = signal.SIGKILL) -> None:
        """End it, and wait until it is gone."""
        os.kill(self.pid, how)
        told = self.nest.told()
        assert told == {"gone": self.pid}, told
        self.nest.last = None


@dataclass
class Nest:
    """The warm process."""

    process: subprocess.Popen[str] = field(init=False)
    last: Life | None = None

    def __enter__(self) -> "Nest":
        pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        command = [sys.executable, __file__]
        self.process = subprocess.Popen(command, text=True, bufsize=1, **pipes)
        assert self.told() == {"warm": True}
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        self.process.communicate()

    def told(self) -> dict[str, Any]:
        """Return what the warm process says next."""
        assert self.process.stdout
        found: dict[str, Any] = json.loads(self.process.stdout.readline())
        return found

    def begin(self, url: str, folder: Path, fault: Fault | None = None) -> Life:
        """Begin a life over a database and a folder of photographs."""
        assert self.process.stdin
        with socket.socket() as listening:
            listening.bind(("127.0.0.1", 0))
            port = listening.getsockname()[1]
        asked = {"url": url, "folder": str(folder), "port": port} | vars(fault or Fault())
        self.process.stdin.write(json.dumps(asked) + "\n")
        life = self.last = Life(self, self.told()["born"], port)
        until = time.monotonic() + 20
        while time.monotonic() < until:
            with socket.socket() as sock:
                if sock.connect_ex(("127.0.0.1", port)) == 0:
                    return life
            time.sleep(0.005)
        raise TimeoutError("the server does not listen")


def _live(asked: dict[str, Any]) -> None:
    """Serve until ended."""
    import uvicorn
    from sqlalchemy import event

    from levelbook.app import routes
    from levelbook.app.slow import limits

    app, database = _build(asked["url"], Path(asked["folder"]))
    if asked["pages"]:

        @event.listens_for(database.engine, "connect")
        def _narrow(connection: Any, _: object) -> None:
            connection.execute(f"PRAGMA max_page_count={asked['pages']}")

    if asked["bytes"]:
        resource.setrlimit(resource.RLIMIT_FSIZE, (asked["bytes"], resource.RLIM_INFINITY))
    if asked["days"]:
        off = timedelta(days=asked["days"])
        ahead = int(off.total_seconds() * 1e9)
        routes.time = SimpleNamespace(time_ns=lambda: time.time_ns() + ahead)
        routes.datetime = SimpleNamespace(now=lambda zone: datetime.now(zone) + off)
    given = limits() | {"log_config": None, "access_log": False, "proxy_headers": False}
    uvicorn.Server(uvicorn.Config(app, port=asked["port"], lifespan="on", **given)).run()


def _build(url: str, folder: Path) -> Any:
    """Return the app of one's own machine over any database, and the database."""
    from starlette.routing import Route

    from levelbook.app import server
    from levelbook.app.firm_routes import Backroom, firm_routes
    from levelbook.archive.blobs import Blobs, Folder
    from levelbook.archive.database import Database
    from levelbook.archive.store import Store

    database = Database(url)
    photos = server.Photos(Blobs(database, Folder(folder)))
    desk, jobs = server.Desk(Store(database), photos), server.Jobs()
    found = [*server.shared(desk, jobs), *firm_routes(Backroom(desk, folder.parent))]
    found.append(Route("/api/me", server.me_here))
    return server.assemble(found, server.own_machine, (desk, jobs), secure=False), database


def main() -> None:
    """Fork a life for each line, and tell when it is gone."""
    import levelbook.app.server
    import levelbook.app.slow  # noqa: F401 - so that a life need not

    sys.stdout.write('{"warm": true}\n')
    sys.stdout.flush()
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            _live(json.loads(line))
            os._exit(0)
        os.write(1, f'{{"born": {child}}}\n'.encode())
        os.waitpid(child, 0)
        os.write(1, f'{{"gone": {child}}}\n'.encode())


if __name__ == "__main__":
    main()
