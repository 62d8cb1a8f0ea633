"""Sentences told one after another, each under its key, with the inspector's words in place."""

from levelbook.findings.model import Override
from levelbook.findings.overrides import Wishes
from levelbook.findings.wording import Wording


class Teller:
    """Fills in templates, applies replacements, and keeps what was told and replaced."""

    def __init__(self, wording: Wording, wishes: Wishes) -> None:
        self.wording, self.wishes = wording, wishes
        self.told: dict[str, str] = {}
        self.replaced: dict[str, Override] = {}

    def part(self, key: str, **values: str) -> str:
        """Return a part of a sentence, which has no key of its own to a reader."""
        return self.wording.say(key, values)

    def tell(self, key: str, place: str = "", **values: str) -> str:
        """Return a whole sentence; ``place`` tells sentences of one template apart.

        Its key to a reader is the template's, with ``:place`` where there is one.
        """
        name = f"{key}:{place}" if place else key
        sentence = _capital(self.wording.say(key, values))
        wish = self.wishes.by_key.get(name)
        if wish is not None:
            self.replaced[name] = Override(name, sentence, wish.text, wish.reason, wish.by)
            sentence = wish.text
        self.told[name] = sentence
        return sentence

    def joined(self, parts: list[str]) -> str:
        """Return parts as "one, another and the last"."""
        *first, last = parts
        return self.part("count.and", first=", ".join(first), last=last) if first else last

    def listed(self, parts: list[str], count: int) -> str:
        """Return parts as one list, and how many more there are of ``count``."""
        if count > len(parts):
            parts = [*parts, self.part("sign.also", count=str(count - len(parts)))]
        return "; ".join(parts)


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
