"""The files of a release: made once from a sealed record, and kept as they were handed out."""

import json
from collections.abc import Mapping
from dataclasses import dataclass

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from levelbook.archive.seal import Seal
from levelbook.archive.sealed import seal_book, write_sealed
from levelbook.book.model import Book
from levelbook.drawing import plan, to_svg
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.report import Issue, build
from levelbook.report.drawings import PHONE

REPORT, PAGE, RECORD, RESULTS = "report.pdf", "plan.html", "book.sealed.json", "results.json"
PLAN, SMALL_PLAN, ABOUT = "plan.svg", "plan-phone.svg", "page.json"
DESK = 150.0
"""Width in millimetres of the plan on the client's page, which is narrower than a report's."""
_MEDIA = {
    REPORT: "application/pdf",
    PAGE: "text/html; charset=utf-8",
    RECORD: "application/json",
    RESULTS: "application/json",
    "readings.csv": "text/csv; charset=utf-8",
    "levels.csv": "text/csv; charset=utf-8",
    PLAN: "image/svg+xml",
    SMALL_PLAN: "image/svg+xml",
    ABOUT: "application/json",
}
NAMES = tuple(_MEDIA)
"""Names of the files of every release."""
_FROM_REPORT = {
    REPORT: ".pdf",
    PAGE: ".html",
    RESULTS: ".json",
    "readings.csv": "-readings.csv",
    "levels.csv": "-levels.csv",
}


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of an issue beside its record: its name, day, sender and notes."""

    name: str
    at: str
    firm: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Made:
    """The files of a release by name, and the assessment that they tell."""

    files: Mapping[str, bytes]
    assessment: Assessment


def media_of(name: str) -> str:
    """Return the media type of a file of a release."""
    return _MEDIA[name]


def make_files(
    book: Book, told: Told, private: Ed25519PrivateKey, photos: Mapping[str, bytes]
) -> Made:
    """Return the files of an issue: report, sealed record, tables, plans, and what a page tells.

    Raises
    ------
    TypesettingError
        If the PDF cannot be set.
    """
    seal = seal_book(book, private, f"{told.at[:19]}Z")
    found = assess(book)
    issue = Issue(told.name, told.notes)
    parts = build(found, photos=photos, seal=seal.as_json(), issue=issue).parts
    files = {name: parts[ending] for name, ending in _FROM_REPORT.items()}
    files[RECORD] = write_sealed(book, seal).encode()
    large, small = plan(found, width_mm=DESK), plan(found, width_mm=PHONE)
    files[PLAN] = to_svg(large, fitted=True).encode()
    files[SMALL_PLAN] = to_svg(small, fitted=True).encode()
    about = _about(found, told, seal) | {"plan": large.description}
    files[ABOUT] = json.dumps(about, ensure_ascii=False, indent=1).encode()
    return Made(files, found)


def _about(found: Assessment, told: Told, seal: Seal) -> dict[str, object]:
    """Return what the client's page tells, so that it is the same for good."""
    book, words = found.book, found.words
    return {
        "format": "levelbook-release/1",
        "label": book.property.label,
        "address": book.property.address or "",
        "date": book.visit.date,
        "inspector": book.visit.surveyor or "",
        "firm": told.firm or book.visit.firm or "",
        "title": words.title,
        "summary": [*words.summary, *words.alerts],
        "meaning": list(words.meaning),
        "advice": list(words.advice),
        "limits": list(dict.fromkeys((*words.limits, *words.cautions))),
        "notes": list(told.notes),
        "digest": seal.digest,
        "key": seal.key,
    }
