"""What every section is made from: the assessment, the labels and how numbers are printed."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from levelbook.book.model import Book, Point, Reading
from levelbook.drawing.wording import decimals_of
from levelbook.findings.display import toward
from levelbook.findings.model import Assessment
from levelbook.report.figures import NBSP, Figures
from levelbook.report.firm import NOBODY, FirmMark
from levelbook.report.labels import Labels


@dataclass(frozen=True, slots=True)
class Issue:
    """What tells an issue of a report from others of the same visit.

    ``name`` stands on every page ("2026-0014, issue 2"); ``notes`` are sentences about it.
    """

    name: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Source:
    """An assessment with the words and figures to tell it.

    ``photos`` are by SHA-256 in lower case; ``damaged`` are file names of those that the
    typesetter refused; ``seal`` is the seal document of the book, if it is sealed; ``issue``
    tells which issue of the report this is, if it is one; ``firm`` hands it over.
    """

    assessment: Assessment
    labels: Labels
    photos: Mapping[str, bytes]
    damaged: frozenset[str] = frozenset()
    seal: Mapping[str, str] | None = None
    issue: Issue | None = None
    firm: FirmMark = NOBODY

    @property
    def book(self) -> Book:
        """The level-book document."""
        return self.assessment.book

    @cached_property
    def figures(self) -> Figures:
        """The printer of numbers in the book's units."""
        return Figures(self.book.units, decimals_of(self.book))

    @cached_property
    def finish_names(self) -> Mapping[str, str]:
        """Names of the finishes by id."""
        return {finish.id: finish.name for finish in self.book.finishes}

    @cached_property
    def readings(self) -> Mapping[str, Reading]:
        """Readings by id."""
        return {reading.id: reading for reading in self.book.readings}

    @property
    def unit(self) -> str:
        """The word for the level unit."""
        return self.labels.of("unit", self.book.units.level)

    def area_name(self, area: str) -> str:
        """Return an area's id with the word for its kind, once where they are the same."""
        kind = next((a.kind for a in self.book.areas if a.id == area), "")
        word = self.labels.of("area", kind)
        return area if area.casefold() == word.casefold() else f"{area} ({word})"

    def toward(self, direction: float | None) -> str:
        """Return a direction on the sheet as words, by the compass where north is known."""
        if direction is None:
            return self.labels("shape.nowhere")
        return self.labels(toward(direction, self.book.property.north))

    def line(self, line: tuple[Point, Point]) -> str:
        """Return a line as its two ends on the plan."""
        start, end = (
            self.figures.place(p).removesuffix(f"{NBSP}{self.book.units.plan}") for p in line
        )
        unit = self.book.units.plan
        return self.labels("shape.line", start=start, end=end, unit=unit)
