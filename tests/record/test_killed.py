"""A server that is killed while it writes has kept every entry that it acknowledged."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from levelbook.archive.store import open_store

KILLS = 200
WRITER = """
import itertools, os, signal, sys
from pathlib import Path
from levelbook.archive.record import Entry
from levelbook.archive.store import open_store

sys.stdin.readline()
for generation in itertools.count():
    if not sys.stdin.readline():
        break
    child = os.fork()
    if child == 0:
        store = open_store(Path(sys.argv[1]))
        for n in itertools.count():
            name = f"entry-{generation:04d}-{n:06d}"
            clock = f"{n + 1:016d}-0000-device01"
            entry = Entry(name, "visit-01", clock, "device01", "A", "", "set", "reading",
                          f"r{n}", {"value": str(n)})
            store.sync("visit-01" + str(generation % 50), 10**9, (entry,), "")
            os.write(1, f"{name}\\n".encode())
    os.write(1, f"child {child}\\n".encode())
    os.waitpid(child, 0)
    os.write(1, b"gone\\n")
"""


def test_what_was_acknowledged_is_there(tmp_path: Path) -> None:
    """Killed outright 200 times while writing, nothing that was told as kept is missing."""
    path = tmp_path / "store.sqlite"
    open_store(path).close()
    chance = random.Random(1)
    told: set[str] = set()
    command = [sys.executable, "-c", WRITER, str(path)]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen(command, **pipes, text=True, bufsize=1, env=dict(os.environ)) as parent:
        assert parent.stdin
        assert parent.stdout
        parent.stdin.write("go\n")
        for _ in range(KILLS):
            parent.stdin.write("next\n")
            child, writes, least = 0, 0, chance.randint(1, 2)
            for line in parent.stdout:
                if line.startswith("child"):
                    child = int(line.split()[1])
                elif line.startswith("gone"):
                    break
                else:
                    told.add(line.strip())
                    writes += 1
                if child and writes == least:
                    time.sleep(chance.random() * 0.002)
                    os.kill(child, signal.SIGKILL)
                    least = -1
        parent.stdin.close()
    store = open_store(path)
    held = [e.id for k in range(50) for e in store.entries(f"visit-01{k}")]
    store.close()
    assert len(told) >= KILLS
    assert told <= set(held)
    assert len(held) == len(set(held))
