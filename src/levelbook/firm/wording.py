"""What the firm's part says to clients and colleagues: sentences kept apart from the code."""

import tomllib
from datetime import date
from functools import cache
from importlib.resources import files

from levelbook.findings.wording import Wording, load_wording


@cache
def wording(language: str = "en") -> Wording:
    """Return the sentences of a language (``en`` is there)."""
    path = files("levelbook.firm") / "wording" / f"{language}.toml"
    tables = tomllib.loads(path.read_text("utf-8"))
    flat = {f"{part}.{name}": text for part, rows in tables.items() for name, text in rows.items()}
    return Wording(language, flat)


def told_day(text: str) -> str:
    """Return a day in ISO 8601 as a person says it; another text as it is."""
    try:
        day = date.fromisoformat(text[:10])
    except ValueError:
        return text
    words = load_wording()
    month = words.say(f"month.{day.month}", {})
    return words.say("date.told", {"month": month, "day": str(day.day), "year": str(day.year)})


def say(key: str, **values: str) -> str:
    """Return a sentence with the ``values`` put in their places.

    Raises
    ------
    UsageError
        If there is no such sentence, or the values are not exactly what it asks for.
    """
    return wording().say(key, values)
