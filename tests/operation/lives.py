"""Servers that live and die: each a fork of one warm process, so that it begins in a moment.

The warm process is started as ``python lives.py`` and told one life a line, as JSON. It forks,
and the fork serves until it is told to end or is killed; several may live at once. A life may
have a fault in it: a database that may not grow, files that may not grow, a clock that is
wrong or jumps.
"""

import itertools
import json
import os
import resource
import signal
import socket
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace, TracebackType
from typing import Any

PATIENCE = 20.0


@dataclass
class Fault:
    """What is wrong in a life.

    Pages the database may have, bytes a file may, days that the clock is off, and after how
    many looks at the clock it jumps.
    """

    pages: int = 0
    bytes: int = 0
    days: float = 0.0
    jump: int = 0


@dataclass
class Life:
    """A server that lives: its process and its port."""

    nest: "Nest"
    pid: int
    port: int

    def end(self, how: signal.Signals = signal.SIGKILL) -> None:
        """End it, and wait until it is gone."""
        os.kill(self.pid, how)
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            try:
                os.kill(self.pid, 0)
            except ProcessLookupError:
                self.nest.lives.remove(self)
                return
            time.sleep(0.002)
        raise TimeoutError("the server does not end")


@dataclass
class Nest:
    """The warm process, and the servers of it that live."""

    process: subprocess.Popen[str] = field(init=False)
    lives: list[Life] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __enter__(self) -> "Nest":
        pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
        command = [sys.executable, __file__]
        self.process = subprocess.Popen(command, text=True, bufsize=1, **pipes)
        assert self._told() == {"warm": True}
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        self.process.communicate()

    def begin(self, url: str, folder: Path, fault: Fault | None = None) -> Life:
        """Begin a life over a database and a folder of photographs."""
        assert self.process.stdin
        asked = {"url": url, "folder": str(folder)} | vars(fault or Fault())
        with self._lock:
            self.process.stdin.write(json.dumps(asked) + "\n")
            life = Life(self, **self._told())
        self.lives.append(life)
        return life

    def _told(self) -> dict[str, Any]:
        """Return what the warm process, or a server that it has borne, says next."""
        assert self.process.stdout
        found: dict[str, Any] = json.loads(self.process.stdout.readline())
        return found


def _live(asked: dict[str, Any]) -> None:
    """Tell the port, and serve until ended."""
    import uvicorn
    from sqlalchemy import event

    from levelbook.app.slow import limits

    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    listening.listen()
    told = {"pid": os.getpid(), "port": listening.getsockname()[1]}
    os.write(1, f"{json.dumps(told)}\n".encode())
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    app, database = build(asked["url"], Path(asked["folder"]))
    if asked["pages"]:

        @event.listens_for(database.engine, "connect")
        def _narrow(connection: Any, _: object) -> None:
            connection.execute(f"PRAGMA max_page_count={asked['pages']}")

    if asked["bytes"]:
        resource.setrlimit(resource.RLIMIT_FSIZE, (asked["bytes"], resource.RLIM_INFINITY))
    if asked["days"]:
        _wrong_clock(timedelta(days=asked["days"]), asked["jump"])
    given = limits() | {"log_config": None, "access_log": False, "proxy_headers": False}
    server = uvicorn.Server(uvicorn.Config(app, lifespan="on", **given))
    server.run(sockets=[listening])


def _wrong_clock(off: timedelta, jump: int) -> None:
    """Let the clock be wrong by a time, from the look at it on whose number is ``jump``."""
    from levelbook.app import firm_routes, photos, routes

    looks = itertools.count()
    real = datetime

    def now_off() -> timedelta:
        return off if next(looks) >= jump else timedelta()

    def time_ns() -> int:
        return time.time_ns() + int(now_off().total_seconds() * 1e9)

    clock = SimpleNamespace(now=lambda zone: real.now(zone) + now_off())
    routes.time = SimpleNamespace(time_ns=time_ns)
    for module in (routes, photos, firm_routes):
        module.datetime = clock


def build(url: str, folder: Path) -> Any:
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
    """Fork a life for each line; the system forgets those that have ended."""
    import levelbook.app.server
    import levelbook.app.slow  # noqa: F401 - so that a life need not

    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    sys.stdout.write('{"warm": true}\n')
    sys.stdout.flush()
    for line in sys.stdin:
        if os.fork() == 0:
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
            _live(json.loads(line))
            os._exit(0)


if __name__ == "__main__":
    main()
