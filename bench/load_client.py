"""A device that sends readings to a server, as plainly as can be, so that it costs little.

It speaks HTTP/1.1 over one kept connection. Times run from the first byte sent to the last
byte of the answer; a paced device that falls behind its pace sends at once.
"""

import asyncio
import json
import os
import time
import uuid
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

TICKS = os.sysconf("SC_CLK_TCK")


@dataclass
class Served:
    """A server to send to: its port, its process, and the headers of each person signed in."""

    port: int
    pid: int
    signed_in: tuple[str, ...] = ("",)

    def cpu_seconds(self) -> float:
        """Return the processor time that the server has used."""
        parts = Path(f"/proc/{self.pid}/stat").read_text("ascii").rpartition(")")[2].split()
        return (int(parts[11]) + int(parts[12])) / TICKS

    def memory_mb(self) -> float:
        """Return the memory that the server holds."""
        pages = int(Path(f"/proc/{self.pid}/statm").read_text("ascii").split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@dataclass
class Device:
    """One device at one house."""

    served: Served
    number: int
    times: list[float] = field(default_factory=list)
    errors: int = 0
    refused: list[str] = field(default_factory=list)
    seq: int = 0
    told: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.visit, self.name = str(uuid.uuid4()), uuid.uuid4().hex[:12]
        self.headers = self.served.signed_in[self.number % len(self.served.signed_in)]

    async def begin(self) -> None:
        """Connect and send the house: what a book needs before its first reading."""
        await self.connect()
        corners = [[0, 0], [60, 0], [60, 40], [0, 40]]
        house = [
            ("property", "", {"label": f"House {self.number} (invented)"}),
            ("visit", "", {"date": "2026-11-25"}),
            ("instrument", "i1", {"sd": 0.05, "resolution": 0.1}),
            ("area", "house", {"kind": "slab", "outline": corners}),
            ("setup", "s1", {"instrument": "i1"}),
        ]
        await self.send([self.entry(*part) for part in house])
        self.times.clear()

    async def work(self, readings: int, pace: float, until: float = float("inf")) -> None:
        """Send readings, one a sending, with their stations."""
        if pace:
            await asyncio.sleep(pace * (self.number * 0.618 % 1))
        due = time.perf_counter()
        for k in range(readings):
            at = [1 + 6 * (k % 10), 1 + 6 * (k // 10)]
            station = self.entry("station", f"p{k}", {"area": "house", "at": at})
            fields = {"station": f"p{k}", "setup": "s1", "value": f"{(k * 7 % 13) / 10 - 0.6:.1f}"}
            await self.send([station, self.entry("reading", f"r{k}", fields)])
            due = max(due + pace, time.perf_counter())
            if due > until:
                break
            if pace:
                await asyncio.sleep(due - time.perf_counter())

    async def missing(self) -> int:
        """Return how many acknowledged entries the server does not hand out again."""
        status, told = await self.ask("GET", f"/api/visits/{self.visit}/history", b"")
        held = [entry["id"] for entry in told["entries"]] if status == 200 else []
        return len(self.told - set(held)) + len(held) - len(set(held))

    async def send(self, entries: list[dict[str, Any]]) -> None:
        """Send entries, and note what was acknowledged."""
        body = json.dumps({"since": self.seq, "entries": entries}).encode()
        begun = time.perf_counter()
        status, told = await self.ask("POST", f"/api/visits/{self.visit}/sync", body)
        self.times.append(time.perf_counter() - begun)
        if status != 200:
            self.errors += 1
            self.refused.append(f"{status} {told.get('error', {}).get('code', '')}")
            return
        self.seq = told["seq"]
        self.told |= set(told["accepted"])

    async def connect(self) -> None:
        """Open the connection, anew if there was one."""
        self.reader, self.writer = await asyncio.open_connection("127.0.0.1", self.served.port)

    async def ask(
        self, method: str, path: str, body: bytes, *, again: bool = False
    ) -> tuple[int, Any]:
        """Send one request and return status and JSON of its answer."""
        head = f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{self.served.port}\r\n{self.headers}"
        head += f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
        try:
            self.writer.write(head.encode() + body)
            answer = (await self.reader.readuntil(b"\r\n\r\n")).decode("latin-1").lower()
        except (ConnectionError, asyncio.IncompleteReadError):
            if again:
                raise
            await self.connect()  # the server hung up on an idle connection: as browsers do
            return await self.ask(method, path, body, again=True)
        length = int(answer.partition("content-length: ")[2].partition("\r\n")[0])
        told = await self.reader.readexactly(length)
        return int(answer.split(" ", 2)[1]), json.loads(told)

    def entry(self, kind: str, of: str, fields: dict[str, Any]) -> dict[str, Any]:
        """Return a new entry."""
        return {
            "id": str(uuid.uuid4()),
            "visit": self.visit,
            "clock": f"{time.time_ns() // 1_000_000:016d}-0000-{self.name}",
            "device": self.name,
            "author": "A",
            "made": "2026-11-25T09:00:00Z",
            "do": "set",
            "kind": kind,
            "of": of,
            "fields": fields,
        }

    def close(self) -> None:
        """Hang up."""
        self.writer.close()
