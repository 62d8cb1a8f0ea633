"""Reading and writing whole documents."""

import json

import pytest
from book_example import HOUSE, house

from levelbook.book import canonical, digest, read_book, write_book
from levelbook.errors import DocumentError, UsageError


def test_the_example_comes_back_as_it_was() -> None:
    """Reading and writing changes no value, no key and not their order."""
    before = HOUSE.read_text(encoding="utf-8")
    after = write_book(read_book(before))
    assert json.loads(after) == json.loads(before)
    assert [*json.loads(after)] == [*json.loads(before)]
    assert read_book(after) == read_book(before)


def test_digest_does_not_depend_on_how_the_text_is_laid_out() -> None:
    """Order of keys, spacing, and 1 or 1.0 leave the digest alone; a changed value does not."""
    value = house()
    first = digest(read_book(json.dumps(value)))
    value["property"]["north"] = 0.0
    turned = dict(reversed(value.items()))
    assert digest(read_book(json.dumps(turned, indent=3))) == first
    value["readings"][0]["value"] = "0.00"
    assert digest(read_book(json.dumps(value))) != first


def test_a_number_is_kept_as_its_shortest_decimal() -> None:
    """A reading may be given as a number; it is kept as text, and so has one digest."""
    value = house()
    value["readings"][0]["value"] = 1e-3
    value["readings"][1]["value"] = 5
    book = read_book(json.dumps(value))
    assert [one.value for one in book.readings[:2]] == ["0.001", "5"]
    value["readings"][0]["value"], value["readings"][1]["value"] = "0.001", "5"
    assert canonical(read_book(json.dumps(value))) == canonical(book)


def test_own_data_are_kept_untouched() -> None:
    """What stands under ``extra`` comes back as it was, in every object."""
    value = house()
    own = {"a": [1.0, None, {"b": "c"}], "café": True}
    value["extra"] = own
    value["stations"][2]["extra"] = own
    back = json.loads(write_book(read_book(json.dumps(value))))
    assert back == value
    assert json.dumps(back["extra"]) == json.dumps(own)


def test_all_faults_are_told_at_once() -> None:
    """Faults in several parts come together, each with its code and place."""
    value = house()
    del value["readings"][5]["setup"]
    value["stations"][3]["at"] = [1, "2"]
    value["units"]["level"] = "cm"
    with pytest.raises(DocumentError) as caught:
        read_book(json.dumps(value))
    assert {(fault.code, fault.place) for fault in caught.value.faults} == {
        ("choice", "units.level"),
        ("wrong-type", "stations[3].at[1]"),
        ("missing-key", "readings[5].setup"),
    }


def test_what_is_no_text_is_misuse() -> None:
    """Only bytes and text can hold a document."""
    with pytest.raises(UsageError, match="read_book"):
        read_book(None)  # type: ignore[arg-type]
