"""What a careful colleague would say about a document that has no errors."""

from collections.abc import Callable, Iterable

from levelbook.book import grades, habits
from levelbook.book.model import Book
from levelbook.book.spacing import spacing_notices
from levelbook.book.survey import Notice, Survey
from levelbook.book.ties import tie_notices

__all__ = ["Notice", "notices"]

_REMARKS: tuple[Callable[[Survey], Iterable[Notice]], ...] = (
    habits.check_notices,
    habits.closing_notices,
    tie_notices,
    spacing_notices,
    habits.reach_notices,
    habits.step_notices,
    habits.struck_notices,
    habits.place_notices,
    habits.garage_notices,
    grades.grade_notices,
    habits.unused_notices,
)


def notices(book: Book) -> tuple[Notice, ...]:
    """Return the remarks on a document that :func:`levelbook.book.read_book` has accepted.

    The most telling come first: the instrument, closing checks, ties, then coverage, then
    smaller things. Nothing in them stops any computation.
    """
    survey = Survey(book)
    return tuple(notice for remark in _REMARKS for notice in remark(survey))
