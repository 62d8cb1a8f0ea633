"""The engineer's package: whole, checked by its own sums, the same every time, and a book."""

import hashlib
import io
import zipfile

import pytest
from exchange_books import books
from hypothesis import given, settings

from levelbook.archive.opening import open_bytes
from levelbook.book import canonical, digest, read_book
from levelbook.book.model import Book
from levelbook.exchange.package import package
from levelbook.findings import assess
from levelbook.findings.model import Assessment


@pytest.fixture(scope="module")
def made(house: Assessment) -> bytes:
    """Return the sample house's package."""
    return package(house)


def parts(data: bytes) -> dict[str, bytes]:
    """Return the files of a package."""
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        assert file.testzip() is None
        return {name: file.read(name) for name in file.namelist()}


def test_the_same_book_gives_the_same_package(made: bytes, house_a: bytes) -> None:
    """Made anew from the book's bytes, byte for byte."""
    assert package(assess(read_book(house_a))) == made


def test_sums_are_right_and_of_every_file(made: bytes) -> None:
    """The list names every file but itself with its SHA-256."""
    found = parts(made)
    lines = found.pop("SHA256SUMS").decode().splitlines()
    listed = {name: digest for digest, name in (line.split("  ", 1) for line in lines)}
    assert listed == {name: hashlib.sha256(data).hexdigest() for name, data in found.items()}


def test_the_guide_names_every_file(made: bytes) -> None:
    """No file is without a line that says what it is."""
    found = parts(made)
    guide = found["README.txt"].decode()
    assert [n for n in found if n not in guide and n != "README.txt"] == []
    assert "not engineering" in guide


@settings(max_examples=4)
@given(books())
def test_the_package_opens_as_the_book(book: Book) -> None:
    """What was packed is read back whole, by the reader that every command uses."""
    opened = open_bytes(package(assess(book)))
    assert canonical(opened.book) == canonical(book)
    assert opened.source == "bundle"


def test_photographs_go_along_by_their_hash(house_a: bytes) -> None:
    """A photograph of the book is in it; one that is not what its hash says is named as absent."""
    good, bad = b"\xff\xd8\xff good", b"\xff\xd8\xff bad"
    key = hashlib.sha256(good).hexdigest()
    book = read_book(house_a)
    photo = {"id": "f1", "sha256": key, "name": "crack.jpg"}
    other = {"id": "f2", "sha256": "0" * 64, "name": "door.jpg"}
    document = book.model_dump(exclude_unset=True) | {"photos": [photo, other]}
    assessment = assess(Book.model_validate(document))
    found = parts(package(assessment, photos={key: good, "0" * 64: bad}))
    assert found[f"photos/{key}.jpg"] == good
    assert [n for n in found if n.startswith("photos/")] == [f"photos/{key}.jpg"]
    assert "door.jpg" in found["README.txt"].decode()
    assert digest(assessment.book) in found["README.txt"].decode()


def test_names_stay_inside(made: bytes) -> None:
    """No name leads out of the folder that it is unpacked in."""
    for name in parts(made):
        assert not name.startswith("/")
        assert ".." not in name
        assert "\\" not in name
