"""The engineer's package: everything of one visit in one ZIP, the same bytes every time.

Report, record, readings and levels with their covariance, drawings, photographs, the criteria
used, a plain guide, and a list of checksums (SHA-256). The seal goes along where there is one.
The record lies under the name that every command looks for, so the package opens as a book.
"""

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import asdict

from levelbook import __version__
from levelbook.archive.opening import BOOK, SEAL
from levelbook.book import write_book
from levelbook.book.model import Book
from levelbook.exchange.drawing_file import WORDS, drawing_file
from levelbook.exchange.geojson import geojson
from levelbook.exchange.pictures import picture, svg
from levelbook.exchange.survey_file import survey_file
from levelbook.exchange.workbook import workbook
from levelbook.findings.documents import assess_document
from levelbook.findings.model import Assessment
from levelbook.report import build
from levelbook.report.tables import safe

_MOMENT = (2000, 1, 1, 0, 0, 0)
_PHOTO_TYPES = {b"\xff\xd8\xff": ".jpg", b"\x89PNG": ".png", b"RIFF": ".webp"}


def package(
    assessment: Assessment,
    *,
    photos: Mapping[str, bytes] | None = None,
    seal: Mapping[str, str] | None = None,
) -> bytes:
    """Return the package (ZIP); ``photos`` by SHA-256, ``seal`` as its JSON object."""
    kept = _kept(assessment.book, photos or {})
    parts = _parts(assessment, kept, seal)
    parts["README.txt"] = _guide(assessment, sorted(parts), kept).encode("utf-8")
    sums = [f"{hashlib.sha256(parts[name]).hexdigest()}  {name}\n" for name in sorted(parts)]
    parts["SHA256SUMS"] = "".join(sums).encode("utf-8")
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as file:
        for name in sorted(parts):
            entry = zipfile.ZipInfo(name, _MOMENT)
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            entry.create_system = 3
            file.writestr(entry, parts[name])
    return data.getvalue()


def _kept(book: Book, photos: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return the photographs that are those of the book, by the hash that their bytes have."""
    named = {photo.sha256.lower() for photo in book.photos}
    whole = {hashlib.sha256(content).hexdigest(): content for content in photos.values()}
    return {digest: content for digest, content in whole.items() if digest in named}


def _parts(
    assessment: Assessment, photos: Mapping[str, bytes], seal: Mapping[str, str] | None
) -> dict[str, bytes]:
    report = build(assessment, photos=photos, seal=seal).parts
    criteria = {
        "sets": [asdict(each) for each in assessment.sets],
        "criteria": [asdict(each) for each in assessment.findings],
    }
    parts = {
        BOOK: write_book(assessment.book).encode("utf-8"),
        "results.json": _json(assess_document(assessment, covariance=True)),
        "report.pdf": report[".pdf"],
        "report.html": report[".html"],
        "tables/readings.csv": report["-readings.csv"],
        "tables/levels.csv": report["-levels.csv"],
        "tables/covariance.csv": covariance_csv(assessment),
        "tables/workbook.xlsx": workbook(assessment),
        "drawings/plan.dxf": drawing_file(assessment),
        "drawings/plan.geojson": geojson(assessment),
        "drawings/surface.xml": survey_file(assessment),
        "drawings/levels.svg": svg(assessment, "levels"),
        "drawings/error.svg": svg(assessment, "error"),
        "drawings/deflection.svg": svg(assessment, "deflection"),
        "drawings/levels.png": picture(assessment, "levels"),
        "criteria.json": _json(criteria),
    }
    if seal is not None:
        parts[SEAL] = _json(dict(seal))
    photographs = {f"photos/{key}{_ending(content)}": content for key, content in photos.items()}
    return parts | photographs


def covariance_csv(assessment: Assessment) -> bytes:
    """Return the covariance of the levels, level units squared, as CSV."""
    levels, text = assessment.levels, io.StringIO()
    rows, names = csv.writer(text), list(map(safe, levels.ids))
    rows.writerow(["station", *names])
    for name, row in zip(names, levels.covariance(), strict=True):
        rows.writerow([name, *map(repr, row.tolist())])
    return text.getvalue().encode("utf-8")


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1).encode("utf-8")


def _ending(content: bytes) -> str:
    """Return the ending for a photograph's own first bytes."""
    return next((e for start, e in _PHOTO_TYPES.items() if content.startswith(start)), ".bin")


def _guide(assessment: Assessment, names: list[str], photos: Mapping[str, bytes]) -> str:
    """Return the plain guide: what each file is, in which units, and what it is not."""
    book = assessment.book
    told = [f"{name:<28}{_TOLD.get(name, 'a photograph, named by its SHA-256')}" for name in names]
    absent = [photo.name for photo in book.photos if photo.sha256.lower() not in photos]
    lines = [
        f"{book.property.label}, visit of {book.visit.date}",
        f"Levels in {WORDS[book.units.level]}, places in {WORDS[book.units.plan]}; "
        "sd is a standard deviation.",
        f"Record (SHA-256 of the canonical document): {assessment.digest}",
        f"Made by levelbook {__version__}",
        "",
        "This describes the floor and screens it; it is not engineering. Local codes and",
        "licensed practice come first. Levels of different groups do not compare.",
        "",
        *told,
        *[f"Not here: photograph {name}" for name in absent],
        "",
        "SHA256SUMS holds the checksum of every file (sha256sum -c SHA256SUMS).",
    ]
    return "\n".join(lines) + "\n"


_TOLD = {
    BOOK: "what was written down, levelbook/1; every figure follows from it",
    "results.json": "every computed figure, with the covariance of the levels",
    "report.pdf": "the report, with the record inside",
    "report.html": "the report as one web page",
    "tables/readings.csv": "each reading with its corrections",
    "tables/levels.csv": "each station with its level",
    "tables/covariance.csv": "covariance of the levels, level units squared",
    "tables/workbook.xlsx": "the same with live formulas",
    "drawings/plan.dxf": "plan, levels as text and 3D points, contours",
    "drawings/plan.geojson": "the same in plan coordinates",
    "drawings/surface.xml": "points and surfaces, LandXML 1.2",
    "drawings/levels.svg": "levels and contours",
    "drawings/error.svg": "standard error",
    "drawings/deflection.svg": "the floor with its tilt taken away",
    "drawings/levels.png": "levels and contours as a picture",
    "criteria.json": "the sets of criteria and each criterion applied, with its source",
    SEAL: "the seal of the record",
}
