"""Files that would harm whoever opens them are refused, quickly and in words."""

import struct
import tracemalloc
import zlib

import pytest
from hostile_uploads import packed, spreadsheet

from levelbook.errors import DocumentError
from levelbook.exchange.incoming import plan_import

CONTENT = "[Content_Types].xml"
ODS = (
    '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:xlink="http://www.w3.org/1999/xlink"><office:body><office:spreadsheet>'
    '<table:table table:name="Floor">{}</table:table>'
    "</office:spreadsheet></office:body></office:document-content>"
)


def code_of(data: bytes, name: str = "table.xlsx") -> str:
    """Return the code with which a file is refused, in little memory."""
    tracemalloc.start()
    try:
        with pytest.raises(DocumentError) as told:
            plan_import(data, name)
        assert tracemalloc.get_traced_memory()[1] < 400_000_000
    finally:
        tracemalloc.stop()
    (fault,) = told.value.faults
    assert fault.remedy
    return fault.code


def test_the_good_one_is_good() -> None:
    """What the others are made from comes in."""
    assert plan_import(packed(spreadsheet()), "table.xlsx").columns


@pytest.mark.parametrize(
    "name",
    ["../evil.xml", "/etc/evil.xml", "xl/../../evil.xml", "..\\evil.xml", "C:/evil.xml",
     "xl\\evil.xml"],
)  # fmt: skip
def test_paths_outside(name: str) -> None:
    """A part that names a place outside the archive."""
    assert code_of(packed(spreadsheet() | {name: b"<a/>"})) == "zip-path"


def test_a_part_twice() -> None:
    """Two parts of one name, of which one could be looked at and the other read."""
    parts = [*spreadsheet().items(), ("XL/worksheets/sheet1.xml", b"<a/>")]
    assert code_of(packed(parts)) == "zip-twice"


def test_a_bomb() -> None:
    """A few hundred kilobytes that unpack to 200 MB."""
    bomb = packed(spreadsheet() | {"xl/media/image1.png": bytes(200_000_000)})
    assert len(bomb) < 500_000
    assert code_of(bomb) == "zip-bomb"


def test_a_bomb_that_lies_about_its_size() -> None:
    """The size in the directory is no promise: what unpacks beyond it is refused as well."""
    data = packed({"xl/workbook.xml": bytes(5_000_000)})
    small = struct.pack("<I", 100)
    lying = data.replace(struct.pack("<I", 5_000_000), small)
    assert lying != data
    assert code_of(lying) == "zip-damaged"


def test_too_many_parts() -> None:
    """More parts than any spreadsheet has."""
    assert code_of(packed({f"xl/{i}.xml": b"" for i in range(2_100)})) == "zip-many"


ENTITIES = b"""<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]><worksheet>&b;</worksheet>"""
OUTSIDE = (
    b"""<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a SYSTEM "file:///etc/passwd">]><b>&a;</b>"""
)


@pytest.mark.parametrize("content", [ENTITIES, OUTSIDE, ENTITIES.replace(b"DOCTYPE", b"doctype")])
@pytest.mark.parametrize("part", ["xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", CONTENT])
def test_entities(part: str, content: bytes) -> None:
    """Entities that grow, or fetch a file, in any part of a spreadsheet."""
    assert code_of(packed(spreadsheet() | {part: content})) == "xml"


def test_entities_in_another_encoding() -> None:
    """Nor can they hide in UTF-16."""
    hidden = "\ufeff" + ENTITIES.decode()
    parts = spreadsheet() | {"xl/worksheets/sheet1.xml": hidden.encode("utf-16-le")}
    assert code_of(packed(parts)) == "xml"


@pytest.mark.parametrize(
    "name",
    ["xl/externalLinks/externalLink1.xml", "xl/connections.xml", "xl/queryTables/queryTable1.xml"],
)
def test_links_to_elsewhere(name: str) -> None:
    """A spreadsheet that takes cells from another file or a server."""
    assert code_of(packed(spreadsheet() | {name: b"<a/>"})) == "external"


@pytest.mark.parametrize(
    "formula", ["[1]Sheet1!A1", "'[2]Old house'!B2+1", 'WEBSERVICE("http://x.invalid")', "DDE(1,2)"]
)
def test_formulas_that_fetch(formula: str) -> None:
    """A formula whose stored result came from elsewhere."""
    parts = spreadsheet()
    sheet = parts["xl/worksheets/sheet1.xml"]
    made = sheet.replace(b"<v>0.5</v>", f"<f>{formula}</f><v>0.5</v>".encode())
    assert made != sheet
    parts["xl/worksheets/sheet1.xml"] = made
    assert code_of(packed(parts)) == "external"


def test_a_column_of_a_table_is_no_link() -> None:
    """``Table1[2024]`` names a column of this very sheet."""
    parts = spreadsheet()
    sheet = parts["xl/worksheets/sheet1.xml"]
    parts["xl/worksheets/sheet1.xml"] = sheet.replace(
        b"<v>0.5</v>", b"<f>SUM(Table1[2024])</f><v>0.5</v>"
    )
    assert plan_import(packed(parts), "table.xlsx").columns


