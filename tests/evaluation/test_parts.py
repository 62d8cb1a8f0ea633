"""Parts on the disk: units told, whole or not there, damage found."""

import json
from pathlib import Path

import pytest
from archives import books, packed
from pyarrow import parquet

from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.parquet import (
    MANIFEST,
    Parts,
    read_manifest,
    tables,
    write_document,
)
from levelbook.archive.evaluation.work import Done, Failed, evaluate
from levelbook.errors import UsageError

KEY, CRITERIA = "a" * 64, Criteria()


@pytest.fixture(scope="module")
def done() -> Done:
    """Return two rows and a failure."""
    some = [packed(book, f"v{k}") for k, book in enumerate(books(2))]
    return Done(evaluate(some, CRITERIA).rows, (Failed("bad", "not-json", "text", "no", "mend"),))


@pytest.fixture
def parts(tmp_path: Path) -> Parts:
    """Return the parts of an empty folder."""
    return Parts(tmp_path, CRITERIA.columns)


def test_what_is_written_is_read_back(parts: Parts, done: Done) -> None:
    """Rows come back bit by bit, and the receipt tells rows and failures."""
    parts.write(KEY, done)
    assert parquet.read_table(parts.part(KEY)).to_pylist() == list(done.rows)
    receipt = parts.done(KEY)
    assert receipt is not None
    assert (receipt.rows, receipt.failed) == (2, done.failed)


def test_every_field_tells_its_unit(parts: Parts, done: Done) -> None:
    """Whoever opens a part with other tools finds units and meanings beside the columns."""
    parts.write(KEY, done)
    told = parquet.read_schema(parts.part(KEY))
    assert told.field("range").metadata[b"unit"] == b"mm"
    assert told.field("asce-texas/tilt-1-percent/value").metadata[b"unit"] == b"percent"
    assert b"ASCE" in told.field("asce-texas/tilt-1-percent").metadata[b"says"]
    assert all(told.field(name).metadata[b"says"] for name in told.names)


def test_rows_of_failures_alone_are_a_part_too(parts: Parts) -> None:
    """A chunk without a single good book is done all the same, with the same columns."""
    parts.write(KEY, Done((), (Failed("bad", "not-json", "text", "no", "mend"),)))
    assert parquet.read_table(parts.part(KEY)).column_names == [c.name for c in CRITERIA.columns]
    assert parts.done(KEY) is not None


@pytest.mark.parametrize("position", [10, -6, 2000])
def test_a_flipped_bit_is_found(parts: Parts, done: Done, position: int) -> None:
    """A part that changed on the disk is not taken for done, wherever the damage lies."""
    parts.write(KEY, done)
    data = bytearray(parts.part(KEY).read_bytes())
    data[position] ^= 1
    parts.part(KEY).write_bytes(data)
    assert parts.done(KEY) is None


@pytest.mark.parametrize("left", [b"", b"{", b"[]", b'{"key": "a"}', b"\xff\xfe"])
def test_a_broken_receipt_is_no_receipt(
    parts: Parts, done: Done, left: bytes, tmp_path: Path
) -> None:
    """A receipt that was cut off or spoilt counts as none."""
    parts.write(KEY, done)
    (tmp_path / "receipts" / f"{KEY}.json").write_bytes(left)
    assert parts.done(KEY) is None


def test_a_part_without_a_receipt_is_not_done(parts: Parts, done: Done, tmp_path: Path) -> None:
    """Killed between part and receipt, a chunk is made again; so is one without its part."""
    parts.write(KEY, done)
    parts.write("b" * 64, done)
    (tmp_path / "receipts" / f"{KEY}.json").unlink()
    parts.part("b" * 64).unlink()
    assert parts.done(KEY) is None
    assert parts.done("b" * 64) is None


def test_a_receipt_is_of_its_own_part_alone(parts: Parts, done: Done, tmp_path: Path) -> None:
    """A part renamed to another key, receipt and all, is not taken for that chunk."""
    parts.write(KEY, done)
    parts.part(KEY).rename(parts.part("b" * 64))
    receipts = tmp_path / "receipts"
    (receipts / f"{KEY}.json").rename(receipts / f"{'b' * 64}.json")
    assert parts.done("b" * 64) is None


def test_a_chunk_with_a_lost_visit_is_tried_again(parts: Parts, done: Done) -> None:
    """A process that ended suddenly may live next time, so its chunk is not done."""
    parts.write(KEY, Done(done.rows, (Failed("v", "lost", "book", "ended", "memory"),)))
    assert parts.done(KEY) is None


def test_what_belongs_to_no_chunk_is_deleted(parts: Parts, done: Done, tmp_path: Path) -> None:
    """Parts of visits as they were, and halves of writes, go; anything else stays."""
    for key in (KEY, "b" * 64):
        parts.write(key, done)
    (tmp_path / "parts" / ".half.part").write_bytes(b"")
    (tmp_path / "parts" / "notes.txt").write_text("mine")
    parts.keep_only([KEY])
    assert sorted(p.name for p in (tmp_path / "parts").iterdir()) == [
        f"{KEY}.parquet",
        "notes.txt",
    ]
    assert [p.name for p in (tmp_path / "receipts").iterdir()] == [f"{KEY}.json"]


def test_figures_are_not_read_from_what_is_not_finished(tmp_path: Path) -> None:
    """No manifest, one of a run still on, and a spoilt one are told apart, each with a remedy."""
    with pytest.raises(UsageError, match="no figures"):
        next(tables(tmp_path, ("visit",)))
    write_document(tmp_path, MANIFEST, {"state": "running"})
    with pytest.raises(UsageError, match="not finished"):
        next(tables(tmp_path, ("visit",)))
    (tmp_path / MANIFEST).write_text("{")
    with pytest.raises(UsageError, match="cannot be read"):
        read_manifest(tmp_path)


@pytest.mark.parametrize("damage", ["gone", "changed"])
def test_a_damaged_part_is_not_counted(
    parts: Parts, done: Done, tmp_path: Path, damage: str
) -> None:
    """Figures are refused where a part is missing or not the one that was written."""
    receipt = parts.write(KEY, done)
    told = {"key": KEY, "sha256": receipt.sha256, "rows": 2}
    write_document(tmp_path, MANIFEST, {"state": "finished", "parts": [told]})
    assert next(tables(tmp_path, ("visit",))).num_rows == 2
    if damage == "gone":
        parts.part(KEY).unlink()
    else:
        parts.part(KEY).write_bytes(parts.part(KEY).read_bytes() + b" ")
    with pytest.raises(UsageError, match="missing" if damage == "gone" else "damaged"):
        next(tables(tmp_path, ("visit",)))
    assert json.loads((tmp_path / MANIFEST).read_text())["state"] == "finished"
