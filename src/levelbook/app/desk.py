"""What the server works out from the store: documents, live results, reports.

Results are kept by the firm and the digest of the document they came from, so that asking
again costs nothing, a stale answer cannot be given, and no firm gets another's.
"""

import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from levelbook.app.answers import MEGABYTE, fault_document
from levelbook.app.photos import Photos
from levelbook.archive.document import to_document
from levelbook.archive.record import add_up
from levelbook.archive.store import Store
from levelbook.book import Book, digest, notices, read_book
from levelbook.drawing import plan, to_svg
from levelbook.drawing.source import Kind
from levelbook.errors import DocumentError, Fault, NoVisitError
from levelbook.findings import assess, assess_document, named_set
from levelbook.findings.compared import compare_document
from levelbook.findings.comparison import comparison_words
from levelbook.findings.model import Assessment
from levelbook.firm.roles import Who
from levelbook.floor.grid import contour_interval, contours
from levelbook.floor.model import TooFew
from levelbook.floor.shape import AreaShape, Floor, live_floor
from levelbook.levels import reduce
from levelbook.levels.model import Levels
from levelbook.movement import Visit, compare
from levelbook.report import build

T = TypeVar("T")
KEPT, HEAVIEST = 64, 256 * MEGABYTE
"""Results kept at once, and bytes of the files among them: reports carry photographs."""


