"""Devices that write readings down and send them to a server that may be broken."""

import hashlib
import http.client
import io
import json
import random
import socket
import struct
import time
import uuid
from dataclasses import dataclass, field
from typing import Any

from PIL import Image

JSON = {"content-type": "application/json"}
HANG_UP = struct.pack("ii", 1, 0)
"""Has the system break a connection off instead of ending it in order."""


@dataclass
class Device:
    """A device: entries that wait, and those that the server said it has."""

    name: str
    visit: str
    chance: random.Random
    sent: dict[str, dict[str, Any]] = field(default_factory=dict)
    waiting: list[str] = field(default_factory=list)
    told: set[str] = field(default_factory=set)
    photos: dict[str, bytes] = field(default_factory=dict)
    kept: set[str] = field(default_factory=set)
    answers: list[tuple[int, dict[str, Any]]] = field(default_factory=list)

    def write(self) -> None:
        """Write some readings down."""
        for _ in range(self.chance.randint(1, 4)):
            of = f"{self.name}-r{len(self.sent)}"
            made = entry(self.visit, of, self.chance, self.name)
            self.sent[made["id"]] = made
            self.waiting.append(made["id"])

    def work(self, port: int, times: int) -> None:
        """Write, send and look, some of it in half; stop when the server is gone."""
        for _ in range(times):
            self.write()
            try:
                if self.chance.random() < 0.2:
                    self.cut(port)
                self.send(port)
                if self.chance.random() < 0.2:
                    self.photograph(port)
                if self.chance.random() < 0.1:
                    self.answers.append(ask(port, "GET", f"/api/visits/{self.visit}/live"))
            except (OSError, http.client.HTTPException):
                return

    def send(self, port: int) -> None:
        """Send what waits, and note what was acknowledged."""
        status, told = ask(port, "POST", f"/api/visits/{self.visit}/sync", self._sending())
        self.answers.append((status, told))
        if status == 200:
            self.told |= set(told["accepted"])
            self.waiting = [name for name in self.waiting if name not in self.told]

    def cut(self, port: int) -> None:
        """Begin to send, and hang up in the middle of it, or before the answer comes."""
        path, body = f"/api/visits/{self.visit}/sync", self._sending()
        if self.photos and self.chance.random() < 0.5:
            sha256, body = next(iter(self.photos.items()))
            path = f"/api/photos/{sha256}"
        whole = self.chance.random() < 0.3
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        connection.putrequest("PUT" if "photos" in path else "POST", path)
        connection.putheader("content-type", "application/json")
        connection.putheader("content-length", str(len(body)))
        connection.endheaders(body if whole else body[: self.chance.randrange(len(body))])
        if self.chance.random() < 0.5:
            connection.sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, HANG_UP)
        connection.close()

    def lacking(self) -> list[str]:
        """Return the photographs that were not taken in yet."""
        return [sha256 for sha256 in self.photos if sha256 not in self.kept]

    def photograph(self, port: int) -> None:
        """Take a photograph, or send one again that was not taken in."""
        lacking = self.lacking()
        data = self.photos[lacking[0]] if lacking else picture(self.chance)
        sha256 = hashlib.sha256(data).hexdigest()
        self.photos[sha256] = data
        status, told = ask(port, "PUT", f"/api/photos/{sha256}", data)
        self.answers.append((status, told))
        if status == 200:
            self.kept.add(sha256)

    def catch_up(self, port: int, until: float) -> None:
        """Send everything that waits to a server that is well again, or will be by a time."""
        while self.waiting or self.lacking():
            if self.waiting:
                self.send(port)
            if self.lacking():
                self.photograph(port)
            if self.waiting or self.lacking():
                assert time.monotonic() < until, self.answers[-1]
                time.sleep(0.15)

    def _sending(self) -> bytes:
        entries = [self.sent[name] for name in self.waiting]
        return json.dumps({"since": 0, "entries": entries}).encode()


def ask(port: int, method: str, path: str, body: bytes = b"") -> tuple[int, dict[str, Any]]:
    """Send one request; return status and answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    try:
        connection.request(method, path, body, JSON)
        answer = connection.getresponse()
        data = answer.read()
        kind = answer.getheader("content-type", "")
        told = json.loads(data) if kind == "application/json" else {"raw": data}
        return answer.status, told | {"retry": answer.getheader("retry-after")}
    finally:
        connection.close()


def entry(visit: str, of: str, chance: random.Random, device: str = "device01") -> dict[str, Any]:
    """Return a reading as a device sends it."""
    fields = {"station": "s", "setup": "s1", "value": f"{chance.uniform(-1, 1):.1f}"}
    return {
        "id": str(uuid.UUID(int=chance.getrandbits(128))),
        "visit": visit,
        "clock": f"{time.time_ns() // 1_000_000:016d}-0000-{device}",
        "device": device,
        "author": "A",
        "made": "",
        "do": "set",
        "kind": "reading",
        "of": of,
        "fields": fields,
    }


def picture(chance: random.Random) -> bytes:
    """Return a small photograph that is like no other."""
    data = io.BytesIO()
    noise = Image.frombytes("RGB", (40, 40), chance.randbytes(4800))
    noise.save(data, "PNG")
    return data.getvalue()
