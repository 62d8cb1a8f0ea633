"""Every file that goes out, by the name of its format: the same for the commands and the app."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from levelbook.book import write_book
from levelbook.drawing import Kind
from levelbook.errors import UsageError
from levelbook.exchange.drawing_file import drawing_file
from levelbook.exchange.geojson import geojson
from levelbook.exchange.package import package
from levelbook.exchange.pictures import picture, svg
from levelbook.exchange.survey_file import survey_file
from levelbook.exchange.workbook import workbook
from levelbook.findings.model import Assessment
from levelbook.report.tables import levels_csv, readings_csv

_SHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True)
class Order:
    """What is wanted of a file, where its format leaves a choice.

    ``drawing`` is the plan that a picture shows, ``dpi`` the dots to its inch; ``photos`` by
    their SHA-256 and the ``seal`` go into the package.
    """

    drawing: Kind = "levels"
    dpi: int = 200
    photos: Mapping[str, bytes] | None = None
    seal: Mapping[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Format:
    """One format: what a file's name ends in (``{drawing}`` is the plan's), and its media type."""

    ending: str
    media: str
    make: Callable[[Assessment, Order], bytes]

    def name(self, stem: str, order: Order) -> str:
        """Return the name of a file."""
        return stem + self.ending.format(drawing=order.drawing)


FORMATS: Mapping[str, Format] = {
    "package": Format(
        "-package.zip",
        "application/zip",
        lambda result, order: package(result, photos=order.photos, seal=order.seal),
    ),
    "book": Format(
        ".json", "application/json", lambda result, _: write_book(result.book).encode("utf-8")
    ),
    "xlsx": Format(".xlsx", _SHEET, lambda result, _: workbook(result)),
    "readings.csv": Format(
        "-readings.csv", "text/csv; charset=utf-8", lambda result, _: readings_csv(result)
    ),
    "levels.csv": Format(
        "-levels.csv", "text/csv; charset=utf-8", lambda result, _: levels_csv(result)
    ),
    "dxf": Format(".dxf", "image/vnd.dxf", lambda result, _: drawing_file(result)),
    "svg": Format(
        "-{drawing}.svg", "image/svg+xml", lambda result, order: svg(result, order.drawing)
    ),
    "png": Format(
        "-{drawing}.png",
        "image/png",
        lambda result, order: picture(result, order.drawing, order.dpi),
    ),
    "geojson": Format(".geojson", "application/geo+json", lambda result, _: geojson(result)),
    "landxml": Format("-landxml.xml", "application/xml", lambda result, _: survey_file(result)),
}


def format_of(name: str) -> Format:
    """Return a format by its name.

    Raises
    ------
    UsageError
        If there is none of this name.
    """
    found = FORMATS.get(name)
    if found is None:
        known = ", ".join(FORMATS)
        raise UsageError("format", f"there is no format {name[:40]!r}", f"ask for one of {known}")
    return found
