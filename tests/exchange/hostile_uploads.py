"""Files made to harm whoever opens them, by name: what each is called, its bytes, its answer.

The status is what the app's server must answer; none of them may take long, or much memory.
"""

import io
import json
import zipfile
import zlib
from collections.abc import Iterator

import xlsxwriter

SHEET = "xl/worksheets/sheet1.xml"
Hostile = tuple[str, str, bytes, int]
"""What it is, the file's name, its bytes, the status it is answered with."""


def spreadsheet() -> dict[str, bytes]:
    """Return the parts of a good spreadsheet."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        page = book.add_worksheet("Floor")
        rows = (["station", "x (ft)", "y (ft)", "reading (in)"], ["1", 0, 0, 0.5], ["2", 5, 0, 0.1])
        for i, row in enumerate(rows):
            page.write_row(i, 0, row)
    with zipfile.ZipFile(out) as file:
        return {name: file.read(name) for name in file.namelist()}


def packed(parts: dict[str, bytes] | list[tuple[str, bytes]]) -> bytes:
    """Return a ZIP archive of parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts.items() if isinstance(parts, dict) else parts:
            file.writestr(name, content)
    return out.getvalue()


def with_cell(formula: str) -> bytes:
    """Return a spreadsheet with a formula beside a stored result."""
    parts = spreadsheet()
    cell = f"<f>{formula}</f><v>0.5</v>".encode()
    parts[SHEET] = parts[SHEET].replace(b"<v>0.5</v>", cell)
    return packed(parts)


def archives() -> Iterator[Hostile]:
    """Yield archives that unpack without end, name paths, or link."""
    good = spreadsheet()
    entity = b'<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "aaaaaaaaaa">]><b>&a;</b>'
    yield "a path outside", "a.xlsx", packed(good | {"../../evil.xml": b"<a/>"}), 422
    yield "a bomb", "b.xlsx", packed(good | {"xl/media/a.png": bytes(400_000_000)}), 413
    many = {f"xl/media/{i}.bin": bytes(9_000_000) for i in range(30)}
    yield "a bomb in pieces", "c.xlsx", packed(good | many), 413
    yield "just within", "d.xlsx", packed(good | {"xl/media/a.png": bytes(49_000_000)}), 200
    yield "parts without end", "e.xlsx", packed({f"xl/{i}.xml": b"" for i in range(9_000)}), 422
    yield "entities", "f.xlsx", packed(good | {"xl/sharedStrings.xml": entity}), 422
    yield "a link", "g.xlsx", packed(good | {"xl/externalLinks/externalLink1.xml": b"<a/>"}), 422
    yield "a formula that calls", "h.xlsx", with_cell('WEBSERVICE("http://x.invalid")'), 422
    yield "DDE", "i.xlsx", with_cell("cmd|'/c calc'!A0"), 422
    far = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
    parts = good | {SHEET: good[SHEET].replace(b"</sheetData>", far)}
    yield "the last corner", "j.xlsx", packed(parts), 422
    nested = packed({"a.zip": packed({"b.zip": packed({"c.bin": bytes(9_000_000)})})})
    yield "archives in archives", "k.zip", nested, 422
    yield "a huge record", "l.zip", packed({"level-book.json": b'{"a":' * 12_000_000}), 413


def drawings() -> Iterator[Hostile]:
    """Yield drawings that expand, nest or run on."""
    lol = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 10))
    bomb = f'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY l0 "lol">{lol}]><svg>&l9;</svg>'
    yield "SVG entities", "a.svg", bomb.encode(), 422
    outside = '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg>&a;</svg>'
    yield "SVG that fetches", "b.svg", outside.encode(), 422
    yield "SVG nested", "c.svg", b"<svg>" + b"<g>" * 100_000 + b"</g>" * 100_000 + b"</svg>", 422
    path = "M0 0 " + "L1 1 " * 500_000 + "z"
    yield "SVG path", "d.svg", f'<svg><path d="{path}"/></svg>'.encode(), 422
    line = "  0\nLINE\n  8\n0\n 10\n0\n 20\n0\n 11\n1\n 21\n1\n"
    cut = "  0\nSECTION\n  2\nENTITIES\n" + line * 9
    yield "DXF cut off", "e.dxf", cut.encode(), 422
    lines = line * 60_000
    long = f"  0\nSECTION\n  2\nENTITIES\n{lines}  0\nENDSEC\n  0\nEOF\n"
    few = lines[: len(lines) // 13]
    dense = f"  0\nSECTION\n  2\nENTITIES\n{few}  0\nENDSEC\n  0\nEOF\n"
    yield "DXF of the same lines", "f.dxf", dense.encode(), 422
    yield "DXF of lines", "f.dxf", long.encode(), 422
    deep = '{"type":"Polygon","coordinates":' + "[" * 9_000 + "]" * 9_000 + "}"
    yield "GeoJSON nested", "g.geojson", deep.encode(), 422
    ring = [[i % 7, i % 5] for i in range(400_000)]
    many = {"type": "Polygon", "coordinates": [ring]}
    yield "GeoJSON corners", "h.geojson", json.dumps(many).encode(), 422
    square = [[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]]
    floors = {"type": "MultiPolygon", "coordinates": [[square]] * 20_000}
    yield "GeoJSON floors", "i.geojson", json.dumps(floors).encode(), 422


def others() -> Iterator[Hostile]:
    """Yield texts, PDFs and bytes that are not what they seem."""
    yield "zeros", "a.csv", bytes(35_000_000), 413
    yield "one long line", "b.csv", b"1," * 15_000_000, 422
    yield "one long quote", "c.csv", b'"' + b"a" * 20_000_000, 422
    yield "rows without end", "d.csv", b"1,2,3\n" * 4_000_000, 422
    head = b"station,x (ft),y (ft),reading (in)\n1,0,0,"
    yield "digits without end", "e.csv", head + b"9" * 100_000, 422
    yield "a power", "f.csv", head + b"1e999\n", 422
    yield "braces", "g.json", b'{"a":' * 200_000, 422
    yield "a PDF", "h.pdf", b"%PDF-1.7\n" + b"1 0 obj\n<<>>\nendobj\n" * 100_000, 422
    yield "packed", "i.gz", zlib.compress(bytes(1_000_000)), 415
    yield "a program", "j.exe", b"MZ" + bytes(range(256)) * 40, 415
    yield "a picture", "k.png", b"\x89PNG\r\n\x1a\n" + bytes(5_000), 415


def every() -> list[Hostile]:
    """Return all of them."""
    return [*archives(), *drawings(), *others()]
