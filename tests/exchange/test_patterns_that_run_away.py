"""Small files that made a search of text go on for ever: each is answered at once.

A search of text holds the whole process while it runs, so that one such file would stop a
server for everybody.
"""

import signal
from collections.abc import Iterator

import pytest
from hostile_uploads import SHEET, packed, spreadsheet

from levelbook.errors import DocumentError
from levelbook.exchange.incoming import plan_import

MANY = 200_000
SECONDS = 15
"""Of processor time; each takes a small part of one where nothing runs away."""
GOOD = spreadsheet()
END = b"</sheetData>"
TITLE = "station,reading {}\n1,0.5\n2,0.6\n"
CELL = "station,reading\n1,{}\n2,0.6\n"


@pytest.fixture(autouse=True)
def _bounded() -> Iterator[None]:
    """Let nothing take more than some processor time."""

    def stop(*_: object) -> None:
        raise AssertionError("this goes on and on")

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, SECONDS)
    yield
    signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    signal.signal(signal.SIGVTALRM, before)


def sheet(old: bytes, new: bytes) -> bytes:
    """Return a spreadsheet with something put into its sheet."""
    assert old in GOOD[SHEET]
    return packed(GOOD | {SHEET: GOOD[SHEET].replace(old, new)})


def ods(attribute: str, inside: str = "") -> bytes:
    """Return an ODS file of one cell."""
    spaces = "".join(
        f' xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "style", "table", "text")
    )
    struck = '<style:text-properties style:text-line-through-style="solid"/>'
    return packed(
        {
            "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
            "content.xml": (
                f"<office:document-content{spaces}><style:style style:name='s' "
                f"style:family='text'>{struck}</style:style><office:body><office:spreadsheet>"
                f'<table:table table:name="A"><table:table-row><table:table-cell {attribute}>'
                f"{inside}</table:table-cell></table:table-row></table:table>"
                "</office:spreadsheet></office:body></office:document-content>"
            ).encode(),
        }
    )


FORMULA = b"<f>%s</f><v>0.5</v>"
BARE = b'<row r="9"><c r="A9"><f>A1</f>%s<x/></c></row></sheetData>'
SPANS = "<text:p>" + "<text:span>" * 20_000 + "</text:span>" * 20_000 + "</text:p>"
FILES = {
    "a formula of one word": ("a.xlsx", sheet(b"<v>0.5</v>", FORMULA % (b"A" * MANY))),
    "a formula of bars": ("b.xlsx", sheet(b"<v>0.5</v>", FORMULA % (b"a|" * MANY))),
    "formulas that do not end": ("c.xlsx", sheet(END, b"<f" * MANY + END)),
    "cells that do not end": ("d.xlsx", sheet(END, b"<c " * MANY + END)),
    "rows that do not end": ("e.xlsx", sheet(END, b"<row " * MANY + END)),
    "blanks after a formula": ("f.xlsx", sheet(END, BARE % (b" " * MANY))),
    "another part": ("g.xlsx", packed(GOOD | {"xl/x.xml": b"<f" * MANY})),
    "a formula of ODS": ("h.ods", ods(f'table:formula="{"A" * MANY}"')),
    "words within words": ("i.ods", ods('office:value-type="string"', SPANS)),
    "a title of digits": ("j.csv", TITLE.format("1" * 130_000).encode()),
    "a bracket that does not close": ("k.csv", CELL.format("(" + "1" * 130_000).encode()),
    "feet of many digits": ("l.csv", CELL.format("1" * 5_000 + "'6\"").encode()),
    "a fraction of many digits": ("m.csv", CELL.format("7" * 5_000 + "/" + "3" * 5_000).encode()),
    "remarks without words": ("n.dxf", (b"999" + b"\n" * 12) * 250 + b"x"),
    "transforms that do not end": (
        "o.svg",
        b'<svg><rect width="9" height="9" transform="' + b"matrix(" * MANY + b'"/></svg>',
    ),
    "a place out of all bounds": (
        "p.svg",
        b'<svg><rect width="9" height="9" transform="scale(1e308) scale(1e308)"/></svg>',
    ),
}


@pytest.mark.parametrize("what", FILES)
def test_it_is_answered_at_once(what: str, house_a: bytes) -> None:
    """It is taken as far as it can be, or refused in words; no error of the program's."""
    name, data = FILES[what]
    drawn = name.endswith((".svg", ".dxf"))
    into = plan_import(house_a, "house.json").book if drawn else None
    answers = {"scale": "1"} if name.endswith(".svg") else {}
    try:
        told = plan_import(data, name, answers, into=into).kind
    except DocumentError as error:
        told = " ".join(fault.remedy for fault in error.faults)
    assert told


@pytest.mark.parametrize(
    ("begin", "kind"),
    [
        (b"0\nSECTION\n", True),
        (b"  0\r\nSECTION\r\n  2\r\nENTITIES\r\n", True),
        (b"999\nmade by hand\n  0\nSECTION\n", True),
        (b"\n\n999\n\n  0\n\nSECTION\n", True),
        (b"999\n0\n999\nSECTION\n0\nSECTION\n", True),
        (b"AutoCAD Binary DXF\r\n\x1a\x00", True),
        (b"999\n0\nSECTION\n", False),
        (b"0,SECTION\n", False),
        (b"0\n", False),
        (b"999\n", False),
        (b"", False),
    ],
)
def test_a_drawing_is_known_by_its_beginning(begin: bytes, kind: bool) -> None:
    """Code 0 and a section come first, but for remarks, each a code 999 and a line."""
    from levelbook.exchange.outline_dxf import is_dxf

    assert is_dxf(begin) is kind


@pytest.mark.parametrize(
    ("formula", "linked"),
    [
        ("cmd|'/c calc'!A0", True),
        ("1+cmd|'/c a | b'!A0", True),
        ("Excel|[1.xls]A!R1C1", True),
        ("'[2]Old house'!B2", True),
        ("CONCATENATE(A1,&quot;a|b&quot;)", False),
        ("A1&amp;&quot;|&quot;&amp;Other!B1", False),
        ("SUM(Table1[reading])", False),
    ],
)
def test_bars_and_brackets_are_told_from_links(formula: str, linked: bool) -> None:
    """A bar in a text and a column of a table are no link; another workbook or program is."""
    data = sheet(b"<v>0.5</v>", FORMULA % formula.encode())
    if linked:
        with pytest.raises(DocumentError) as told:
            plan_import(data, "a.xlsx")
        assert told.value.faults[0].code == "external"
    else:
        assert plan_import(data, "a.xlsx").columns