@dataclass
class _Making:
    """A result that is being made: whoever makes it holds the lock; how many want it."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    wanted: int = 0


class Kept:
    """The last results by key; safe for threads.

    Whoever asks for a result that is being made waits for it; other keys do not wait. The
    last one is kept however large it is.
    """

    def __init__(self, most: int = KEPT, heaviest: int = HEAVIEST) -> None:
        self._most, self._heaviest, self._lock = most, heaviest, threading.Lock()
        self._made: OrderedDict[tuple[Any, ...], tuple[Any, int]] = OrderedDict()
        self._making: dict[tuple[Any, ...], _Making] = {}
        self._weight = 0

    def get(self, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        """Return the result under ``key``, made now if it is not kept."""
        with self._lock:
            making = self._making.setdefault(key, _Making())
            making.wanted += 1
        try:
            with making.lock:
                found: T
                with self._lock:
                    if key in self._made:
                        self._made.move_to_end(key)
                        found = self._made[key][0]
                        return found
                found = make()
                with self._lock:
                    self._keep(key, found)
                return found
        finally:
            with self._lock:
                making.wanted -= 1
                if making.wanted == 0:
                    del self._making[key]

    def _keep(self, key: tuple[Any, ...], found: object) -> None:
        """Keep a result, and let go of those that were not asked for the longest."""
        weight = _weight(found)
        self._made[key] = (found, weight)
        self._weight += weight
        while len(self._made) > self._most or (
            self._weight > self._heaviest and len(self._made) > 1
        ):
            _, gone = self._made.popitem(last=False)[1]
            self._weight -= gone


def _weight(found: object) -> int:
    """Return the bytes of a file or of the files by name; what is no file counts nothing."""
    parts = found.values() if isinstance(found, Mapping) else (found,)
    return sum(len(part) for part in parts if isinstance(part, bytes | str))


@dataclass(frozen=True)
class Draft:
    """A visit as it stands: the document, and the book or what it is not yet."""

    seq: int
    document: Mapping[str, Any]
    book: Book | None
    faults: tuple[Fault, ...]


class Desk:
    """Works out documents and results of the visits of one firm."""

    def __init__(self, store: Store, photos: Photos, kept: Kept | None = None) -> None:
        self.store, self.photos = store, photos
        self._kept = Kept() if kept is None else kept

    def of(self, who: Who) -> "Desk":
        """Return the desk of somebody's firm, which sees nothing of any other."""
        return Desk(Store(self.store.database, who.firm), self.photos.of(who), self._kept)

    def keep(self, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        """Return a result of this firm under ``key``, made now if it is not kept."""
        return self._kept.get((self.store.firm, *key), make)

    def draft(self, visit: str) -> Draft:
        """Return a visit as it stands.

        Raises
        ------
        NoVisitError
            If there is no such visit.
        """
        seq = self.store.last(visit)
        if seq == 0:
            raise NoVisitError(visit)
        return self.keep(("draft", visit, seq), lambda: self._read(visit, seq))

    def _read(self, visit: str, seq: int) -> Draft:
        document = to_document(add_up(self.store.entries(visit)))
        try:
            return Draft(seq, document, read_book(json.dumps(document)), ())
        except DocumentError as error:
            return Draft(seq, document, None, error.faults)

    def book(self, visit: str) -> Book:
        """Return the book of a visit.

        Raises
        ------
        DocumentError
            With all faults, if it is not a whole book yet.
        """
        draft = self.draft(visit)
        if draft.book is None:
            raise DocumentError(draft.faults)
        return draft.book

    def live(self, visit: str) -> dict[str, Any]:
        """Return what a page renews after a reading: levels, shape, contours, what is odd."""
        draft = self.draft(visit)
        told: dict[str, Any] = {"seq": draft.seq, "faults": list(map(fault_document, draft.faults))}
        if draft.book is None:
            return told | {"notices": [], "stations": {}, "areas": {}, "suspects": []}
        book = draft.book
        return told | self.keep(("live", visit, draft.seq), lambda: live_results(book))

    def assessment(self, visit: str, criteria: Sequence[str] = ()) -> Assessment:
        """Return the assessment of a visit by the named criteria (the book's own choice)."""
        book = self.book(visit)
        sets = tuple(named_set(name) for name in criteria) or None
        key = ("assess", digest(book), tuple(criteria))
        return self.keep(key, lambda: assess(book, criteria=sets))

    def results(self, visit: str, criteria: Sequence[str] = ()) -> dict[str, Any]:
        """Return the result document of a visit."""
        return dict(assess_document(self.assessment(visit, criteria)))

    def comparison(self, earlier: str, later: str) -> dict[str, Any]:
        """Return what two visits to one house say about movement, with the statement in words."""
        visits = [Visit(book, reduce(book)) for book in (self.book(earlier), self.book(later))]
        found = compare(visits[0], visits[1])
        words = comparison_words(found)
        document = dict(compare_document(found, words.caveats))
        return document | {"statement": list(words.statement)}

    def drawing(self, visit: str, kind: Kind, width: float, height: float) -> str:
        """Return a drawing of a visit as SVG."""
        found = self.assessment(visit)
        key = ("plan", found.digest, kind, width, height)
        return self.keep(
            key, lambda: to_svg(plan(found, kind=kind, width_mm=width, height_mm=height))
        )

    def report(self, visit: str, criteria: Sequence[str] = ()) -> Mapping[str, bytes]:
        """Return the files of a visit's report by their endings."""
        found = self.assessment(visit, criteria)
        asked = {photo.sha256: self.photos.get(photo.sha256) for photo in found.book.photos}
        here = {sha256: data for sha256, data in asked.items() if data is not None}
        key = ("report", found.digest, tuple(criteria), tuple(here))
        return self.keep(key, lambda: build(found, photos=here).parts)


def live_results(book: Book) -> dict[str, Any]:
    """Return levels, shape and contours of a book as plain JSON."""
    levels = reduce(book)
    floor = live_floor(book, levels)
    return {
        "notices": [
            {"code": n.code, "place": n.place, "sentence": n.sentence, "remedy": n.remedy}
            for n in notices(book)
        ],
        "stations": {
            name: {"level": s.level, "sd": s.sd, "group": s.group}
            for name, s in levels.stations.items()
        },
        "finishes": {name: {"height": f.height, "sd": f.sd} for name, f in levels.finishes.items()},
        "closures": [_closure(levels, k) for k in range(len(levels.closures))],
        "areas": _areas(book, floor),
        "suspects": [
            {
                "reading": s.reading,
                "station": s.station,
                "value": s.value,
                "expected": s.expected,
                "expected_sd": s.expected_sd,
                "kind": s.kind,
                "suggestion": s.suggestion,
                "why": s.why,
            }
            for s in floor.suspects
        ],
    }


def _closure(levels: Levels, k: int) -> dict[str, Any]:
    closure = levels.closures[k]
    return {
        "station": closure.station,
        "setup": closure.setup,
        "misclosure": closure.misclosure,
        "allowed": closure.allowed,
    }


def _areas(book: Book, floor: Floor) -> dict[str, Any]:
    """Return the shape of every area, or how many stations it lacks."""
    outlines = {area.id: area for area in book.areas}
    told: dict[str, Any] = {}
    for name, shape in floor.areas.items():
        if isinstance(shape, TooFew):
            told[name] = {"too_few": shape.stations, "needs": shape.needs}
            continue
        spread = shape.range.value
        interval = contour_interval(spread, book.units.level)
        area = outlines[name]
        told[name] = {
            **_figures(shape),
            "interval": interval,
            "contours": [
                {"level": line.level, "points": line.line.tolist()}
                for line in contours(shape.grid, area.outline, interval, holes=area.holes)
            ],
        }
    return told


def _figures(shape: AreaShape) -> dict[str, Any]:
    """Return the figures of an area, each with its standard deviation."""
    bent = shape.deflection
    return {
        "range": {"value": shape.range.value, "sd": shape.range.sd},
        "high": shape.range.high,
        "low": shape.range.low,
        "tilt": {
            "slope": shape.tilt.slope,
            "sd": shape.tilt.sd,
            "direction": shape.tilt.direction,
        },
        "deflection": None
        if bent is None
        else {"deflection": bent.deflection, "sd": bent.sd, "line": bent.line, "shape": bent.shape},
        "bend": shape.bend.word,
        "largest_gap": shape.coverage.largest_gap,
        "next": [list(place.at) for place in shape.coverage.next],
        "missed_corners": [list(corner) for corner in shape.coverage.missed_corners],
    }
