"""The inspector's own words: what may replace a sentence, and what is only noticed.

They stand in the book under ``visit.extra.wording``, a list of tables with ``key``, ``text``,
``reason`` and, if wished, ``by``. A key is that of a sentence (``summary.shape``, or
``reason.close:house`` where it belongs to one area), or ``screening.outcome``, whose text is
one of the outcomes. Nothing is replaced without a reason.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast, get_args

from levelbook.book.model import Book
from levelbook.findings.model import Outcome
from levelbook.findings.wording import Wording

OUTCOME_KEY = "screening.outcome"
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
LONGEST = 2000


@dataclass(frozen=True, slots=True)
class Wish:
    """One sentence that the inspector wants replaced."""

    key: str
    text: str
    reason: str
    by: str | None


@dataclass(frozen=True)
class Wishes:
    """All wishes of a book by key, and a sentence for each that cannot be followed."""

    by_key: Mapping[str, Wish]
    notices: tuple[str, ...]

    @property
    def outcome(self) -> Outcome | None:
        """The outcome that the inspector chose, if any."""
        wish = self.by_key.get(OUTCOME_KEY)
        return None if wish is None else cast(Outcome, wish.text)


def read_wishes(book: Book, wording: Wording) -> Wishes:
    """Return the inspector's replacements in a book; what is malformed becomes a notice."""
    entries = (book.visit.extra or {}).get("wording", [])
    if not isinstance(entries, list):
        return Wishes({}, (_notice(wording, "", wording.say("notice.not-a-list", {})),))
    wishes: dict[str, Wish] = {}
    notices: list[str] = []
    for i, entry in enumerate(entries):
        wish = _read(entry, wording)
        if isinstance(wish, Wish) and wish.key in wishes:
            wish = wording.say("notice.twice", {"key": wish.key})
        if isinstance(wish, Wish):
            wishes[wish.key] = wish
        else:
            notices.append(_notice(wording, f"[{i}]", wish))
    return Wishes(wishes, tuple(notices))


def unknown_keys(wishes: Wishes, known: Mapping[str, str], wording: Wording) -> tuple[str, ...]:
    """Return a notice for every wish whose key is no sentence of the report."""
    lost = [k for k in wishes.by_key if k not in known and k != OUTCOME_KEY]
    said = (wording.say("notice.unknown-key", {"key": key}) for key in lost)
    return tuple(_notice(wording, "", each) for each in said)


def _read(entry: object, wording: Wording) -> Wish | str:
    """Return the wish of one entry, or what is wrong with it."""
    if not isinstance(entry, dict):
        return wording.say("notice.not-a-table", {})
    key, text, reason = (_text(entry.get(name)) for name in ("key", "text", "reason"))
    if key is None:
        return wording.say("notice.no-key", {})
    if text is None:
        return wording.say("notice.no-text", {})
    if reason is None:
        return wording.say("notice.no-reason", {})
    if key == OUTCOME_KEY and text not in OUTCOMES:
        values = {"outcome": text, "known": ", ".join(OUTCOMES)}
        return wording.say("notice.unknown-outcome", values)
    return Wish(key, text, reason, _text(entry.get("by")))


def _text(value: object) -> str | None:
    """Return a text worth printing, one line, or ``None``."""
    if not isinstance(value, str) or not value.strip() or len(value) > LONGEST:
        return None
    return " ".join(value.split())


def _notice(wording: Wording, place: str, problem: str) -> str:
    return wording.say("notice.override-form", {"place": place, "problem": problem})
