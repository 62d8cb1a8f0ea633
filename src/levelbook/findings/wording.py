"""The sentences of the findings: templates in data files, filled in strictly."""

import string
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from levelbook.errors import UsageError


@dataclass(frozen=True)
class Wording:
    """Templates of one language by key (``section.name``)."""

    language: str
    templates: Mapping[str, str]

    def say(self, key: str, values: Mapping[str, str]) -> str:
        """Return the sentence of ``key`` with every placeholder filled in.

        Raises
        ------
        UsageError
            If there is no such key, or the values are not exactly what it asks for.
        """
        template = self.templates.get(key)
        if template is None:
            raise UsageError(f"wording {key}", "there is no such key", "add it to the data file")
        if placeholders(template) != frozenset(values):
            asked = ", ".join(sorted(placeholders(template))) or "nothing"
            raise UsageError(f"wording {key}", f"it asks for {asked}", "give exactly these values")
        return template.format_map(values)

    def section(self, name: str) -> dict[str, str]:
        """Return the templates of one section by name."""
        start = f"{name}."
        return {k.removeprefix(start): v for k, v in self.templates.items() if k.startswith(start)}


def placeholders(template: str) -> frozenset[str]:
    """Return the names in braces of a template."""
    return frozenset(name for _, name, _, _ in string.Formatter().parse(template) if name)


@cache
def load_wording(language: str = "en", folder: str = "wording") -> Wording:
    """Return the wording of a language that comes with the program.

    ``folder`` names the collection of sentences: ``wording`` for one visit, ``comparing``
    for visits compared.

    Raises
    ------
    UsageError
        If there is none.
    """
    place = resources.files("levelbook.findings") / folder
    known = sorted(f.name.removesuffix(".toml") for f in place.iterdir())
    if language not in known:
        raise UsageError(
            "language", f"no wording in {language!r}", f"choose from: {', '.join(known)}"
        )
    tables = tomllib.loads((place / f"{language}.toml").read_text("utf-8"))
    flat = {f"{part}.{name}": text for part, rows in tables.items() for name, text in rows.items()}
    return Wording(language, flat)
