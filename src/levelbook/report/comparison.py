"""The report of a comparison: one PDF and one HTML page, and the builder's page.

It assembles what the comparison and its words say; nothing is computed here.
"""

import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import pikepdf

from levelbook.book import digest, write_book
from levelbook.drawing import to_svg
from levelbook.drawing.both_profiles import both_profiles as draw_both
from levelbook.drawing.movement import movement_plan, small_multiples
from levelbook.drawing.records import Drawing
from levelbook.errors import UsageError
from levelbook.findings.comparison import ComparisonWords, day_text, say
from levelbook.movement.model import Comparison
from levelbook.movement.profiles import BothProfiles, both_profiles
from levelbook.movement.series import Series
from levelbook.report import comparison_page
from levelbook.report.blocks import Block, Picture, Section
from levelbook.report.comparison_tables import Tables
from levelbook.report.figures import grouped
from levelbook.report.labels import load_labels
from levelbook.report.pdf import Attachment, Image, Paper, typeset
from levelbook.report.room import SHEETS

MIME = "application/json"
DESK, PHONE = 200.0, 95.0
MAP_HEIGHT = 82.0
"""Millimetres that the plan takes on paper, so that it stands with the statement."""

SIZES = (8.4, 7.9, 7.4, 6.9, 6.4)
"""Points of the text on the builder's page: the first at which it is one page."""


@dataclass(frozen=True)
class ComparisonTold:
    """What the comparison's template sets: title, sections, and what stands on every page."""

    language: str
    title: str
    subtitle: str
    label: str
    banner: str
    fingerprint: str
    paging: str
    date: str
    body: float
    sections: tuple[Section, ...]


@dataclass(frozen=True)
class ComparisonSource:
    """What a comparison's report is made from; ``series`` where there are more visits.

    ``seals`` are the seal documents of the earlier and the later visit, where they have any.
    """

    comparison: Comparison
    words: ComparisonWords
    document: Mapping[str, object]
    series: Series | None = None
    seals: tuple[Mapping[str, str] | None, Mapping[str, str] | None] = (None, None)


def build_comparison(source: ComparisonSource) -> dict[str, bytes]:
    """Return the files of a comparison's report by the ending that their names get.

    ``.pdf`` and ``.html`` are the report, ``-builder.pdf`` the page for the builder, ``.json``
    the result document.

    Raises
    ------
    TypesettingError
        If a PDF cannot be set.
    UsageError
        If a seal is of another book.
    """
    desk = _Desk(source)
    return {
        ".json": desk.results,
        ".pdf": desk.pdf(desk.report(), desk.paper_drawings()),
        "-builder.pdf": desk.single(desk.builder()),
        ".html": desk.html(),
    }