def test_a_cell_in_the_last_corner() -> None:
    """One cell far out would be laid out over 17 thousand million."""
    parts = spreadsheet()
    sheet = parts["xl/worksheets/sheet1.xml"]
    far = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
    parts["xl/worksheets/sheet1.xml"] = sheet.replace(b"</sheetData>", far)
    assert code_of(packed(parts)) == "table"


def ods(rows: str) -> bytes:
    """Return an ODS file with these rows."""
    mime = b"application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        b'<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        b'<manifest:file-entry manifest:full-path="/" manifest:media-type="' + mime + b'"/>'
        b"</manifest:manifest>"
    )
    content = ODS.format(rows).encode()
    parts = {"mimetype": mime, "META-INF/manifest.xml": manifest, "content.xml": content}
    return packed(parts)


CELL = '<table:table-cell office:value-type="float" office:value="1"{}/>'


def test_repeated_cells_without_end() -> None:
    """A million rows of sixteen thousand cells, written in one line."""
    row = '<table:table-row table:number-rows-repeated="1048576">{}</table:table-row>'
    cells = CELL.format(' table:number-columns-repeated="16384"')
    assert code_of(ods(row.format(cells)), "table.ods") == "table"


@pytest.mark.parametrize(
    "rows",
    [
        '<table:table-source xlink:href="file:///x.ods"/>',
        "<table:table-row><table:table-cell table:formula=\"of:='file:///x.ods'#$A.A1\" "
        'office:value-type="float" office:value="1"/></table:table-row>',
        "<table:table-row><office:dde-source/></table:table-row>",
    ],
)
def test_links_in_ods(rows: str) -> None:
    """The same in the other format."""
    assert code_of(ods(rows), "table.ods") == "external"


def test_an_ods_comes_in() -> None:
    """A plain ODS is read, with empty rows and columns repeated to the end of the sheet."""
    head = "".join(
        f'<table:table-cell office:value-type="string"><text:p>{t}</text:p></table:table-cell>'
        for t in ("station", "x (ft)", "y (ft)", "reading (in)")
    )
    row = "".join(
        f'<table:table-cell office:value-type="float" office:value="{v}"/>' for v in (7, 1, 2, -0.5)
    )
    rest = '<table:table-cell table:number-columns-repeated="16380"/>'
    end = f'<table:table-row table:number-rows-repeated="1048570">{rest}</table:table-row>'
    rows = (
        f"<table:table-row>{head}{rest}</table:table-row><table:table-row>{row}</table:table-row>"
    )
    plan = plan_import(ods(rows + end), "table.ods")
    assert plan.rows == (("", "7", "", "-0.5", "", "", "1, 2"),)


@pytest.mark.parametrize("cut", [30, 200, -40, -1])
def test_cut_off(cut: int) -> None:
    """A file that was not sent whole."""
    assert code_of(packed(spreadsheet())[:cut]) in ("zip-damaged", "table")


def test_damaged_inside() -> None:
    """A part whose checksum does not hold."""
    data = bytearray(packed(spreadsheet()))
    at = data.find(b"xl/worksheets/sheet1.xml") + 60
    data[at] ^= 0xFF
    assert code_of(bytes(data)) in ("zip-damaged", "table")


def test_a_password() -> None:
    """A part that is marked as encrypted."""
    data = bytearray(packed({"xl/workbook.xml": b"<a/>"}))
    data[6] |= 1
    at = data.find(b"PK\x01\x02")
    data[at + 8] |= 1
    assert code_of(bytes(data)) == "zip-encrypted"


def test_a_package_with_large_photographs(house_a: bytes) -> None:
    """A package may be large: its photographs are not unpacked to find the book."""
    data = packed([("level-book.json", house_a), ("photos/a.jpg", bytes(160_000_000))])
    assert plan_import(data, "package.zip").book is not None


def test_a_package_with_a_path_outside(house_a: bytes) -> None:
    """The same holds for a package that carries a book."""
    data = packed([("level-book.json", house_a), ("../../evil", b"x")])
    assert code_of(data, "package.zip") == "zip-path"


@pytest.mark.parametrize(
    "text", ["{" * 5000, '{"a":' * 3000 + "1" + "}" * 3000, '{"type": "Feature"']
)
def test_text_that_never_ends(text: str) -> None:
    """Nesting that would exhaust the stack, and JSON cut off."""
    assert code_of(text.encode(), "book.json")


def test_a_text_of_zeros() -> None:
    """Packed or not, 40 MB of nothing are no table."""
    assert code_of(bytes(40_000_000), "table.csv") == "too-large"
    assert code_of(zlib.compress(bytes(1000)), "table.csv") in ("encoding", "import", "table")
