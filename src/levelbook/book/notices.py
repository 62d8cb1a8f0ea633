"""What a careful colleague would say about a document that has no errors."""

from dataclasses import dataclass

from levelbook.book.model import Book


@dataclass(frozen=True, slots=True)
class Notice:
    """One remark: a stable code, its place, a sentence, and what would help."""

    code: str
    place: str
    sentence: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.sentence} {self.remedy}"


def notices(book: Book) -> tuple[Notice, ...]:
    """Return the remarks on a document, in the order of its parts."""
    return ()
