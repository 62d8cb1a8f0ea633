"""The page on results names every key that a result has, and the example book is a good one."""

import re
from pathlib import Path

import pytest

from levelbook.book import read_book, schema
from levelbook.demo import house
from levelbook.findings import assess, assess_document
from levelbook.findings.plain import Table

DOCS = Path(__file__).resolve().parent.parent.parent / "docs"
RESULTS = (DOCS / "results.md").read_text("utf-8")
FORMAT = (DOCS / "level-book.md").read_text("utf-8")


@pytest.fixture(scope="module")
def result() -> Table:
    """Return the demo's result with everything in it."""
    return assess_document(assess(read_book(house())), covariance=True)


def words(page: str) -> set[str]:
    """Return the words within backticks on a page."""
    return {word for code in re.findall(r"`([^`]+)`", page) for word in re.findall(r"\w+", code)}


def test_every_key_of_a_result_is_told(result: Table) -> None:
    """A new key of a result is written down when it is added."""
    assert set(result) - words(RESULTS) == set()


@pytest.mark.parametrize("key", ["stations", "finishes", "setups", "residuals", "areas"])
def test_every_key_below_an_id_is_told(result: Table, key: str) -> None:
    """So is a new key of what is listed by id."""
    below = {name for entry in result[key].values() for name in entry}
    assert below - words(RESULTS) == set()


@pytest.mark.parametrize("key", ["groups", "closures", "suspects", "criteria"])
def test_every_key_of_an_entry_is_told(result: Table, key: str) -> None:
    """And a new key of what is a list."""
    below = {name for entry in result[key] for name in entry}
    assert below - words(RESULTS) == set()


@pytest.mark.parametrize("key", ["fit", "covariance", "screening"])
def test_every_key_of_a_part_is_told(result: Table, key: str) -> None:
    """And a new key of a single part."""
    assert set(result[key]) - words(RESULTS) == set()


@pytest.mark.parametrize("part", ["range", "tilt", "steepest", "deflection", "bend", "coverage"])
def test_every_key_of_a_shape_is_told(result: Table, part: str) -> None:
    """And a new key of what is said about the shape of an area."""
    below = {name for area in result["areas"].values() for name in area[part]}
    assert below - words(RESULTS) == set()


def test_every_key_of_the_document_is_told() -> None:
    """The page on the format names every key of the document and of the things in it."""
    form = schema()
    parts = {name for entry in form["$defs"].values() for name in entry.get("properties", {})}
    keys = set(form["properties"]) | parts
    assert keys - words(FORMAT) == set()
