"""Sealed books: every byte counts, and only what is the same document passes."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sealing import KEY, OTHER, SMALL, TIME, same, sealed_text, small_book, verdict_on

from levelbook.archive.opening import open_book, open_bytes
from levelbook.archive.sealed import seal_book, write_sealed
from levelbook.archive.verify import verify
from levelbook.book import digest, read_book, write_book
from levelbook.demo import house
from levelbook.errors import DocumentError, LevelbookError, UsageError

TEXT = sealed_text()


def outcome(data: bytes) -> str:
    """Return ``caught``, or ``equal`` where the changed file is the same sealed document."""
    try:
        opened, verdict = verdict_on(data)
    except DocumentError:
        return "caught"
    if not verdict.proved:
        return "caught"
    assert same(opened.book, small_book()), "a changed document was taken for the sealed one"
    assert opened.seal == seal_book(small_book(), KEY, TIME)
    return "equal"


REPLACEMENTS: dict[str, Callable[[int], int]] = {
    "a space": lambda _: 0x20,
    "a line end": lambda _: 0x0A,
    "the lowest bit": lambda byte: byte ^ 0x01,
    "the letter case": lambda byte: byte ^ 0x20,
    "a digit": lambda byte: 0x30 if byte != 0x30 else 0x39,
    "nothing a text has": lambda _: 0xFF,
}


@pytest.mark.parametrize("kind", REPLACEMENTS)
def test_every_byte_is_sealed(kind: str) -> None:
    """At every place of a small sealed book a changed byte is caught or changes nothing."""
    raw = TEXT.encode()
    found = {"caught": 0, "equal": 0}
    for place, byte in enumerate(raw):
        new = REPLACEMENTS[kind](byte)
        if new != byte:
            result = outcome(raw[:place] + bytes([new]) + raw[place + 1 :])
            found[result] += 1
            # Only white space between the parts of a JSON text can go for other white space.
            assert result == "caught" or chr(byte).isspace()
    assert found["caught"] > 900


@given(place=st.integers(0, len(TEXT.encode()) - 1), new=st.binary(max_size=3))
def test_cut_or_grown_anywhere(place: int, new: bytes) -> None:
    """Bytes left out or put in are caught, or leave the same document."""
    raw = TEXT.encode()
    for changed in (raw[:place] + new + raw[place + 1 :], raw[:place] + new + raw[place:]):
        assert outcome(changed) in ("caught", "equal")


@pytest.mark.parametrize("end", [0, 1, 100, 600, -2, -200])
def test_a_cut_file_is_caught(end: int) -> None:
    """A sealed book that was cut off is refused."""
    with pytest.raises(DocumentError):
        open_bytes(TEXT.encode()[:end])


def shuffled(value: Any) -> Any:
    """Return a JSON value with the keys of every object the other way round."""
    if isinstance(value, dict):
        return {key: shuffled(value[key]) for key in reversed(value)}
    return [shuffled(item) for item in value] if isinstance(value, list) else value


@pytest.mark.parametrize(
    "write",
    [
        json.dumps,
        lambda value: json.dumps(value, ensure_ascii=False, indent=7),
        lambda value: json.dumps(shuffled(value), separators=(",", ":")),
        lambda value: "\ufeff" + json.dumps(value) + "\r\n",
        lambda value: json.dumps(value).replace("/", "\\/").replace('"s', '"\\u0073'),
        lambda value: json.dumps(value).replace("1.5", "15e-1").replace("[9, 0]", "[9.0, 0e5]"),
    ],
    ids=["plain", "indented", "shuffled", "marked", "escaped", "numbers"],
)
def test_written_again_it_still_holds(write: Callable[[object], str]) -> None:
    """The same document written in another way verifies."""
    text = write(json.loads(TEXT))
    assert text != TEXT
    opened, verdict = verdict_on(text.encode())
    assert verdict.proved
    assert opened.source == "sealed book"


@given(
    st.sampled_from(["label", "address", "notes"]),
    st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=20),
)
def test_any_text_is_sealed_and_reads_back(name: str, text: str) -> None:
    """Whatever a book says, its sealed file reads back as the same document."""
    if not text.strip():
        return
    document = SMALL | {"property": {"label": "x"} | {name: text}}
    book = read_book(json.dumps(document))
    opened, verdict = verdict_on(sealed_text(book).encode())
    assert verdict.proved
    assert same(opened.book, book)


def test_another_key_is_told() -> None:
    """A record sealed with one key is not proved for another."""
    opened = open_bytes(TEXT.encode())
    assert opened.seal is not None
    assert verify(opened, opened.seal.key).proved
    other = verify(opened, OTHER.public_key().public_bytes_raw().hex())
    assert other.why == ("other key",)
    assert not other.proves


def test_a_plain_book_is_not_sealed() -> None:
    """A book without a seal opens as before, and nothing is proved of it."""
    opened, verdict = verdict_on(house())
    assert (opened.source, opened.seal, opened.raw) == ("book", None, house())
    assert verdict.why == ("not sealed",)
    assert verdict.reasons
    assert not verdict.proves
    assert not verdict.does_not_prove


def test_a_changed_record_says_what_is_wrong() -> None:
    """A changed book, and a changed seal, each have their own reason."""
    changed = TEXT.replace('"-0.50"', '"-0.60"')
    assert verdict_on(changed.encode())[1].why == ("changed",)
    late = TEXT.replace(TIME, "2027-05-14T18:00:00Z")
    assert verdict_on(late.encode())[1].why == ("signature",)


def test_a_broken_seal_keeps_a_book_from_use() -> None:
    """Commands that compute refuse a record that is not the one that was sealed."""
    with pytest.raises(DocumentError) as told:
        open_bytes(TEXT.replace('"-0.50"', '"-0.60"').encode())
    assert told.value.faults[0].code == "seal-broken"


def test_verdict_says_what_is_not_proved() -> None:
    """Neither the readings, nor the clock, nor the holder of the key are proved."""
    _, verdict = verdict_on(TEXT.encode())
    said = " ".join(verdict.does_not_prove)
    assert verdict.proved
    for word in ("readings", "clock", "key"):
        assert word in said
    told = verdict.as_json()
    assert told["sha256"] == digest(small_book())
    assert told["proved"] is True
    assert told["seal"]["time"] == TIME


@pytest.mark.parametrize(
    ("change", "codes"),
    [
        ({"seal": None}, ["seal-shape"]),
        ({"more": 1}, ["sealed-unknown"]),
        ({"book": {}}, None),
        ({"book": None}, ["wrong-type"]),
        ({"format": "levelbook-sealed/2"}, ["format"]),
    ],
)
def test_faults_of_a_sealed_book(change: dict[str, object], codes: list[str] | None) -> None:
    """A sealed book with wrong parts tells which."""
    text = json.dumps(json.loads(TEXT) | change)
    with pytest.raises(DocumentError) as told:
        open_bytes(text.encode())
    if codes is not None:
        assert [f.code for f in told.value.faults] == codes


@pytest.mark.parametrize("part", ["book", "seal"])
def test_missing_parts_are_named(part: str) -> None:
    """A sealed book without book or seal says so."""
    document = json.loads(TEXT)
    del document[part]
    with pytest.raises(DocumentError) as told:
        open_bytes(json.dumps(document).encode())
    assert (told.value.faults[0].code, told.value.faults[0].place) == ("sealed-part", part)


def test_a_key_twice_is_refused() -> None:
    """Two books under one key cannot hide one of them."""
    text = TEXT.replace('"seal": {', f'"book": {json.dumps(SMALL)}, "seal": {{', 1)
    with pytest.raises(LevelbookError):
        open_bytes(text.encode())


def test_a_book_at_the_limit_cannot_be_sealed() -> None:
    """A document nested as deep as allowed leaves no room for its seal, and this is told."""
    deep: object = 1
    for _ in range(30):
        deep = [deep]
    book = read_book(json.dumps(SMALL | {"extra": {"n": deep}}))
    with pytest.raises(UsageError) as told:
        write_sealed(book, seal_book(book, KEY, TIME))
    assert "extra" in told.value.remedy


def test_a_sealed_book_opens_from_a_file(tmp_path: Any) -> None:
    """The loader opens a path; a missing one is told."""
    path = tmp_path / "small.sealed.json"
    path.write_text(TEXT, "utf-8")
    assert write_book(open_book(path).book) == write_book(small_book())
    with pytest.raises(UsageError):
        open_book(tmp_path / "none.json")
