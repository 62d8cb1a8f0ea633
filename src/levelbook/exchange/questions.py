"""What an import asks, tells and leaves: the same for the command line and the app.

An import is planned again from the file and all answers so far, so nothing has to be kept in
between: as long as something is unclear, the plan has questions and no book; when nothing is,
it has the book. Nothing that exists is changed, so an import is undone by not keeping it.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from levelbook.book.faults import show
from levelbook.book.model import Book
from levelbook.errors import DocumentError, Fault

Kind = Literal["table", "grid", "book", "outlines"]


@dataclass(frozen=True, slots=True)
class Option:
    """One answer to a question: its key, and what it means."""

    key: str
    says: str


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that is unclear; without options, any fitting text is an answer.

    ``usual`` is what is most likely meant. It is offered, and never taken by itself.
    """

    key: str
    asks: str
    options: tuple[Option, ...] = ()
    usual: str | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its letter, its title, and what it is taken for (``None``: not taken)."""

    letter: str
    title: str
    role: str | None


@dataclass(frozen=True, slots=True)
class Left:
    """Something that was not taken: where it stands, what it says, and why."""

    place: str
    what: str
    why: str


@dataclass(frozen=True)
class ImportPlan:
    """What an import would take, what it would not, and what it has to ask first.

    ``rows`` are the first rows as they would be taken: the reading's name, its station,
    finish, number, unit and remark, and its place. ``taken`` and ``assumed`` are
    sentences; ``book`` is there only when there are no questions. ``document`` is what the
    book was read from; an outline that goes into a draft without readings has it alone.
    """

    kind: Kind
    questions: tuple[Question, ...] = ()
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    taken: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    left: tuple[Left, ...] = ()
    book: Book | None = None
    document: Mapping[str, Any] | None = None

    def told(self, most: int) -> dict[str, Any]:
        """Return the plan as JSON values, without the book; of what is left the first ``most``."""
        return {
            "kind": self.kind,
            "questions": [asdict(question) for question in self.questions],
            "columns": [asdict(column) for column in self.columns],
            "rows": self.rows,
            "taken": self.taken,
            "assumed": self.assumed,
            "left": [asdict(left) for left in self.left[:most]],
        }


@dataclass
class Interview:
    """The answers given so far; gathers what is still open and what was told."""

    answers: Mapping[str, str] = field(default_factory=dict)
    open: dict[str, Question] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)
    taken: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)

    def choose(
        self, key: str, asks: str, options: Mapping[str, str], usual: str | None = None
    ) -> str | None:
        """Return the answer, one of the options' keys; ``None`` puts the question.

        Raises
        ------
        DocumentError
            If the answer given is none of the options.
        """
        given = self.answers.get(key)
        self.used.add(key)
        if given is None:
            told = tuple(Option(name, says) for name, says in options.items())
            self.open[key] = Question(key, asks, told, usual)
        elif given not in options:
            raise bad_answer(key, given, f"answer one of: {', '.join(options)}")
        return given

    def write(
        self, key: str, asks: str, check: Callable[[str], bool], usual: str | None = None
    ) -> str | None:
        """Return the answer, any text that passes ``check``; ``None`` puts the question.

        Raises
        ------
        DocumentError
            If the answer given does not pass.
        """
        given = self.answers.get(key)
        self.used.add(key)
        if given is None:
            self.open[key] = Question(key, asks, (), usual)
        elif not check(given):
            raise bad_answer(key, given, f"as in: {usual}" if usual else asks)
        return given

    def leave(self, place: str, what: str, why: str) -> None:
        """Tell of something that is not taken."""
        self.left.append(Left(place, what[:80], why))

    def check_used(self) -> None:
        """Refuse answers to questions that were never put, when nothing else is open.

        Raises
        ------
        DocumentError
            If there are such answers.
        """
        spare = sorted(set(self.answers) - self.used)
        if spare and not self.open:
            raise DocumentError(
                tuple(
                    Fault("answer", f"answers.{key}", "nothing asks for this", "remove it")
                    for key in spare
                )
            )


def bad_answer(key: str, given: str, remedy: str) -> DocumentError:
    """Return the refusal of an answer."""
    return DocumentError(
        (Fault("answer", f"answers.{key}", f"{show(given)} is no answer here", remedy),)
    )


def refused(code: str, place: str, problem: str, remedy: str) -> DocumentError:
    """Return the refusal of a file."""
    return DocumentError((Fault(code, place, problem, remedy),))
