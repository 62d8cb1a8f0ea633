"""What the firm's part says to clients and colleagues: sentences kept apart from the code."""

import tomllib
from functools import cache
from importlib.resources import files

from levelbook.findings.wording import Wording


@cache
def wording(language: str = "en") -> Wording:
    """Return the sentences of a language (``en`` is there)."""
    path = files("levelbook.firm") / "wording" / f"{language}.toml"
    tables = tomllib.loads(path.read_text("utf-8"))
    flat = {f"{part}.{name}": text for part, rows in tables.items() for name, text in rows.items()}
    return Wording(language, flat)


def say(key: str, **values: str) -> str:
    """Return a sentence with the ``values`` put in their places.

    Raises
    ------
    UsageError
        If there is no such sentence, or the values are not exactly what it asks for.
    """
    return wording().say(key, values)
