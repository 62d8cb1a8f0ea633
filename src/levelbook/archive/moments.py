"""Moments as the tables keep them: UTC in ISO 8601, which sorts as text."""

from datetime import UTC, datetime, timedelta

_FORM = "%Y-%m-%dT%H:%M:%S.%fZ"


def stamp(moment: datetime) -> str:
    """Return a moment, which knows its zone, as text of 27 characters."""
    return moment.astimezone(UTC).strftime(_FORM)


def read_stamp(text: str) -> datetime:
    """Return the moment that a text of :func:`stamp` tells."""
    return datetime.strptime(text, _FORM).replace(tzinfo=UTC)


def later(moment: datetime, seconds: float) -> str:
    """Return the moment so many seconds later, as text."""
    return stamp(moment + timedelta(seconds=seconds))
