"""Headings and labels of the report, kept in a data file per language."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType


@dataclass(frozen=True)
class Labels:
    """Labels by dotted key, such as ``readings.title``."""

    language: str
    texts: Mapping[str, str]

    def __call__(self, key: str, **values: object) -> str:
        """Return the label with the ``values`` put in their places.

        Raises
        ------
        KeyError
            If the language's file has no such label or a value is missing.
        """
        return self.texts[key].format(**values) if values else self.texts[key]

    def of(self, group: str, word: str) -> str:
        """Return the label of a word of the document's own list, or the word where none is."""
        return self.texts.get(f"{group}.{word}", word.replace("-", " "))


@cache
def load_labels(language: str = "en") -> Labels:
    """Return the labels of a language (``en`` is there)."""
    path = files("levelbook.report") / "labels" / f"{language}.toml"
    groups = tomllib.loads(path.read_text("utf-8"))
    flat = {f"{group}.{key}": text for group, keys in groups.items() for key, text in keys.items()}
    return Labels(language, MappingProxyType(flat))
