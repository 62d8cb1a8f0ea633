"""One assessment in, the files of a report out, as bytes."""

import json
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from hashlib import sha256
from typing import Literal, get_args

from levelbook.book import write_book
from levelbook.errors import UsageError
from levelbook.findings import assess_document
from levelbook.findings.model import Assessment
from levelbook.report import page, tables
from levelbook.report.blocks import Contents, Gallery
from levelbook.report.contents import contents
from levelbook.report.drawings import Drawn, draw
from levelbook.report.firm import FirmMark, firm_of
from levelbook.report.labels import load_labels
from levelbook.report.pdf import Attachment, Image, Paper, TypesettingError, press, typeset
from levelbook.report.sections.source import Issue, Source
from levelbook.report.stations import stations_data

Format = Literal["pdf", "html", "csv", "json"]
FORMATS: tuple[Format, ...] = get_args(Format)
BOOK, RESULTS, MIME = "level-book.json", "assessment.json", "application/json"
SEAL = "seal.json"


@dataclass(frozen=True, slots=True)
class Report:
    """The files of a report: bytes by the ending that a file's name gets.

    Endings are ``.pdf``, ``.html``, ``-readings.csv``, ``-levels.csv`` and ``.json``.
    """

    parts: Mapping[str, bytes]


def build(  # noqa: PLR0913 - what may be told beside an assessment, each by its name
    assessment: Assessment,
    *,
    photos: Mapping[str, bytes] | None = None,
    formats: Collection[Format] = FORMATS,
    results: Mapping[str, object] | None = None,
    seal: Mapping[str, str] | None = None,
    issue: Issue | None = None,
    firm: FirmMark | None = None,
    language: str = "en",
) -> Report:
    """Return the report of an assessment in the formats asked for.

    Parameters
    ----------
    photos : mapping of SHA-256 to bytes, optional
        Photographs of the book. One that is missing or altered is said to be.
    formats : collection of ``pdf``, ``html``, ``csv``, ``json``
        What to make; all by default.
    results : result document, optional
        The ``assess`` document where other parts have been joined to it; made here if absent.
    seal : seal document, optional
        Of this book; it goes into the files beside the record, and the report says so.
    issue : Issue, optional
        Its name stands on every page, and its notes have a section of their own.
    firm : FirmMark, optional
        Name and logo of the firm that hands it over; by default what the book says of it.
    language : str
        Of headings and labels.

    Raises
    ------
    UsageError
        If a format is unknown, or the seal is of another book.
    TypesettingError
        If the PDF cannot be set.
    """
    unknown = sorted(set(formats) - set(FORMATS))
    if unknown:
        raise UsageError("formats", f"no format {unknown[0]!r}", f"choose from {FORMATS}")
    if seal is not None and seal["digest"] != assessment.digest:
        raise UsageError("seal", "the seal is of another book", "give the seal of this one")
    kept = {digest.lower(): content for digest, content in (photos or {}).items()}
    mark = firm or firm_of(assessment.book, kept)
    kept |= {sha256(mark.logo).hexdigest(): mark.logo} if mark.logo else {}
    words = load_labels(language)
    desk = Desk(Source(assessment, words, kept, seal=seal, issue=issue, firm=mark), results)
    makers: dict[Format, Callable[[], Mapping[str, bytes]]] = {
        "pdf": lambda: {".pdf": desk.pdf()},
        "html": lambda: {".html": desk.html()},
        "csv": lambda: {
            "-readings.csv": tables.readings_csv(assessment),
            "-levels.csv": tables.levels_csv(assessment),
        },
        "json": lambda: {".json": desk.results},
    }
    made = [makers[name]() for name in FORMATS if name in formats]
    return Report({ending: part for parts in made for ending, part in parts.items()})


class Desk:
    """What the formats share, made once and only if needed."""

    def __init__(self, source: Source, results: Mapping[str, object] | None) -> None:
        self.source, self._results = source, results

    @cached_property
    def results(self) -> bytes:
        """The result document as JSON."""
        document = self._results or assess_document(self.source.assessment)
        return json.dumps(document, ensure_ascii=True, separators=(",", ":")).encode("ascii")

    @cached_property
    def record(self) -> bytes:
        """The level-book document."""
        return write_book(self.source.book).encode("utf-8")

    @property
    def seal(self) -> bytes:
        """The seal document, empty where there is none."""
        seal = self.source.seal
        return b"" if seal is None else json.dumps(dict(seal), indent=2).encode("ascii")

    @cached_property
    def drawn(self) -> Drawn:
        """The drawings for paper."""
        return draw(self.source, screen=False)

    def photos(self, told: Contents) -> Mapping[str, bytes]:
        """Return the photographs that the contents show, by their file names."""
        shots = [
            shot.file
            for section in told.sections
            for block in section.blocks
            if isinstance(block, Gallery)
            for shot in block.items
            if shot.file
        ]
        if told.cover.logo is not None:
            shots.append(told.cover.logo.file)
        return {file: self.source.photos[file[len("photo-") :].partition(".")[0]] for file in shots}

    def pdf(self) -> bytes:
        """Return the PDF; where it fails for a damaged photograph, without that one."""
        try:
            return self._typeset()
        except TypesettingError:
            shown = self.photos(contents(self.source, self.drawn))
            damaged = frozenset(f for f, c in shown.items() if not press().shows(Image(f, c)))
            if not damaged:
                raise
            self.source = replace(self.source, damaged=damaged)
            return self._typeset()

    def _typeset(self) -> bytes:
        """Return the PDF with the record and the results attached."""
        source, drawn = self.source, self.drawn
        label = source.labels
        told = contents(source, drawn)
        images = {name: Image(f"{name}.svg", svg.encode()) for name, svg in drawn.svg.items()}
        images |= {name: Image(name, content) for name, content in self.photos(told).items()}
        attached = [
            Attachment(BOOK, self.record, "source", MIME, label("record.book_about")),
            Attachment(RESULTS, self.results, "data", MIME, label("record.results_about")),
        ]
        if self.seal:
            attached.append(Attachment(SEAL, self.seal, "data", MIME, label("record.seal_about")))
        paper: Paper = "us-letter" if source.book.units.plan == "ft" else "a4"
        return typeset(told, images, attached, paper, self._missing)

    def _missing(self, count: int) -> str:
        label = self.source.labels
        return label("page.missing_one") if count == 1 else label("page.missing_many", count=count)

    def html(self) -> bytes:
        """Return the page with the record and the results inside."""
        drawn = draw(self.source, screen=True)
        told = contents(self.source, drawn)
        pictures = dict(drawn.svg)
        for name, content in self.photos(told).items():
            kind = "jpeg" if name.endswith(".jpg") else "png"
            pictures[name] = page.address(content, f"image/{kind}")
        label = self.source.labels
        downloads = [
            (label("web.book"), BOOK, self.record),
            (label("web.results"), RESULTS, self.results),
        ]
        if self.seal:
            downloads.append((label("web.seal"), SEAL, self.seal))
        return page.render(told, pictures, stations_data(self.source), downloads, label)
