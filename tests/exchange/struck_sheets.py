"""Spreadsheets with numbers struck through, by two writers and in both formats, made up here."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import openpyxl
import xlsxwriter
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.styles import Font

Runs = Sequence[tuple[str, bool]]
Cell = Any
"""A plain value, ``Line(value)`` struck as a whole, or runs of a text."""


class Line:
    """A value with a line through its cell."""

    def __init__(self, value: str | float) -> None:
        self.value = value


def shared(rows: Sequence[Sequence[Cell]], name: str = "Floor") -> bytes:
    """Return an XLSX file with its texts in the table that the sheets share."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        page, line = book.add_worksheet(name), book.add_format({"font_strikeout": True})
        plain = book.add_format({"italic": True})
        for i, row in enumerate(rows):
            for j, cell in enumerate(row):
                if isinstance(cell, Line):
                    page.write(i, j, cell.value, line)
                elif isinstance(cell, list):
                    parts = [p for text, struck in cell for p in (line if struck else plain, text)]
                    page.write_rich_string(i, j, *parts)
                else:
                    page.write(i, j, cell)
    return out.getvalue()


def inline(rows: Sequence[Sequence[Cell]], name: str = "Floor") -> bytes:
    """Return an XLSX file by another writer, with its rich texts within the cells."""
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = name
    for i, row in enumerate(rows, 1):
        for j, cell in enumerate(row, 1):
            into = page.cell(i, j)
            if isinstance(cell, Line):
                into.value, into.font = cell.value, Font(strike=True)
            elif isinstance(cell, list):
                struck = InlineFont(strike=True)
                into.value = CellRichText(*(TextBlock(struck, t) if s else t for t, s in cell))
            else:
                into.value = cell
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


_NAMES = {
    name: f"urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"
    for name in ("office", "table", "text", "style")
}
_STYLES = (
    '<style:style style:name="line" style:family="table-cell"><style:text-properties '
    'style:text-line-through-style="solid" style:text-line-through-type="single"/></style:style>'
    '<style:style style:name="child" style:family="table-cell" style:parent-style-name="line"/>'
    '<style:style style:name="run" style:family="text"><style:text-properties '
    'style:text-line-through-type="single"/></style:style>'
    '<style:style style:name="bare" style:family="text"><style:text-properties '
    'style:text-line-through-style="none"/></style:style>'
)


def ods(rows: Sequence[Sequence[Cell]], name: str = "Floor", columns: str = "") -> bytes:
    """Return an ODS file; ``columns`` is what it says of them."""
    spaces = "".join(f' xmlns:{short}="{whole}"' for short, whole in _NAMES.items())
    body = "".join(
        f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>" for row in rows
    )
    content = (
        f"<office:document-content{spaces}><office:automatic-styles>{_STYLES}"
        "</office:automatic-styles><office:body><office:spreadsheet>"
        f'<table:table table:name="{escape(name)}">{columns}{body}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        "</manifest:manifest>"
    )
    return packed({"mimetype": kind, "META-INF/manifest.xml": manifest, "content.xml": content})


def _ods_cell(cell: Cell) -> str:
    looks = ' table:style-name="child"' if isinstance(cell, Line) else ""
    value = cell.value if isinstance(cell, Line) else cell
    if isinstance(value, list):
        names = {True: "run", False: "bare"}
        runs = "".join(
            f'<text:span text:style-name="{names[s]}">{escape(t)}</text:span>' for t, s in value
        )
        kind = ' office:value-type="string"'
        return f"<table:table-cell{looks}{kind}><text:p>{runs}</text:p></table:table-cell>"
    if isinstance(value, str):
        kind = ' office:value-type="string"'
        said = f"<text:p>{escape(value)}</text:p>"
        return f"<table:table-cell{looks}{kind}>{said}</table:table-cell>"
    kind = f' office:value-type="float" office:value="{value}"'
    return f"<table:table-cell{looks}{kind}/>"


def packed(parts: Mapping[str, str | bytes]) -> bytes:
    """Return an archive of parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def changed(data: bytes, part: str, old: str, new: str) -> bytes:
    """Return an archive with a text of one part replaced, which must be there."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    assert old.encode() in parts[part]
    parts[part] = parts[part].replace(old.encode(), new.encode())
    return packed(parts)
