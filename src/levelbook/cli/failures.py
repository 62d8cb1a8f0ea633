"""Errors as people and programs read them: a line each, or one JSON object."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from levelbook.errors import DocumentError, Fault, LevelbookError, UsageError

if TYPE_CHECKING:
    from sqlalchemy.exc import DBAPIError


class BookError(LevelbookError):
    """An error that belongs to one of the books a command was given."""

    def __init__(self, book: str, cause: LevelbookError) -> None:
        self.book, self.cause = book, cause
        super().__init__(f"{book}: {cause}")


class CheckError(BookError):
    """A checked book has faults: they are the result, not an accident on the way to one."""


def faults_of(error: LevelbookError) -> tuple[Fault, ...]:
    """Return what ``error`` tells as faults: code, place, problem and remedy each."""
    match error:
        case BookError(cause=cause):
            return faults_of(cause)
        case DocumentError(faults=faults):
            return faults
        case UsageError(place=place, problem=problem, remedy=remedy):
            return (Fault("usage", place, problem, remedy),)
        case _:
            return (Fault("error", "levelbook", str(error), "see the documentation"),)


def lines(error: LevelbookError) -> list[str]:
    """Return ``error`` as lines, one fault each, with the book it belongs to in front."""
    book = f"{error.book}: " if isinstance(error, BookError) else ""
    return [book + " ".join(str(fault).split()) for fault in faults_of(error)]


def fault_document(fault: Fault) -> dict[str, str]:
    """Return one fault as it stands in JSON."""
    return {
        "code": fault.code,
        "place": fault.place,
        "problem": fault.problem,
        "remedy": fault.remedy,
    }


def document(error: LevelbookError) -> dict[str, Any]:
    """Return ``error`` as the JSON object that a command prints instead of its result."""
    if isinstance(error, CheckError):
        return {"faults": [fault_document(fault) for fault in faults_of(error)], "warnings": []}
    inner: dict[str, Any] = {"faults": [fault_document(fault) for fault in faults_of(error)]}
    if isinstance(error, BookError):
        inner["book"] = error.book
    return {"error": inner}


def from_os(place: str, error: OSError) -> UsageError:
    """Return what the operating system refused in the words of this program."""
    match error:
        case FileNotFoundError():
            return UsageError(place, "there is no such file or folder", "check the path")
        case IsADirectoryError():
            return UsageError(place, "this is a folder", "name the level-book file in it")
        case NotADirectoryError() | FileExistsError():
            return UsageError(
                place, "a file stands where a folder is needed", "choose another folder"
            )
        case PermissionError():
            return UsageError(
                place, "the system does not permit it", "change the permissions or the path"
            )
        case _:
            told = error.strerror or type(error).__name__
            return UsageError(place, told.lower(), "free some space or use another path")


@contextmanager
def told_when_away() -> Iterator[None]:
    """Tell in words that a database or a disk cannot be used.

    Raises
    ------
    UsageError
        In place of what the database's driver or the system raised.
    """
    from sqlalchemy.exc import DBAPIError, OperationalError

    try:
        yield
    except OperationalError as error:
        problem = f"the database does not answer ({_driver_says(error)})"
        remedy = "check user, host, name and password of the address, and that the server runs"
        raise UsageError("database", problem, remedy) from None
    except DBAPIError as error:
        problem = f"it refuses: {_driver_says(error)}"
        raise UsageError("database", problem, "check the role's rights") from None
    except ConnectionError as error:
        raise UsageError("--files", str(error), "check the address and the keys") from None
    except OSError as error:
        raise from_os(error.filename or "disk", error) from None


def _driver_says(error: "DBAPIError") -> str:
    return " ".join(str(error.orig).split())[:200]
