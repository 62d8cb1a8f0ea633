"""What a report says, in plain records that the PDF and the web page both draw.

Nothing here knows a page or a tag: the content is decided once, so that the PDF and the
HTML file cannot say different things. All text is plain text, never markup.
"""

from dataclasses import dataclass
from typing import Literal

Align = Literal["left", "right"]
Mark = Literal["within", "beyond", "close", "unknown", ""]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table; ``width`` is its share of the room, 0 for as narrow as it fits."""

    label: str
    align: Align = "left"
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """One row; ``struck`` is drawn struck through, ``note`` stands under it in full width.

    ``mark`` draws a small shape before the first cell, for readers in black and white.
    """

    cells: tuple[str, ...]
    struck: bool = False
    note: str = ""
    mark: Mark = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose header repeats on every page; ``caption`` names it for all readers.

    ``titled`` is false where a heading just above says the same to those who see.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    dense: bool = False
    titled: bool = True


@dataclass(frozen=True, slots=True)
class Prose:
    """Paragraphs, or a list of points."""

    items: tuple[str, ...]
    style: Literal["body", "list", "quiet"] = "body"


@dataclass(frozen=True, slots=True)
class Fact:
    """A label, its value and what helps to read it."""

    label: str
    value: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """Labelled values in two columns; ``title`` may be empty, ``plain`` is for notes."""

    title: str
    items: tuple[Fact, ...]
    plain: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing by name; ``alt`` tells it in words. ``size`` is the room it may take."""

    name: str
    alt: str
    caption: str
    size: Literal["page", "wide", "strip"] = "wide"


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Shot:
    """A photograph: its file inside the report, empty where ``alt`` says why it is missing."""

    file: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Gallery:
    """Photographs side by side."""

    items: tuple[Shot, ...]


Block = Table | Prose | Facts | Picture | Heading | Gallery


@dataclass(frozen=True, slots=True)
class Section:
    """One section; ``fresh`` starts it on a new page."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    fresh: bool = False


@dataclass(frozen=True, slots=True)
class Cover:
    """The page that a buyer needs; ``meaning`` and ``advice`` are a heading and its sentences.

    ``alerts`` are what should not be overlooked beside the summary, each with what to do.
    ``body`` is the type size of those two on paper in points, ``shares`` their widths, ``note``
    a line under the plan, ``logo`` the firm's own, if it has one.
    """

    kicker: str
    title: str
    subtitle: str
    summary: tuple[str, ...]
    alerts: tuple[str, ...]
    meaning: tuple[str, tuple[str, ...]]
    advice: tuple[str, tuple[str, ...]]
    foot: str
    note: str
    picture: Picture
    body: float
    shares: tuple[float, float]
    logo: Shot | None = None


@dataclass(frozen=True, slots=True)
class Contents:
    """The whole report in words.

    ``label``, ``banner``, ``fingerprint``, ``date`` and ``paging`` ("Page {page} of {pages}")
    stand on every page.
    """

    language: str
    label: str
    banner: str
    fingerprint: str
    date: str
    paging: str
    cover: Cover
    sections: tuple[Section, ...]