class _Desk:
    """Puts the parts of a comparison's report together."""

    def __init__(self, source: ComparisonSource) -> None:
        self.source, self.found = source, source.comparison
        self.book = self.found.earlier.book
        self.days = (day_text(self.book), day_text(self.found.later.book))
        self.tables = Tables(self.found, source.series)
        self.seals = self._seals()
        self.lines = both_profiles(self.found)
        self.results = json.dumps(
            source.document, ensure_ascii=True, separators=(",", ":"), allow_nan=False
        ).encode("ascii")

    def _seals(self) -> list[Attachment]:
        """Return the seals of the visits as what the PDF carries beside their books."""
        found = []
        about = load_labels()("record.seal_about")
        visits = ("earlier", self.found.earlier), ("later", self.found.later)
        for (name, visit), seal in zip(visits, self.source.seals, strict=True):
            if seal is None:
                continue
            if seal["digest"] != digest(visit.book):
                raise UsageError(f"seal {name}", "the seal is of another book", "give its own")
            data = json.dumps(dict(seal), indent=2).encode("ascii")
            found.append(Attachment(f"seal-{name}.json", data, "data", MIME, about))
        return found

    def report(self) -> ComparisonTold:
        """Return the whole report."""
        words = self.source.words
        sections = [
            Section(
                "statement",
                say("heading.statement"),
                (self.tables.points(words.statement),),
            ),
            Section("cannot", say("heading.cannot"), (self.tables.points(words.caveats),)),
            Section("map", say("heading.map"), (self._picture("map"),)),
            Section("profiles", say("heading.profiles"), self._profiles()),
            Section("sections", say("heading.sections"), self.tables.sections()),
            Section("trend", say("heading.trend"), self._trend()),
            Section("places", say("heading.places"), self.tables.places()),
            Section("method", say("heading.method"), (self.tables.points(words.method),)),
            Section("visits", say("heading.visits"), self.tables.visits()),
        ]
        series = self.source.series
        if series is None:
            return self._told(say("title.comparison"), sections, 9.8)
        title = say("title.series", count=str(len(series.visits)))
        return self._told(title, sections, 9.8)

    def builder(self) -> ComparisonTold:
        """Return the page for the builder: facts, method, fingerprints, on one page."""
        words = self.source.words
        facts, *terms = words.builder
        table = self.tables.summary()
        told = self.tables.points(words.places)
        blocks: tuple[Block, ...] = (self.tables.prose((facts,)), *table, told)
        cannot: tuple[Block, ...] = (self.tables.prose((" ".join(words.caveats),)),)
        method: tuple[Block, ...] = (self.tables.prose((" ".join(words.method[1:-1]),)),)
        sections = [
            Section("facts", say("heading.statement"), blocks),
            Section("cannot", say("heading.cannot"), cannot),
            Section("method", say("heading.method"), method),
            Section("terms", say("heading.terms"), (self.tables.points(tuple(terms)),)),
            Section("visits", say("heading.visits"), self.tables.fingerprints()),
        ]
        return self._told(say("title.builder"), sections, SIZES[0])

    def _told(self, title: str, sections: Sequence[Section], body: float) -> ComparisonTold:
        labels = load_labels()
        label = self.book.property.label
        both = " · ".join(grouped(digest(v.book)) for v in (self.found.earlier, self.found.later))
        earlier, later = self.days
        return ComparisonTold(
            language=labels.language,
            title=title,
            subtitle=say("title.of", label=label, earlier=earlier, later=later),
            label=label if len(label) <= 60 else label[:59].rstrip() + "…",
            banner=labels("page.banner"),
            fingerprint=labels("page.fingerprint", digest=both),
            paging=labels("page.paging", page="{page}", pages="{pages}"),
            date=self.found.later.book.visit.date,
            body=body,
            sections=tuple(s for s in sections if s.blocks),
        )

    def _picture(self, name: str) -> Picture:
        earlier, later = self.days
        unit = say(f"unit.{self.book.units.level}")
        caption = say("map.caption", earlier=earlier, later=later, unit=unit)
        return Picture(name, say("map.alt"), caption, "wide")

    def _profiles(self) -> tuple[Picture, ...]:
        told = [say("map.profile-caption", section=_line_name(line)) for line in self.lines]
        return tuple(Picture(f"profile-{k}", words, words, "strip") for k, words in enumerate(told))

    def _trend(self) -> tuple[Block, ...]:
        if self.source.series is None:
            return ()
        caption = say("map.series-caption", earlier=self.days[0])
        picture = Picture("series", caption, caption, "wide")
        return (picture, *self.tables.trend())

    def _drawings(self, width: float, height: float | None) -> dict[str, Drawing]:
        """Return all drawings for one width."""
        units = self.book.units
        drawn = {"map": movement_plan(self.found, width_mm=width, height_mm=height)}
        for k, line in enumerate(self.lines):
            pair, name = (line.earlier, line.later), _line_name(line)
            name = name[:1].upper() + name[1:]
            drawn[f"profile-{k}"] = draw_both(pair, self.days, units, name=name, width_mm=width)
        if self.source.series is not None:
            each = self.source.series.comparisons
            days = [day_text(found.later.book) for found in each]
            drawn["series"] = small_multiples(each, days, width_mm=width)
        return drawn

    def paper_drawings(self) -> dict[str, Image]:
        """Return the drawings for paper."""
        sheet = SHEETS[self.book.units.plan]
        draw = partial(to_svg, printable=True)
        return {
            name: Image(f"{name}.svg", draw(drawing).encode())
            for name, drawing in self._drawings(sheet.width, MAP_HEIGHT).items()
        }

    def pdf(self, told: ComparisonTold, images: Mapping[str, Image]) -> bytes:
        """Return a PDF with both records, their seals and the result inside."""
        labels = load_labels()
        earlier, later = (v.book for v in (self.found.earlier, self.found.later))
        attached = [
            _record("level-book-earlier.json", write_book(earlier), labels("record.book_about")),
            _record("level-book-later.json", write_book(later), labels("record.book_about")),
            Attachment(
                "comparison.json", self.results, "data", MIME, labels("record.results_about")
            ),
            *self.seals,
        ]
        paper: Paper = "us-letter" if self.book.units.plan == "ft" else "a4"
        return typeset(told, images, attached, paper, _missing, "compare.typ")

    def single(self, told: ComparisonTold) -> bytes:
        """Return a PDF on one page, its text as small as that takes; no drawings."""
        for size in SIZES:
            data = self.pdf(replace(told, body=size), {})
            with pikepdf.open(io.BytesIO(data)) as document:
                if len(document.pages) == 1:
                    break
        return data

    def html(self) -> bytes:
        """Return the report as one page, drawings for a desk and for a phone."""
        wide, narrow = self._drawings(DESK, None), self._drawings(PHONE, None)
        pictures = {
            name: "".join(
                f'<div class="{cls}">{to_svg(drawing, fitted=True)}</div>'
                for cls, drawing in (("desk", wide[name]), ("phone", narrow[name]))
            )
            for name in wide
        }
        told = self.report()
        return comparison_page.render(
            comparison_page.Page(told.language, told.title, told.subtitle, told.label),
            told.sections,
            pictures,
            (told.banner, told.fingerprint),
        )


def _line_name(line: BothProfiles) -> str:
    """Return what a line is called in a sentence."""
    return say("map.section", section=line.name) if line.name else say("map.worst")


def _record(name: str, document: str, about: str) -> Attachment:
    return Attachment(name, document.encode("utf-8"), "source", MIME, about)


def _missing(count: int) -> str:
    labels = load_labels()
    if count == 1:
        return labels("page.missing_one")
    return labels("page.missing_many", count=count)
