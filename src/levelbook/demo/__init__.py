"""An invented house as package data: one visit, with the slips of a real day left in."""

from importlib.resources import files

NAME = "house"


def house() -> bytes:
    """Return the demo house's level-book document as it is kept (UTF-8 JSON)."""
    return (files(__name__) / f"{NAME}.json").read_bytes()
