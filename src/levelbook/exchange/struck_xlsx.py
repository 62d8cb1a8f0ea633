"""What is struck through in an XLSX file (ISO/IEC 29500-1, 18.3, 18.4 and 18.8)."""

from collections.abc import Iterator, Mapping
from posixpath import normpath
from xml.etree.ElementTree import Element

from levelbook.exchange.markup import attribute, local, pieces
from levelbook.exchange.struck import NOTHING, Gathered, Run, Struck, is_on, spot_of

_BOOK, _LINKS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
_TEXTS, _STYLES = "xl/sharedstrings.xml", "xl/styles.xml"
Text = tuple[tuple[str, bool | None], ...]
"""The runs of a text; ``None`` where a run has no looks of its own."""


class XlsxSheets:
    """The sheets of an XLSX file by name; styles and shared texts are read once, if needed."""

    def __init__(self, parts: Mapping[str, bytes]) -> None:
        self._parts = {name.lower(): content for name, content in parts.items()}
        shared = (self._parts.get(name, b"") for name in (_STYLES, _TEXTS))
        self._some = any(b"strike" in content for content in shared)
        self._styles = _struck_styles(self._parts[_STYLES]) if _STYLES in self._parts else set()
        self._texts: dict[int, Text] = {}
        if self._some and _TEXTS in self._parts:
            self._texts = dict(_rich_texts(self._parts[_TEXTS]))
        self._files = _files(self._parts)

    def on(self, sheet: str) -> Struck:
        """Return what is struck on the sheet of this name."""
        content = self._parts.get(self._files.get(sheet, ""), b"")
        if not (self._some or b"strike" in content):
            return NOTHING
        found = Gathered()
        row = -1
        for element, _ in pieces(content, ("row",)):
            told = attribute(element, "r") or ""
            row = int(told) - 1 if told.isdecimal() else row + 1
            self._row(element, row, found)
        return found.told()

    def _row(self, element: Element, row: int, found: Gathered) -> None:
        column = -1
        for cell in element:
            if local(cell.tag) != "c":
                continue
            spot = spot_of(attribute(cell, "r") or "")
            row, column = spot or (row, column + 1)
            found.add([(row, column)], self._runs(cell))

    def _runs(self, cell: Element) -> Iterator[Run]:
        """Yield the runs of a cell; a number, or a text of one kind, is a single run."""
        style, kind = attribute(cell, "s") or "0", attribute(cell, "t")
        own = style.isdecimal() and int(style) in self._styles
        value = _child(cell, "v")
        said = "" if value is None else value.text or ""
        rich: Text = ()
        if kind == "s" and said.strip().isdecimal():
            rich = self._texts.get(int(said), ())
        elif kind == "inlineStr" and (inside := _child(cell, "is")) is not None:
            rich = tuple(_text(inside))
        elif value is None:
            return
        if not rich:
            yield said, own
        for text, struck in rich:
            yield text, own if struck is None else struck

    def by_rule(self) -> bool:
        """Tell whether a rule for the looks of cells may strike some, too."""
        if b"conditionalFormatting" not in b"".join(
            content for name, content in self._parts.items() if "worksheets/" in name
        ):
            return False
        looks = pieces(self._parts.get(_STYLES, b"<none/>"), ("dxf",))
        return any(_strikes(font) for dxf, _ in looks for font in dxf if local(font.tag) == "font")


def _child(element: Element, name: str) -> Element | None:
    return next((child for child in element if local(child.tag) == name), None)


def _strikes(looks: Element) -> bool:
    mark = _child(looks, "strike")
    return mark is not None and is_on(attribute(mark, "val"))


def _struck_styles(content: bytes) -> set[int]:
    """Return the numbers of the looks of cells that strike them."""
    if b"strike" not in content:
        return set()
    fonts: list[bool] = []
    styles: set[int] = set()
    count = 0
    for element, around in pieces(content, ("font", "xf")):
        lies_in = local(around[-1].tag) if around else ""
        if lies_in == "fonts":
            fonts.append(_strikes(element))
        elif lies_in == "cellXfs":
            font = attribute(element, "fontId") or "0"
            if font.isdecimal() and int(font) < len(fonts) and fonts[int(font)]:
                styles.add(count)
            count += 1
    return styles


def _rich_texts(content: bytes) -> Iterator[tuple[int, Text]]:
    """Yield the number and the runs of every shared text that has runs."""
    for number, (element, _) in enumerate(pieces(content, ("si",))):
        runs = tuple(_text(element))
        if any(struck is not None for _, struck in runs):
            yield number, runs


def _text(element: Element) -> Iterator[tuple[str, bool | None]]:
    """Yield the runs of a text; what tells how it is spoken is left out."""
    for child in element:
        if local(child.tag) == "t":
            yield child.text or "", None
        elif local(child.tag) == "r":
            words, looks = _child(child, "t"), _child(child, "rPr")
            struck = None if looks is None else _strikes(looks)
            yield "" if words is None else words.text or "", struck


def _files(parts: Mapping[str, bytes]) -> dict[str, str]:
    """Return the part of every sheet by the sheet's name."""
    links = {
        attribute(link, "Id"): attribute(link, "Target") or ""
        for link, _ in pieces(parts.get(_LINKS, b"<none/>"), ("Relationship",))
    }
    return {
        attribute(sheet, "name") or "": _part(links.get(attribute(sheet, "id"), ""))
        for sheet, _ in pieces(parts.get(_BOOK, b"<none/>"), ("sheet",))
    }


def _part(target: str) -> str:
    """Return the name of the part that a link of the workbook leads to."""
    whole = target.lstrip("/") if target.startswith(("/", "xl/")) else f"xl/{target}"
    return normpath(whole).lower()
