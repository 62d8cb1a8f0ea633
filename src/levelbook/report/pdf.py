"""The PDF: the contents set by Typst as PDF/A-3a and PDF/UA-1, with the record inside.

Typst reads one JSON file, so no text is ever taken for markup. The same book gives the
same bytes: the time stamp is the date of the visit and fonts are the package's own.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from typing import TYPE_CHECKING, Literal, Protocol, TypeAlias, cast

import typst

from levelbook.errors import LevelbookError
from levelbook.report.blocks import Contents
from levelbook.report.glyphs import breakable, font_folder, screen

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

STANDARDS: tuple[Literal["a-3a"], Literal["ua-1"]] = ("a-3a", "ua-1")
RETURN = "return.typ"
TEMPLATES = ("main.typ", "compare.typ", "blocks.typ", "probe.typ", RETURN)
ADDRESSES = ("file", "name")
"""Fields that name a file or drawing and are never shown."""

EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
Paper = Literal["us-letter", "a4"]
Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"


class TypesettingError(LevelbookError):
    """The typesetter refused the report; the message is its own."""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file carried inside the PDF, byte for byte."""

    file: str
    content: bytes
    relationship: Literal["source", "data"]
    mime: str
    description: str


@dataclass(frozen=True, slots=True)
class Image:
    """A picture for the report: an SVG drawing or a photograph, and its share of the width."""

    file: str
    content: bytes
    share: float = 100.0


class Press:
    """A typesetter kept warm; safe to share between threads, one report at a time."""

    def __init__(self) -> None:
        folder = files("levelbook.report") / "templates"
        self._templates = {name: (folder / name).read_bytes() for name in TEMPLATES}
        self._compiler = typst.Compiler(font_paths=[str(font_folder())], ignore_system_fonts=True)
        self._lock = Lock()

    def print(
        self,
        data: Mapping[str, Json],
        loose: Mapping[str, bytes],
        when: datetime,
        template: str = "main.typ",
    ) -> bytes:
        """Set ``data`` with the ``loose`` files (name to content) beside it; return the PDF."""
        with TemporaryDirectory(prefix="levelbook-") as name, self._lock:
            folder = Path(name).resolve()
            for file, content in {**self._templates, **loose}.items():
                (folder / file).write_bytes(content)
            (folder / "data.json").write_text(json.dumps(data, ensure_ascii=False), "utf-8")
            return self._compile(folder / template, when)

    def shows(self, image: Image) -> bool:
        """Tell whether a photograph by itself can be set in such a PDF."""
        data = {"file": image.file}
        with TemporaryDirectory(prefix="levelbook-") as name, self._lock:
            folder = Path(name).resolve()
            (folder / "probe.typ").write_bytes(self._templates["probe.typ"])
            (folder / image.file).write_bytes(image.content)
            (folder / "data.json").write_text(json.dumps(data), "utf-8")
            try:
                self._compile(folder / "probe.typ", EPOCH)
            except TypesettingError:
                return False
            return True

    def _compile(self, main: Path, when: datetime) -> bytes:
        try:
            done = self._compiler.compile(
                str(main),
                root=str(main.parent),
                format="pdf",
                pdf_standards=list(STANDARDS),
                timestamp=when,
            )
        except typst.TypstError as error:
            raise TypesettingError(str(error)) from error
        if not isinstance(done, bytes):
            raise TypesettingError("the typesetter returned no document")
        return done


@cache
def press() -> Press:
    """Return the process's typesetter, started at first use."""
    return Press()


class _Screen:
    """Turns the contents into data for the typesetter, every text screened and counted."""

    def __init__(self) -> None:
        self.missing = 0

    def text(self, text: str) -> str:
        """Return ``text`` as the typeface can show it."""
        shown, missing = screen(text)
        self.missing += missing
        return breakable(shown)

    def tree(self, value: object) -> Json:
        """Return records, tuples and texts as plain data; a record tells its ``type``."""
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, tuple):
            return [self.tree(part) for part in value]
        if is_dataclass(value) and not isinstance(value, type):
            return self.record(value)
        return value if isinstance(value, (bool, int, float)) else None

    def record(self, value: "DataclassInstance") -> dict[str, Json]:
        """Return a record as plain data with its ``type``."""
        out: dict[str, Json] = {"type": type(value).__name__}
        for field in fields(value):
            part = getattr(value, field.name)
            out[field.name] = part if field.name in ADDRESSES else self.tree(part)
        return out


def screened(data: Mapping[str, Json]) -> dict[str, Json]:
    """Return plain data with every text as the typeface can show it."""
    screener = _Screen()
    return {name: _screened_value(value, screener) for name, value in data.items()}


def _screened_value(value: Json, screener: _Screen) -> Json:
    if isinstance(value, str):
        return screener.text(value)
    if isinstance(value, list):
        return [_screened_value(each, screener) for each in value]
    if isinstance(value, dict):
        return {name: _screened_value(each, screener) for name, each in value.items()}
    return value


def stamp(text: str) -> datetime:
    """Return midnight UTC of the visit's date, the PDF's time stamp."""
    return datetime.combine(date.fromisoformat(text[:10]), time(), UTC)


class Told(Protocol):
    """What a template sets: a record that tells its day; all its texts are plain."""

    @property
    def date(self) -> str:
        """The day that stamps the file, ISO 8601."""


def typeset(
    contents: Contents | Told,
    images: Mapping[str, Image],
    attachments: Sequence[Attachment],
    paper: Paper,
    notice: Callable[[int], str],
    template: str = "main.typ",
) -> bytes:
    """Return ``contents`` as a PDF/A-3a and PDF/UA-1 file with the attachments inside.

    ``images`` are the drawings by the names that :class:`~levelbook.report.blocks.Picture`
    uses and the photographs by their file names. ``notice`` words how many characters the
    typeface could not show, where there are any. ``template`` is ``main.typ`` for a report,
    ``compare.typ`` for a comparison.

    Raises
    ------
    TypesettingError
        If the typesetter refuses the document, a damaged photograph for example.
    """
    screened = _Screen()
    data = screened.record(cast("DataclassInstance", contents))
    data["paper"] = paper
    data["missing"] = notice(screened.missing) if screened.missing else ""
    data["pictures"] = {k: {"file": i.file, "share": i.share} for k, i in images.items()}
    data["attachments"] = [
        {"file": a.file, "relationship": a.relationship, "mime": a.mime, "about": a.description}
        for a in attachments
    ]
    loose = {i.file: _screened_drawing(i) for i in images.values()}
    loose |= {a.file: a.content for a in attachments}
    return press().print(data, loose, stamp(contents.date), template)


def _screened_drawing(image: Image) -> bytes:
    """Return the picture's bytes; in a drawing, text that cannot be shown is replaced."""
    if not image.file.endswith(".svg"):
        return image.content
    return screen(image.content.decode("utf-8"))[0].encode("utf-8")
