"""Devices as the pages make them: what they hold, and how they exchange it with a server.

The same rules as ``web/src/sync.ts``, ``db.ts`` and ``restored.ts``, over the store itself.
"""

import hashlib
import json
import random
from dataclasses import dataclass, field
from typing import Any

from store_rows import entry

from levelbook.archive.entries import read_entries, write_entry
from levelbook.archive.life import life_of
from levelbook.archive.place import Place
from levelbook.archive.record import Entry
from levelbook.archive.store import Store, Taken

FIRM = "ash"
AT_ONCE = 7
"""Entries in one sending: few, so that there are several."""
NOW = 1_900_000_000_000


class LostError(Exception):
    """The answer did not come."""


@dataclass
class Row:
    """What a device knows of a visit: the last number, its mark, and in which life."""

    since: int = 0
    mark: str = ""
    life: str = ""


@dataclass
class Server:
    """A place, the moment it is, and how often its answers are lost."""

    place: Place
    chance: random.Random
    loss: float = 0.0
    tick: int = 0

    def sync(self, visit: str, row: Row, sent: list[Entry]) -> Taken:
        """Take entries in; the answer may be lost on its way."""
        self.tick += 1
        store = Store(self.place.database, FIRM)
        arrived = read_entries([as_sent(each) for each in sent], visit, NOW)
        moment = f"2027-01-01T00:00:00.{self.tick:06d}Z"
        taken = store.sync(visit, row.since, arrived, moment, row.mark)
        self._answer()
        return taken

    def photo(self, data: bytes, *, ask: bool) -> bool:
        """Take a photograph, unless it is only asked for and there; tell whether it was lacking."""
        blobs = self.place.blobs(FIRM)
        sha256 = hashlib.sha256(data).hexdigest()
        lacking = not (ask and blobs.get(sha256) == data)
        if lacking:
            blobs.put(data, "image/png", "t")
        self._answer()
        return lacking

    def life(self) -> str:
        """Return what the list of visits tells."""
        return life_of(self.place.database, FIRM)

    def _answer(self) -> None:
        if self.chance.random() < self.loss:
            raise LostError


@dataclass
class Device:
    """A device: entries and whether they are sent, rows of visits, photographs."""

    name: str
    chance: random.Random
    entries: dict[str, dict[str, tuple[Entry, bool]]] = field(default_factory=dict)
    rows: dict[str, Row] = field(default_factory=dict)
    photos: dict[str, tuple[bytes, bool]] = field(default_factory=dict)
    """By SHA-256: the bytes, and whether they are sent."""
    doubted: set[str] = field(default_factory=set)
    brought: int = 0
    written: int = 0
    careful: bool = True
    """Whether it heeds what the server tells of being set back."""

    def write(self, visit: str) -> None:
        """Write a reading down, or a photograph."""
        self.written += 1
        number = 1000 * int(self.name[-2:]) + self.written
        fields: dict[str, Any] = {"value": "0.5", "x": float(self.written % 3), "n": 1e-7}
        made = entry(number, device=self.name, visit=visit, fields=fields)
        if self.chance.random() < 0.2:
            data = f"picture {self.name} {number}".encode()
            sha256 = hashlib.sha256(data).hexdigest()
            self.photos[sha256] = (data, False)
            fields = {"sha256": sha256, "name": "a.jpg"}
            made = entry(number, device=self.name, visit=visit, kind="photo", fields=fields)
        self.entries.setdefault(visit, {})[made.id] = (made, False)

    def exchange(self, server: Server, visit: str) -> None:
        """Exchange a visit until neither side lacks anything."""
        held = self.entries.setdefault(visit, {})
        while True:
            row = self.rows.get(visit, Row())
            mine = [each for each, sent in held.values() if not sent]
            mine = self.chance.sample(mine, min(len(mine), AT_ONCE))
            taken = server.sync(visit, row, mine)
            self.take(visit, row, taken)
            if len(mine) < AT_ONCE and not (taken.again and self.careful):
                return

    def take(self, visit: str, row: Row, taken: Taken) -> None:
        """Write down what the server answered."""
        held = self.entries[visit]
        there = {*taken.accepted, *(each.id for each in taken.entries)}
        held |= {each.id: (each, True) for each in taken.entries}
        held |= {name: (held[name][0], True) for name in taken.accepted}
        if taken.again and self.careful:
            lacking = {name for name, (_, sent) in held.items() if sent and name not in there}
            held |= {name: (held[name][0], False) for name in lacking}
            self.brought += len(lacking)
        if self.careful and (taken.again or taken.life != row.life):
            named = {str((each.fields or {}).get("sha256")) for each, _ in held.values()}
            for name in named & set(self.photos):
                if self.photos[name][1]:
                    self.photos[name] = (self.photos[name][0], False)
                    self.doubted.add(name)
        since = taken.seq if self.careful else max(row.since, taken.seq)
        self.rows[visit] = Row(since, taken.mark if self.careful else "", taken.life)

    def send_photos(self, server: Server) -> None:
        """Send the photographs that the server may lack."""
        for name, (data, sent) in list(self.photos.items()):
            if not sent:
                server.photo(data, ask=name in self.doubted)
                self.photos[name] = (data, True)
                self.doubted.discard(name)

    def come_back(self, server: Server) -> None:
        """Open the list of houses: go through all visits if the server is in another life."""
        life = server.life()
        for visit, row in list(self.rows.items()):
            if self.careful and row.life != life:
                self.exchange(server, visit)
        for visit, held in list(self.entries.items()):
            if not all(sent for _, sent in held.values()):
                self.exchange(server, visit)
        self.send_photos(server)


def as_sent(made: Entry) -> dict[str, Any]:
    """Return an entry as a browser sends it, which has one kind of number alone."""
    return json.loads(json.dumps(_plain(write_entry(made))))


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
