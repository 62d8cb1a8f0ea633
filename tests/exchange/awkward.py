"""Forty and more awkward tables, made up here, each with what must come of it.

``due`` are the readings that must be taken, exactly, by station, in the unit of the book;
``asks`` the questions that must be put beyond those that every table leaves (day, sense,
scatter, outline); ``left`` how many things must be told as not taken; ``refused`` the code
with which the whole file is refused. Anything else is a silent wrong number.
"""

import datetime as dt
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import openpyxl
import xlsxwriter

ALWAYS = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "outline": "rectangle"}
FT_IN = {"unit.plan": "ft", "unit.level": "in"}
HEAD = "station,x (ft),y (ft),reading (in)\n"
MM = "Punkt;x (m);y (m);Ablesung (mm)\n"


@dataclass(frozen=True)
class Case:
    """One table, the answers it needs, and what must come of it."""

    name: str
    data: bytes
    due: Mapping[str, Fraction] = field(default_factory=dict)
    asks: frozenset[str] = frozenset()
    answers: Mapping[str, str] = field(default_factory=dict)
    left: int = 0
    refused: str | None = None
    unit: str = "in"
    finishes: frozenset[str] | None = None


def text(value: str, encoding: str = "utf-8") -> bytes:
    """Return a text's bytes."""
    return value.encode(encoding)


def numbers(**values: str | int) -> dict[str, Fraction]:
    """Return exact readings by station; ``p1="1/2"`` is station 1."""
    return {name.removeprefix("p"): Fraction(value) for name, value in values.items()}


def sheet(*rows: list[Any], then: Callable[[Any, Any], None] | None = None) -> bytes:
    """Return an XLSX file with these rows; ``then`` gets the workbook and the sheet."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False}) as book:
        page = book.add_worksheet("Floor")
        for i, row in enumerate(rows):
            for j, cell in enumerate(row):
                if isinstance(cell, dt.date):
                    page.write_datetime(i, j, cell, book.add_format({"num_format": "d-mmm"}))
                elif cell is not None:
                    page.write(i, j, cell)
        if then:
            then(book, page)
    return out.getvalue()


def plain(*rows: list[Any]) -> bytes:
    """Return an XLSX file by another writer, formulas without stored results."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


TITLES = ["station", "x (ft)", "y (ft)", "reading (in)"]
ROWS = [["1", 0, 0, 0.5], ["2", 5, 0, -0.25], ["3", 5, 5, 0.1]]
TWO = numbers(p1="1/2", p2="-1/4")
DUE = numbers(p1="1/2", p2="-1/4", p3="1/10")


def _merged(book: Any, page: Any) -> None:
    page.merge_range(0, 1, 0, 2, "Place (ft)")


def _hidden(book: Any, page: Any) -> None:
    other = book.add_worksheet("Old")
    for i, row in enumerate([TITLES, ["1", 0, 0, 9.9], ["2", 5, 0, 8.8]]):
        other.write_row(i, 0, row)
    other.hide()


def _second(book: Any, page: Any) -> None:
    other = book.add_worksheet("Garage")
    for i, row in enumerate([TITLES, ["1", 0, 0, 9.9], ["2", 5, 0, 8.8]]):
        other.write_row(i, 0, row)


def _formulas(book: Any, page: Any) -> None:
    page.write_formula(1, 3, "=1/4+1/4", None, 0.5)


