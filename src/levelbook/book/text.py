"""From the bytes of a document to JSON values, with a hostile text stopped early.

The size, the nesting and the number of values are known before the text is parsed: strings are
masked out by the parity of their quotes, and brackets and commas counted in the rest.
"""

import codecs
import json
import math
from collections import Counter
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from levelbook.book import limits
from levelbook.book.faults import Collector, Json, Step, show
from levelbook.errors import UsageError

_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_CHUNK = 1 << 20
_MEGABYTES = limits.BYTES // 1_000_000


class Repeated(dict[str, "Json"]):
    """An object of the text in which a key stands twice; ``twice`` names the keys."""

    twice: tuple[str, ...] = ()


def decode(data: bytes | str, found: Collector) -> Json:
    """Return the JSON value of a document's text.

    Faults that leave the text readable (a key twice, a number without end, half a character)
    go to ``found``; such numbers come back infinite, such characters replaced.

    Raises
    ------
    DocumentError
        If the text cannot be read at all, or is larger than the format allows.
    UsageError
        If ``data`` is neither bytes nor text.
    """
    raw = _bytes(data, found)
    _bound(raw, found)
    reader = _Reader()
    value = reader.read(raw, found)
    return _clean(value, (), found) if reader.odd or b"\\ud" in raw.lower() else value


def _bytes(data: bytes | str, found: Collector) -> bytes:
    """Return the text as UTF-8 bytes without a byte-order mark, or stop."""
    if not isinstance(data, (bytes, str)):
        raise UsageError("read_book", f"got {type(data).__name__}", "give the bytes or the text")
    if len(data) > limits.BYTES:
        _too_large(found)
    raw = data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
    raw = raw.removeprefix(codecs.BOM_UTF8)
    if len(raw) > limits.BYTES:
        _too_large(found)
    if raw.startswith(_UTF16) or b"\0" in raw[:4]:
        found.stop("encoding", "is not UTF-8 (it looks like UTF-16)", "save as UTF-8")
    if not raw.strip():
        found.stop("empty", "is empty", "give a levelbook/1 document")
    return raw


def _too_large(found: Collector) -> NoReturn:
    """Stop at a text beyond the limit of the format."""
    problem = f"is larger than {_MEGABYTES} MB"
    found.stop("too-large", problem, "keep photographs apart and split the visit")


def _bound(raw: bytes, found: Collector) -> None:
    """Stop at a text with deeper nesting or more values than any visit needs."""
    bare = _outside_strings(raw)
    depth = containers = commas = 0
    for start in range(0, bare.size, _CHUNK):
        piece = bare[start : start + _CHUNK]
        opened = (piece == ord("[")) | (piece == ord("{"))
        closed = (piece == ord("]")) | (piece == ord("}"))
        depths = depth + np.cumsum(opened.astype(np.int8) - closed, dtype=np.int32)
        if int(depths.max()) > limits.DEPTH:
            problem = f"lists and objects are nested deeper than {limits.DEPTH}"
            found.stop("too-deep", problem, "make the document flatter")
        depth = int(depths[-1])
        containers += int(opened.sum())
        commas += int((piece == ord(",")).sum())
    if containers > limits.CONTAINERS or containers + commas > limits.VALUES:
        problem = (
            f"has more than {limits.CONTAINERS:,} lists and objects or {limits.VALUES:,} values"
        )
        found.stop("too-many", problem, "split the visit, or keep less under 'extra'")


def _outside_strings(raw: bytes) -> NDArray[np.uint8]:
    """Return the bytes that stand outside strings."""
    if b"\\" in raw:
        raw = raw.replace(b"\\\\", b"__").replace(b'\\"', b"__")
    codes = np.frombuffer(raw, dtype=np.uint8)
    inside = np.logical_xor.accumulate(codes == ord('"'))
    return codes[~inside]


class _Reader:
    """Parses a text and remembers whether something in it needs a second look."""

    def __init__(self) -> None:
        self.odd = False

    def read(self, raw: bytes, found: Collector) -> Json:
        """Return the value of the text, or stop where it is not JSON."""
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError as error:
            problem = f"byte {error.start + 1:,} is not UTF-8 text"
            found.stop("encoding", problem, "save as UTF-8")
        try:
            value: Json = json.loads(
                text,
                parse_int=self._int,
                parse_float=self._float,
                parse_constant=self._constant,
                object_pairs_hook=self._object,
            )
        except json.JSONDecodeError as error:
            near = show(text[error.pos : error.pos + 20]) if error.pos < len(text) else "the end"
            problem = f"is not JSON from line {error.lineno}, column {error.colno} (at {near})"
            remedy = "look there for a missing comma, quote or bracket"
            found.stop("not-json", problem, remedy)
        return value

    def _int(self, digits: str) -> float:
        if len(digits) <= 17 and abs(whole := int(digits)) <= limits.WHOLE:
            return whole
        self.odd = True
        return math.inf

    def _float(self, digits: str) -> float:
        number = float(digits)
        self.odd |= not math.isfinite(number)
        return number

    def _constant(self, _name: str) -> float:
        self.odd = True
        return math.inf

    def _object(self, pairs: list[tuple[str, Json]]) -> dict[str, Json]:
        value = dict(pairs)
        if len(value) == len(pairs):
            return value
        self.odd = True
        marked = Repeated(value)
        times = Counter(key for key, _ in pairs)
        marked.twice = tuple(key for key, count in times.items() if count > 1)
        return marked


def _clean(value: Json, path: tuple[Step, ...], found: Collector) -> Json:
    """Tell what is odd in a value and below it; return it with broken characters replaced."""
    if isinstance(value, dict):
        if isinstance(value, Repeated):
            _tell_twice(value.twice, path, found)
        return {
            _whole(key, path, found): _clean(item, (*path, key), found)
            for key, item in value.items()
        }
    if isinstance(value, list):
        return [_clean(item, (*path, i), found) for i, item in enumerate(value)]
    if isinstance(value, str):
        return _whole(value, path, found)
    if isinstance(value, float) and not math.isfinite(value):
        problem = "the number is not finite, or has more digits than can be kept"
        found.add("number", path, problem, "write a plain number, or a text")
    return value


def _tell_twice(keys: tuple[str, ...], path: tuple[Step, ...], found: Collector) -> None:
    """Tell keys that stand twice in one object, as many as are still told one by one."""
    for k, key in enumerate(keys):
        if found.full:
            found.count_more(len(keys) - k)
            return
        found.add("key-twice", path, f"the key {show(key)} stands twice", "keep one of them")


def _whole(text: str, path: tuple[Step, ...], found: Collector) -> str:
    """Return ``text`` without halves of characters, telling if there were any."""
    if text.isascii():
        return text
    safe = text.encode("utf-8", "replace").decode("utf-8")
    if safe != text:
        found.add("text", path, "the text holds half a character", "write it again")
    return safe
