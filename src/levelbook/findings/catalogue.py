"""The sets of criteria that come with the program, and which of them a book calls for."""

import tomllib
from functools import cache
from importlib import resources

from levelbook.book.model import Book
from levelbook.errors import UsageError
from levelbook.findings.criteria import CriteriaSet, Default

NEW_FOR_YEARS = 2
"""A house counts as new up to two years after the year it was built (our own rule)."""


@cache
def builtin_sets() -> tuple[CriteriaSet, ...]:
    """Return every set that comes with the program, by id in alphabetical order."""
    folder = resources.files("levelbook.findings") / "criteria"
    files = sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
    return tuple(CriteriaSet.model_validate(tomllib.loads(f.read_text("utf-8"))) for f in files)


def named_set(name: str) -> CriteriaSet:
    """Return the set with this id.

    Raises
    ------
    UsageError
        If there is none; the message names those there are.
    """
    for each in builtin_sets():
        if each.id == name:
            return each
    known = ", ".join(each.id for each in builtin_sets())
    raise UsageError("criteria", f"no set is called {name[:60]!r}", f"choose from: {known}")


def is_new(book: Book) -> bool | None:
    """Tell whether the house was new at the visit; ``None`` where the year is not known."""
    if book.property.year_built is None:
        return None
    return 0 <= int(book.visit.date[:4]) - book.property.year_built <= NEW_FOR_YEARS


def default_sets(book: Book) -> tuple[CriteriaSet, ...]:
    """Return the sets that fit the book's units, foundation and age.

    A set is chosen when everything in its ``default`` table holds. A foundation that was not
    written down is taken to fit; a year of building that was not is taken as not new, unless
    the visit is a baseline.
    """
    return tuple(s for s in builtin_sets() if s.default is not None and _fits(s.default, book))


def _fits(default: Default, book: Book) -> bool:
    foundation = book.property.foundation
    new = is_new(book)
    if new is None:
        new = book.visit.purpose == "baseline"
    return (
        book.units.level in default.level_units
        and (new or not default.new_house)
        and (not default.areas or any(area.kind in default.areas for area in book.areas))
        and (not default.grades or bool(book.grades))
        and (foundation is None or not default.foundation or foundation in default.foundation)
    )
