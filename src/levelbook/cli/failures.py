"""Errors as people and programs read them: a line each, or one JSON object."""

from typing import Any

from levelbook.errors import DocumentError, Fault, LevelbookError, UsageError


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
