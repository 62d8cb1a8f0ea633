"""What an evaluation leaves in its folder: parts with rows, receipts, and a manifest.

A part is a Parquet file under ``parts``, written beside its place and moved there. Its
receipt under ``receipts``, written after it, has the part's SHA-256 and the visits without a
row: a chunk is done if its receipt is there and its part is the one that the receipt tells
of. The manifest says what run the folder belongs to and, once it is finished, which parts it
is made of.
"""

import hashlib
import io
import json
import os
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa
from pyarrow import parquet

from levelbook.archive.evaluation.columns import Column, Row
from levelbook.archive.evaluation.work import Done, Failed
from levelbook.errors import UsageError

MANIFEST, FAILURES = "manifest.json", "failures.json"
PARTS, RECEIPTS = "parts", "receipts"
_TYPES = {"text": pa.string(), "whole": pa.int64(), "number": pa.float64(), "flag": pa.bool_()}
LOST = "lost"
_ENDINGS = (".parquet", ".part")
AGAIN = "give the same levelbook archive assess command again"


@dataclass(frozen=True, slots=True)
class Receipt:
    """What is known of a finished part."""

    key: str
    sha256: str
    rows: int
    failed: tuple[Failed, ...]


def schema(columns: Sequence[Column]) -> pa.Schema:
    """Return the schema of the rows, each field with its unit and meaning in its metadata."""
    fields = [
        pa.field(c.name, _TYPES[c.kind], metadata={"unit": c.unit, "says": c.says}) for c in columns
    ]
    return pa.schema(fields)


class Parts:
    """The parts of one folder."""

    def __init__(self, folder: Path, columns: Sequence[Column]) -> None:
        self._parts, self._receipts = folder / PARTS, folder / RECEIPTS
        self._schema = schema(columns)
        for each in (self._parts, self._receipts):
            each.mkdir(parents=True, exist_ok=True)

    def write(self, key: str, done: Done) -> Receipt:
        """Keep a chunk's rows and failures."""
        data = self._encoded(done.rows)
        receipt = Receipt(key, hashlib.sha256(data).hexdigest(), len(done.rows), done.failed)
        put(self.part(key), data)
        put(self._receipt(key), json.dumps(asdict(receipt), ensure_ascii=False).encode())
        return receipt

    def done(self, key: str) -> Receipt | None:
        """Return the receipt of a chunk that is done and whole, else ``None``.

        One with a visit that was lost with its process is not done: it may go well next time.
        """
        try:
            told = json.loads(self._receipt(key).read_bytes())
            failed = tuple(Failed(**each) for each in told.pop("failed"))
            receipt = Receipt(**told, failed=failed)
            data = self.part(key).read_bytes()
        except (OSError, ValueError, TypeError, LookupError, AttributeError):
            return None
        whole = receipt.key == key and hashlib.sha256(data).hexdigest() == receipt.sha256
        lost = any(each.code == LOST for each in failed)
        return receipt if whole and not lost else None

    def keep_only(self, keys: Sequence[str]) -> None:
        """Delete parts of other keys: of visits as they were, or of a write that was cut off."""
        kept = {path for key in keys for path in (self.part(key), self._receipt(key))}
        for folder, endings in ((self._receipts, (".json", ".part")), (self._parts, _ENDINGS)):
            for file in folder.iterdir():
                if file not in kept and file.suffix in endings:
                    file.unlink(missing_ok=True)

    def part(self, key: str) -> Path:
        """Return where a chunk's rows lie."""
        return self._parts / f"{key}.parquet"

    def _receipt(self, key: str) -> Path:
        return self._receipts / f"{key}.json"

    def _encoded(self, rows: Sequence[Row]) -> bytes:
        table = pa.Table.from_pylist(list(rows), schema=self._schema)
        sink = io.BytesIO()
        parquet.write_table(table, sink, compression="zstd", write_page_checksum=True)
        return sink.getvalue()


def put(target: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, whenever the process ends."""
    unfinished = target.with_name(f".{target.name}.part")
    with unfinished.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(target)


def write_document(folder: Path, name: str, document: dict[str, Any]) -> None:
    """Write one of the folder's JSON files."""
    text = json.dumps(document, ensure_ascii=False, indent=1)
    put(folder / name, text.encode() + b"\n")


def read_manifest(folder: Path) -> dict[str, Any] | None:
    """Return the manifest of a folder, ``None`` where there is none.

    Raises
    ------
    UsageError
        If it cannot be read.
    """
    try:
        found = json.loads((folder / MANIFEST).read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        problem = "this manifest cannot be read"
        raise UsageError(str(folder / MANIFEST), problem, "delete it, and " + AGAIN) from None
    return found if isinstance(found, dict) else {}


def tables(folder: Path, columns: Sequence[str]) -> Iterator[pa.Table]:
    """Yield some columns of every part of a finished folder, in the order of the visits.

    Raises
    ------
    UsageError
        If there is no finished evaluation in the folder, or a part is damaged or missing.
    """
    manifest = read_manifest(folder)
    if manifest is None:
        problem = "there are no figures of an archive in this folder"
        raise UsageError(str(folder), problem, "make them with levelbook archive assess")
    if manifest.get("state") != "finished":
        raise UsageError(str(folder), "this evaluation was not finished", AGAIN)
    for each in manifest["parts"]:
        place = folder / PARTS / f"{each['key']}.parquet"
        try:
            data = place.read_bytes()
        except OSError:
            raise UsageError(str(place), "this part is missing", AGAIN) from None
        if hashlib.sha256(data).hexdigest() != each["sha256"]:
            raise UsageError(str(place), "this part is damaged", AGAIN)
        yield parquet.read_table(io.BytesIO(data), columns=list(columns))
