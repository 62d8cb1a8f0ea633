"""The errors of the program: a small family, each telling the place and the remedy.

Two kinds of wrong are kept apart. Faults in what the user wrote are *collected* as
:class:`Fault` records and raised together; misuse of the code raises at once.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault in a document: a stable code, its place, what is wrong and what to do."""

    code: str
    place: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.place}: {self.problem}; {self.remedy}"


class LevelbookError(Exception):
    """Base of every error this program raises on purpose."""


class DocumentError(LevelbookError):
    """A document cannot be used; ``faults`` tells all of its errors at once."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(map(str, faults)))


class UsageError(LevelbookError):
    """A call or command was used wrongly; ``place`` names it and ``remedy`` says what to do."""

    def __init__(self, place: str, problem: str, remedy: str) -> None:
        self.place, self.problem, self.remedy = place, problem, remedy
        super().__init__(f"{place}: {problem}; {remedy}")


class MissingError(UsageError):
    """What is asked for is not there, or is not for whoever asks: both are told alike."""


class NoVisitError(MissingError):
    """There is no visit of this id, or it is another firm's."""

    def __init__(self, visit: str) -> None:
        super().__init__(visit[:64], "there is no such visit", "go back to the houses")


class ConflictError(UsageError):
    """What is asked for does not fit what is there by now."""


class DeniedError(UsageError):
    """Whoever asks has not shown who they are, or may not do this."""


class DamagedError(UsageError):
    """What was kept is not there whole any more, or a copy of it was altered or cut off."""


class TooManyError(UsageError):
    """Something was tried too often; for ``wait`` seconds it is not looked at."""

    def __init__(
        self, place: str, wait: int, problem: str = "this was tried too often", remedy: str = ""
    ) -> None:
        self.wait = wait
        super().__init__(place, problem, remedy or f"try again in {_span(wait)}")


class NoRoomError(UsageError):
    """More is to be kept than may be."""


def _span(seconds: int) -> str:
    """Return a time as a person says it."""
    if seconds < 90:
        return f"{seconds} seconds"
    return f"{-(-seconds // 60)} minutes"
