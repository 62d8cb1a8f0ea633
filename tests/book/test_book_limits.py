"""The limits of the format, met from both sides."""

import json

import pytest
from book_example import house

from levelbook.book import limits, read_book
from levelbook.errors import DocumentError, Fault


def fault(text: str | bytes) -> Fault:
    """Return the only fault of a text."""
    with pytest.raises(DocumentError) as caught:
        read_book(text)
    assert len(caught.value.faults) == 1
    return caught.value.faults[0]


def with_extra(own: object) -> str:
    """Return the example with own data."""
    return json.dumps({**house(), "extra": {"own": own}})


def nested(depth: int) -> list:
    """Return lists in lists."""
    return [nested(depth - 1)] if depth > 1 else []


def test_size() -> None:
    """Ten million bytes are taken and one more is not, in text as in bytes."""
    text = json.dumps(house())
    full = text + " " * (limits.BYTES - len(text))
    read_book(full)
    assert fault(full + " ").code == "too-large"
    assert fault(full.encode() + b" ").code == "too-large"
    wide = json.dumps(house()) + " " * (limits.BYTES - len(text) - 1) + "é"
    assert fault(wide).code == "too-large"


def test_depth() -> None:
    """Thirty-two levels are taken, counting the document itself, and one more is not."""
    read_book(with_extra(nested(limits.DEPTH - 2)))
    assert fault(with_extra(nested(limits.DEPTH - 1))).code == "too-deep"


def test_brackets_in_texts_are_no_nesting() -> None:
    """What stands in quotes, escaped quotes among them, is not counted."""
    read_book(with_extra('"\\' + "[" * 99))
    read_book(with_extra(["\\", "{" * 99, '\\"' * 9 + "[" * 99]))


def test_number_of_values() -> None:
    """Lists and objects, and values of all kinds, are counted wherever they stand."""
    read_book(with_extra([0] * 300_000))
    assert fault(with_extra([0] * limits.VALUES)).code == "too-many"
    read_book(with_extra([[]] * 100_000))
    assert fault(with_extra([[]] * limits.CONTAINERS)).code == "too-many"


def test_number_of_entries() -> None:
    """A list as long as allowed is read; a longer one stops the reading."""
    mark = {"kind": "tree", "at": [1, 1]}
    read_book(json.dumps({**house(), "marks": [mark] * limits.OTHER_ENTRIES}))
    told = fault(json.dumps({**house(), "marks": [mark] * (limits.OTHER_ENTRIES + 1)}))
    assert (told.code, told.place) == ("too-many", "marks")
    wall = [[x, 1] for x in range(limits.CORNERS + 1)]
    read_book(json.dumps({**house(), "walls": [wall[1:]]}))
    assert fault(json.dumps({**house(), "walls": [wall]})).place == "walls[0]"
    area = {"id": "x", "kind": "other", "outline": [[0, 0], [1, 0], [0, 1]], "holes": [wall]}
    document = house()
    document["areas"].append(area)
    assert fault(json.dumps(document)).place == "areas[2].holes[0]"


def test_number_of_keys() -> None:
    """An object with many keys is stopped, but below ``extra`` it is no concern of ours."""
    own = {str(i): i for i in range(1000)}
    read_book(with_extra(own))
    document = house()
    document["property"] |= own
    assert (fault(json.dumps(document)).code, fault(json.dumps(document)).place) == (
        "too-many",
        "property",
    )


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (b"", "empty"),
        (" \n", "empty"),
        (b"\xff\xfe{\x00}\x00", "encoding"),
        (b"\x00{\x00}", "encoding"),
        (b'{"a": "\xff"}', "encoding"),
        ('{"a": "\ud800"}', "encoding"),
        ("[]", "wrong-type"),
        ("nothing", "not-json"),
        ("{}" * 2, "not-json"),
    ],
)
def test_texts_that_are_no_document(text: str | bytes, code: str) -> None:
    """Each is told for what it is, at the document as a whole."""
    assert (fault(text).code, fault(text).place) == (code, "document")


def test_many_keys_twice_are_counted() -> None:
    """Of three hundred keys that stand twice, two hundred are told and the rest counted."""
    pairs = ",".join(f'"k{i}":1,"k{i}":2' for i in range(300))
    text = json.dumps({**house(), "extra": {}}).removesuffix("{}}") + "{" + pairs + "}}"
    with pytest.raises(DocumentError) as caught:
        read_book(text)
    assert caught.value.faults[0].place == "extra"
    assert "and 100 more" in caught.value.faults[-1].problem
