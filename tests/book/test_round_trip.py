"""Laws of reading and writing, over generated and over damaged documents."""

import json
from typing import Any

from book_documents import documents, json_values
from book_example import HOUSE, house
from hypothesis import given, settings
from hypothesis import strategies as st

from levelbook.book import Book, canonical, digest, notices, read_book, write_book
from levelbook.errors import DocumentError


@settings(max_examples=60)
@given(documents())
def test_writing_and_reading_keep_everything(document: dict[str, Any]) -> None:
    """A document comes back equal, with the same digest, and no key gained or lost."""
    book = read_book(json.dumps(document))
    text = write_book(book)
    again = read_book(text)
    assert again == book
    assert again.model_fields_set == book.model_fields_set
    assert canonical(again) == canonical(book)
    assert write_book(again) == text
    written = json.loads(text)
    assert written.get("extra") == document.get("extra")
    assert json.dumps(written.get("extra")) == json.dumps(document.get("extra"))
    for before, after in zip(document["readings"], written["readings"], strict=True):
        assert isinstance(after["value"], str)
        assert (
            float(before["value"]) == float(after["value"])
            if "/" not in after["value"]
            else before == after
        )
        before["value"] = after["value"]
    assert written == document


@settings(max_examples=30)
@given(documents(), st.randoms(use_true_random=False), st.sampled_from([None, 1, 7]))
def test_digest_is_of_the_document_not_of_its_text(
    document: dict[str, Any], chance: Any, indent: int | None
) -> None:
    """Keys in any order, any spacing, escapes or not: one digest."""

    def shuffled(node: Any) -> Any:
        if isinstance(node, dict):
            keys = list(node)
            chance.shuffle(keys)
            return {key: shuffled(node[key]) for key in keys}
        return [shuffled(item) for item in node] if isinstance(node, list) else node

    first = digest(read_book(json.dumps(document)))
    other = json.dumps(shuffled(document), indent=indent, ensure_ascii=bool(indent))
    assert digest(read_book(other)) == first


@settings(max_examples=30)
@given(documents())
def test_notices_are_sentences(document: dict[str, Any]) -> None:
    """Any good document can be remarked upon, in whole sentences."""
    for notice in notices(read_book(json.dumps(document))):
        assert notice.sentence.endswith(".")
        assert notice.remedy.endswith(".")
        assert notice.code
        assert notice.place


odd_values = st.one_of(
    json_values,
    st.sampled_from(["", "x" * 70, "-1 3/8", "house", "tile", "c", "r1", "A", "2026-03-02"]),
    st.lists(st.lists(st.floats(-50, 50), min_size=2, max_size=2), max_size=5),
)


def nodes(value: Any) -> list[tuple[Any, Any]]:
    """Return every place in a document as container and key."""
    if not isinstance(value, (dict, list)):
        return []
    keys = list(value) if isinstance(value, dict) else range(len(value))
    return [pair for key in keys for pair in ((value, key), *nodes(value[key]))]


def damage(document: dict[str, Any], draw: Any) -> None:
    """Change one place of a document: replace, remove, copy elsewhere, or add an unknown key."""
    container, key = draw(st.sampled_from(nodes(document)))
    deed = draw(st.sampled_from(["replace", "remove", "copy", "add"]))
    if deed == "replace":
        container[key] = draw(odd_values)
    elif deed == "remove":
        del container[key]
    elif deed == "copy":
        other, place = draw(st.sampled_from(nodes(document)))
        other[place] = json.loads(json.dumps(container[key]))
    elif isinstance(container, dict):
        container[draw(st.text(max_size=5))] = draw(odd_values)
    else:
        container.insert(key, draw(odd_values))


def end_of(text: str | bytes) -> Book | DocumentError:
    """Read a text; whatever it holds, it ends in a book or a document error."""
    try:
        return read_book(text)
    except DocumentError as error:
        return error


@settings(max_examples=400)
@given(st.data())
def test_damaged_documents_are_read_or_told(data: st.DataObject) -> None:
    """Any damage to values ends in a book that works or in faults with place and remedy."""
    document = house()
    for _ in range(data.draw(st.integers(1, 4))):
        damage(document, data.draw)
    end = end_of(json.dumps(document))
    if isinstance(end, DocumentError):
        assert all(fault.place and fault.problem and fault.remedy for fault in end.faults)
        assert all(len(str(fault)) < 400 for fault in end.faults)
        assert str(end).replace("\n", "").isprintable()
    else:
        assert digest(read_book(write_book(end))) == digest(end)
        notices(end)


@settings(max_examples=200)
@given(st.integers(0, 7000), st.integers(0, 40), st.binary(max_size=6))
def test_damaged_texts_are_read_or_told(start: int, length: int, put_in: bytes) -> None:
    """Any damage to bytes ends the same way."""
    raw = HOUSE.read_bytes()
    assert end_of(raw[:start] + put_in + raw[start + length :]) is not None


@given(st.binary(max_size=60) | st.text(max_size=60))
def test_any_text_is_read_or_told(text: str | bytes) -> None:
    """So does any text at all."""
    assert isinstance(end_of(text), DocumentError)
