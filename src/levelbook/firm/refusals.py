"""How a thing is refused that is not here; whether another firm has it is not told."""

from levelbook.errors import MissingError


def missing(place: str, what: str) -> MissingError:
    """Return the error for a thing that the firm does not have."""
    return MissingError(place[:64], f"there is no such {what}", "go back to the list")