CASES = [
    Case("plain", text(HEAD + "1,0,0,0.5\n2,5,0,-0.25\n3,5,5,0.1\n"), DUE),
    Case("mark of order", b"\xef\xbb\xbf" + text(HEAD + "1,0,0,0.5\n2,5,0,-0.25\n"), TWO),
    Case("tabs", text((HEAD + "1,0,0,0.5\n2,5,0,-0.25\n3,5,5,0.1\n").replace(",", "\t")), DUE),
    Case("bars", text((HEAD + "1,0,0,0.5\n2,5,0,-0.25\n").replace(",", "|")),
         TWO),
    Case("windows ends of lines", text((HEAD + "1,0,0,0.5\n2,5,0,-0.25\n").replace("\n", "\r\n")),
         TWO),
    Case("old mac ends of lines", text((HEAD + "1,0,0,0.5\n2,5,0,-0.25\n").replace("\n", "\r")),
         TWO),
    Case("utf-16", text("\ufeff" + HEAD + "1,0,0,0.5\n2,5,0,-0.25\n", "utf-16-le"),
         TWO),
    Case("utf-16 without its mark", text(HEAD + "1,0,0,0.5\n2,5,0,-0.25\n", "utf-16-le"),
         TWO),
    Case("european decimals", text(MM + "1;0,0;0,0;12,5\n2;1,5;0,0;-3,25\n"),
         numbers(p1="25/2", p2="-13/4"), unit="mm"),
    Case("european decimals, wrong encoding", text(
        "Punkt;x (m);y (m);Höhe (mm)\n1;0,0;0,0;12,5\n2;1,5;0,0;–3,25\n", "cp1252"),
         numbers(p1="25/2", p2="-13/4"), unit="mm"),
    Case("unicode minus", text(HEAD + "1,0,0,−0.5\n2,5,0,–0.25\n3,5,5,－0.1\n"),
         numbers(p1="-1/2", p2="-1/4", p3="-1/10")),
    Case("inches with quotes", text(
        'station,x (ft),y (ft),reading\n1,0,0,"1 3/8"""\n2,5,0,-5/8"\n'),
         numbers(p1="11/8", p2="-5/8")),
    Case("inches with curly quotes", text(
        "station,x (ft),y (ft),reading\n1,0,0,0.5”\n2,5,0,−0.25″\n"),
         TWO),
    Case("feet and inches", text(
        "station;x;y;reading (in)\n1;0'0\";2'6\";0.5\n2;12' 3 1/2\";2'6\";-0.25\n"),
         TWO),
    Case("readings in feet and inches", text(
        "station;x (ft);y (ft);rod\n1;0;0;4' 3 1/2\"\n2;5;0;4'-2 1/4\"\n"),
         numbers(p1="103/2", p2="201/4")),
    Case("decimal feet", text("station,x (ft),y (ft),elevation (ft)\n1,0,0,100.05\n2,5,0,100.01\n"),
         {"1": Fraction("100.05") * 12, "2": Fraction("100.01") * 12}),
    Case("centimetres", text("station,x (m),y (m),reading (cm)\n1,0,0,1.25\n2,5,0,-0.3\n"),
         numbers(p1="25/2", p2="-3"), unit="mm"),
    Case("metres", text("station,x (m),y (m),elevation (m)\n1,0,0,1.0125\n2,5,0,0.9\n"),
         numbers(p1="2025/2", p2="900"), unit="mm"),
    Case("fraction signs", text(HEAD + "1,0,0,½\n2,5,0,-1⅝\n3,5,5,2 ¼\n"),
         numbers(p1="1/2", p2="-13/8", p3="9/4")),
    Case("hyphen in mixed numbers", text(HEAD + "1,0,0,1-3/8\n2,5,0,-2-1/4\n"),
         numbers(p1="11/8", p2="-9/4")),
    Case("blank rows", text(
        "\n\n" + HEAD + "\n1,0,0,0.5\n\n\n2,5,0,-0.25\n\n,,,\n3,5,5,0.1\n\n"), DUE),
    Case("a title above", text(
        "Survey of an invented house\n\n" + HEAD + "1,0,0,0.5\n2,5,0,-0.25\n"),
         TWO),
    Case("two rows of titles", text(
        "Point,Place,,Reading\nno,x (ft),y (ft),in\n1,0,0,0.5\n2,5,0,-0.25\n"),
         TWO),
    Case("merged titles", sheet(["station", None, None, "reading (in)"],
                                [None, "x", "y", None], *ROWS, then=_merged), DUE),
    Case("notes beside numbers", text(
        HEAD + "1,0,0,0.5 by door\n2,5,0,-0.25*\n3,5,5,0.1 (room 2)\n"), DUE),
    Case("finishes beside numbers", text(
        HEAD + "1,0,0,0.5 c\n2,5,0,-0.25 c\n3,5,5,0.1 t\n4,0,5,0.1 t\n"),
         DUE | numbers(p4="1/10"), asks=frozenset({"marks"}), answers={"marks": "finish"},
         finishes=frozenset({"c", "t"})),
    Case("words in place of a number", text(HEAD + "1,0,0,0.5\n2,5,0,no access\n3,5,5,0.1\n"),
         numbers(p1="1/2", p3="1/10"), left=1),
    Case("two numbers in a cell", text(HEAD + "1,0,0,0.5\n2,5,0,0.3 / 0.4\n3,5,5,0.1\n"),
         numbers(p1="1/2", p3="1/10"), left=1),
    Case("a sign behind the number", text(HEAD + "1,0,0,0.5\n2,5,0,0.25-\n3,5,5,0.1\n"),
         numbers(p1="1/2", p3="1/10"), left=1),
    Case("percent", text(HEAD + "1,0,0,0.5\n2,5,0,5%\n3,5,5,0.1\n"),
         numbers(p1="1/2", p3="1/10"), left=1),
    Case("totals below", text(HEAD + "1,0,0,0.5\n2,5,0,-0.25\n,,,0.25\nMean,,,0.125\n"),
         TWO, left=2),
    Case("brackets", text(HEAD + "1,0,0,0.5\n2,5,0,(0.25)\n"), TWO,
         asks=frozenset({"brackets"}), answers={"brackets": "minus"}),
    Case("brackets set aside", text(HEAD + "1,0,0,0.5\n2,5,0,(0.25)\n3,5,5,0.1\n"),
         numbers(p1="1/2", p3="1/10"), asks=frozenset({"brackets"}),
         answers={"brackets": "leave"}, left=1),
    Case("a comma in doubt", text('station;x (m);y (m);reading (mm)\n1;0;0;1,250\n2;1;0;1,175\n'),
         numbers(p1="5/4", p2="47/40"), asks=frozenset({"decimal"}), answers={"decimal": "comma"},
         unit="mm"),
    Case("a comma not in doubt", text(
        'station;x (m);y (m);reading (mm)\n1;0;0;1,250.5\n2;1;0;1,175\n'),
         numbers(p1="2501/2", p2="1175"), unit="mm"),
    Case("a point in doubt", text('station;x (m);y (m);reading (mm)\n1;0;0;12,5\n2;1;0;1.175\n'),
         numbers(p1="25/2", p2="1175"), asks=frozenset({"decimal"}), answers={"decimal": "comma"},
         unit="mm"),
    Case("decimal comma without quotes", text(
        "station,x (m),y (m),reading (mm)\n1,0,0,1,5\n2,1,0,2,5\n"), refused="table"),
    Case("a quote that does not close", text(HEAD + '1,0,0,0.5\n2,5,0,"0.25\n3,5,5,0.1\n'),
         refused="table"),
    Case("no titles", text("1,0,0,0.5\n2,5,0,-0.25\n3,5,5,0.1\n"), DUE,
         asks=frozenset({"layout", "column.value", "column.station", "column.x", "column.y"}),
         answers={"layout": "table", "column.value": "D", "column.station": "A",
                  "column.x": "B", "column.y": "C", "column.finish": "none"} | FT_IN),
    Case("titles that mean nothing", text("a,b,c,d\n1,0,0,0.5\n2,5,0,-0.25\n"),
         TWO,
         asks=frozenset({"column.value", "column.station", "column.x", "column.y",
                         "column.finish"}),
         answers={"column.value": "D", "column.station": "A", "column.x": "B", "column.y": "C",
                  "column.finish": "none"} | FT_IN),
    Case("two columns of readings", text(
        "station,x (ft),y (ft),reading 1 (in),reading 2 (in)\n1,0,0,0.5,9\n2,5,0,-0.25,9\n"),
         TWO, asks=frozenset({"column.value"}),
         answers={"column.value": "D"}),
    Case("no units", text("station,x,y,reading\n1,0,0,0.5\n2,5,0,-0.25\n"),
         TWO, asks=frozenset({"unit.plan", "unit.level"}), answers=FT_IN),
    Case("units mixed in the cells", text(
        "station,x (ft),y (ft),reading (in)\n1,0,0,0.5\n2,5,0,12.7 mm\n"),
         numbers(p1="1/2", p2="1/2")),
    Case("a station at two places", text(HEAD + "1,0,0,0.5\n2,5,0,-0.25\n1,9,9,0.7\n"),
         TWO, asks=frozenset({"places"}), answers={"places": "leave"},
         left=1),
    Case("a station without a name", text(HEAD + "1,0,0,0.5\n,5,0,-0.25\n3,5,5,0.1\n"),
         {"1": Fraction(1, 2), "p1": Fraction(-1, 4), "3": Fraction(1, 10)}),
    Case("places that are no numbers", text(HEAD + "1,0,0,0.5\n2,hall,0,-0.25\n3,5,5,0.1\n"),
         numbers(p1="1/2", p3="1/10"), left=1),
    Case("a spreadsheet", sheet(TITLES, *ROWS), DUE),
    Case("formulas with results", sheet(TITLES, *ROWS, then=_formulas), DUE),
    Case("formulas without results", plain(TITLES, ["1", 0, 0, "=1/4+1/4"], ["2", 5, 0, -0.25],
                                           ["3", 5, 5, 0.1]),
         numbers(p2="-1/4", p3="1/10"), left=2),
    Case("a hidden sheet", sheet(TITLES, *ROWS, then=_hidden), DUE, left=1),
    Case("two sheets", sheet(TITLES, *ROWS, then=_second), DUE, asks=frozenset({"sheet"}),
         answers={"sheet": "Floor"}, left=1),
    Case("a fraction made a date", sheet(TITLES, ["1", 0, 0, 0.5], ["2", 5, 0, dt.date(2026, 1, 2)],
                                         ["3", 5, 5, 0.1]),
         numbers(p1="1/2", p3="1/10"), left=1),
    Case("noise of computing", sheet(TITLES, ["1", 0, 0, 0.1 + 0.2], ["2", 5, 0, -0.25]),
         numbers(p1="3/10", p2="-1/4")),
    Case("numbers as text", sheet(TITLES, ["1", "0", "0", "0.50"], ["2", "5", "0", "-5/8"]),
         numbers(p1="1/2", p2="-5/8")),
    Case("a table away from the corner", sheet([], [], [None, None, *TITLES],
                                               *[[None, None, *row] for row in ROWS]), DUE),
    Case("powers of ten", text(HEAD + "1,0,0,5e-1\n2,5,0,-2.5E-01\n"),
         TWO),
    Case("a thousand rows too many", text(
        HEAD + "".join(f"{i},{i % 300},{i // 300},0.5\n" for i in range(100_000))),
         refused="too-many"),
    Case("nothing in it", text("\n\n \n"), refused="import"),
    Case("no reading in it", text(HEAD + "1,0,0,\n2,5,0,\n"), refused="import"),
    Case("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(200), refused="picture"),
    Case("an old spreadsheet", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), refused="table"),
    Case("spaces alone", text("station x y reading\n1 0 0 0.5\n2 5 0 -0.25\n"),
         TWO, asks=frozenset({"unit.plan", "unit.level"}), answers=FT_IN),
    Case("separator named", text("sep=;\n" + HEAD.replace(",", ";") + "1;0;0;0.5\n2;5;0;-0.25\n"),
         TWO),
    Case("invisible signs", text(HEAD + "1,0,0,\u200b0.5\u00a0\n2,5,0,\u2212\u20090.25\n"),
         TWO),
    Case("thousands with an apostrophe", text(
        "station,x (m),y (m),reading (mm)\n1,0,0,1'250\n2,1,0,1175\n"), numbers(p2="1175"),
         left=1, unit="mm"),
    Case("thousands with a space", text(
        "station;x (m);y (m);reading (mm)\n1;0;0;1 250\n2;1;0;1175\n"), numbers(p2="1175"),
         left=1, unit="mm"),
    Case("a fraction that lost its space", text(HEAD + "1,0,0,11/2\n2,5,0,-0.25\n"),
         numbers(p2="-1/4"), left=1),
    Case("small raised figures", text(HEAD + "1,0,0,1⁵⁄₈\n2,5,0,5²\n3,5,5,0.1\n"),
         numbers(p3="1/10"), left=2),
    Case("no lengths", text(HEAD + "1,0,0,5°\n2,5,0,0.5 yd\n3,5,5,0.1\n4,1,1,40 µm\n"),
         numbers(p3="1/10"), left=3),
    Case("a spread beside", text(HEAD + "1,0,0,0.5±0.1\n2,5,0,-0.25\n3,1,1,~0.3\n"),
         numbers(p2="-1/4"), left=2),
    Case("a title in eighths", text("station,x (ft),y (ft),reading (1/8 in)\n1,0,0,4\n2,5,0,-2\n"),
         numbers(p1="4", p2="-2"), asks=frozenset({"step.value"}),
         answers={"step.value": "lengths", "unit.level": "in"}),
    Case("counts of eighths", text("station,x (ft),y (ft),reading (1/8 in)\n1,0,0,4\n2,5,0,-2\n"),
         answers={"step.value": "counts", "unit.level": "in"}, refused="table"),
    Case("a title in tenths", text("station,x (ft),y (ft),reading in tenths\n1,0,0,4\n2,5,0,-2\n"),
         numbers(p1="4", p2="-2"), asks=frozenset({"step.value", "unit.level"}),
         answers={"step.value": "lengths", "unit.level": "in"}),
    Case("places in squares", text(
        "station,x (2 ft),y (2 ft),reading (in)\n1,0,0,0.5\n2,5,0,-0.25\n"),
         TWO, asks=frozenset({"step.x", "step.y"}),
         answers={"step.x": "lengths", "step.y": "lengths"} | FT_IN),
    Case("back- and foresights", text(
        "station,x (ft),y (ft),BS,IS,FS\n1,0,0,1.5,,\n2,5,0,,1.2,\n3,5,5,1.1,,1.4\n"),
         refused="table"),
    Case("a row that slipped", text(HEAD + "1,0,0,0.5\n2,5,0,-0.25\nroom, 1,5,0,0.25\n"), TWO,
         left=1),
    Case("words between spaces", text(
        "station x(ft) y(ft) reading(in)\n1 0 0 0.5\n2 5 0 -0.25\nback room 5 0 0.25\n"), TWO,
         left=1),
    Case("a mean with a place", text(HEAD + "1,0,0,0.5\n2,5,0,-0.25\nMean,2,0,0.125\n"), TWO,
         left=1),
    Case("titles on every page", text(HEAD + "1,0,0,0.5\n" + HEAD + "2,5,0,-0.25\n"), TWO, left=1),
    Case("two tables, one below the other", text(
        HEAD + "1,0,0,0.5\n\nstation,x (m),y (m),reading (mm)\n2,1,1,12\n"), refused="table"),
    Case("two tables side by side", text(
        HEAD.strip() + ",," + HEAD + "1,0,0,0.5,,9,3,3,0.7\n2,5,0,-0.25,,8,4,4,0.8\n"), TWO,
         asks=frozenset({"column.value", "column.station", "column.x", "column.y"}),
         answers={"column.value": "D", "column.station": "A", "column.x": "B", "column.y": "C"}),
    Case("text beside numbers in a spreadsheet", sheet(
        ["station", "x (m)", "y (m)", "reading (mm)"], ["1", 0, 0, 0.5], ["2", 5, 0, "1,250"]),
         numbers(p1="1/2", p2="5/4"), asks=frozenset({"decimal"}), answers={"decimal": "comma"},
         unit="mm"),
    Case("numbers beside text in a spreadsheet", sheet(
        ["station", "x (m)", "y (m)", "reading (mm)"], ["1", 0, 0, 1.175], ["2", 5, 0, "12,5"]),
         numbers(p1="47/40", p2="25/2"), unit="mm"),
    Case("points that may group", text(
        "station;x (m);y (m);reading (mm)\n1;0;0;1.250\n2;1;0;1.175\n"),
         numbers(p1="1250", p2="1175"), asks=frozenset({"decimal"}), answers={"decimal": "comma"},
         unit="mm"),
    Case("finishes once for several rows", text(
        HEAD.strip() + ",finish\n1,0,0,0.5,tile\n2,5,0,-0.25,\n3,5,5,0.1,oak\n"), DUE,
         asks=frozenset({"empty.finish"}), answers={"empty.finish": "above"},
         finishes=frozenset({"tile", "oak"})),
    Case("finishes of their own", text(
        HEAD.strip() + ",finish\n1,0,0,0.5,tile\n2,5,0,-0.25,\n3,5,5,0.1,oak\n"), DUE,
         asks=frozenset({"empty.finish"}), answers={"empty.finish": "own"},
         finishes=frozenset({"tile", "oak", "floor"})),
    Case("ditto marks", text(
        HEAD.strip() + ',finish\n1,0,0,0.5,tile\n2,5,0,-0.25,""""\n3,5,5,0.1,ditto\n'), DUE,
         finishes=frozenset({"tile"})),
    Case("setups once for several rows", text(
        "setup," + HEAD + "A,1,0,0,0.5\n,2,5,0,-0.25\nB,3,5,5,0.1\n"), DUE,
         asks=frozenset({"empty.setup"}), answers={"empty.setup": "above"}),
    Case("errors of a spreadsheet", sheet(TITLES, ["1", 0, 0, 0.5], ["2", 5, 0, "#REF!"],
                                          ["3", 5, 5, 0.1]),
         numbers(p1="1/2", p3="1/10"), left=1),
    Case("a table of a web page", b"<table><tr><td>station</td><td>x (ft)</td></tr></table>",
         refused="import"),
    Case("a code page of old", text(HEAD + "1,0,0,½\n2,5,0,-0.25\n", "cp437"),
         numbers(p2="-1/4"), left=1),
    Case("full-width digits", text(HEAD + "1,0,0,０．５\n2,5,0,-0.25\n"),
         numbers(p2="-1/4"), left=1),
    Case("letters for digits", text(HEAD + "1,0,0,O.5\n2,5,0,0.2S\n3,5,5,l.1\n4,1,1,0.1\n"),
         numbers(p4="1/10"), left=3),
]  # fmt: skip
