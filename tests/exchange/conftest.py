"""Assessed books that the tests of what goes out share."""

from importlib.resources import files

import pytest

from levelbook.book import read_book
from levelbook.findings import assess
from levelbook.findings.model import Assessment


@pytest.fixture(scope="session")
def house(house_a: bytes) -> Assessment:
    """Return the assessment of the small sample house."""
    return assess(read_book(house_a))


@pytest.fixture(scope="session")
def demo() -> Assessment:
    """Return the assessment of the demo house: struck readings, signs of distress, a garage."""
    return assess(read_book((files("levelbook.demo") / "house.json").read_bytes()))
