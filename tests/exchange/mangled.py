"""Known readings written down in the many ways of other people's tables, drawn at random."""

import io
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import xlsxwriter
from hypothesis import strategies as st

FINISHES = ("tile", "oak", "carpet")
MINUS = ("-", "−", "–", "- ")
TITLES = {
    "station": ("station", "Point", "STN", "Pt. No."),
    "x": ("x", "X", "Easting"),
    "y": ("y", "Y", "Northing"),
    "value": ("reading", "Reading", "as written"),
    "finish": ("finish", "Floor finish", "Material"),
    "remark": ("remark", "Notes", "by whom"),
}
NOTES = ("", "", "", "by door", "see 2", "n/a", "0.5 m from wall")
BESIDE = ("", "", "", " by door", "*", " (wet)", " ?", " c")
DAMAGE = ("", "", "", "O.5", "0..5", "1/", "5%", "12 13", "--1", "0,5,5", "n/a", "0.3 / 0.4", "1e")


@dataclass(frozen=True)
class Truth:
    """One reading: where it was taken, on what, and its value in the table's own unit."""

    at: tuple[int, int]
    value: Fraction
    finish: str


@dataclass(frozen=True)
class Mangled:
    """A table as bytes, what it tells, and the answers of somebody who knows it."""

    data: bytes
    truth: Mapping[str, Truth]
    unit: str
    answers: Mapping[str, str]


@st.composite
def mangled(draw: st.DrawFn) -> Mangled:
    """Return a table of 2 to 7 readings, well or badly written."""
    pick = lambda *options: draw(st.sampled_from(options))  # noqa: E731
    unit, comma = pick("in", "mm"), pick("no", "no", "all", "some")
    told = pick("title", "title", "second row", "cell", "nowhere")
    names = draw(st.permutations([*TITLES]))
    heads = {name: pick(*TITLES[name]) for name in names}
    rows, truth = [], {}
    for i in range(draw(st.integers(2, 7))):
        name, finish = pick(f"s{i}", f"{i + 1}", f"A-{i}"), pick(*FINISHES)
        name = f"{name}x" if name in truth else name
        value, cell = draw(_number(unit, comma))
        cell += ('"' if unit == "in" else " mm") if told == "cell" else ""
        cell += pick(*BESIDE)
        broken = pick(*DAMAGE) if pick(0, 0, 0, 1) else ""
        if not broken:
            truth[name] = Truth((3 * i, i % 3), value, finish)
        rows.append({"station": name, "x": str(3 * i), "y": str(i % 3), "value": broken or cell,
                     "finish": finish, "remark": pick(*NOTES)})  # fmt: skip
    lines = _lines(draw, names, heads, rows, (unit, told))
    if draw(st.booleans()) and draw(st.booleans()):
        data = _sheet(draw, lines, comma)
    else:
        data = _text(draw, lines, comma)
    letters = {f"column.{name}": "ABCDEFGH"[k] for k, name in enumerate(names)}
    answers = {
        **letters, "unit.level": unit, "unit.plan": "ft", "layout": "table", "brackets": "leave",
        "marks": "note", "empty.finish": "above", "date": "2026-03-02", "sense": "more",
        "sd": "0.1", "outline": "rectangle", "column.setup": "none", "column.note": "none",
    }  # fmt: skip
    if comma != "some":
        answers["decimal"] = "comma" if comma == "all" else "point"
    return Mangled(data, truth, unit, answers)


@st.composite
def _number(draw: st.DrawFn, unit: str, comma: str) -> tuple[Fraction, str]:
    """Return a value, and one way in which a person writes it."""
    sign = draw(st.sampled_from((1, 1, -1)))
    lead = draw(st.sampled_from(MINUS)) if sign < 0 else draw(st.sampled_from(("", "", "+", " ")))
    if unit == "in" and draw(st.booleans()):
        whole, top = draw(st.integers(0, 30)), draw(st.integers(1, 15))
        gap = draw(st.sampled_from((" ", "-", "\u00a0"))) if whole else ""
        return sign * (whole + Fraction(top, 16)), f"{lead}{whole or ''}{gap}{top}/16"
    digits = draw(st.integers(0, 3))
    scaled = draw(st.integers(0, 4000 if unit == "mm" else 99).map(lambda n: n * 10**digits))
    scaled += draw(st.integers(0, 10**digits - 1)) if digits else 0
    value = Fraction(scaled, 10**digits)
    whole, part = divmod(scaled, 10**digits)
    mark = "," if comma == "all" or (comma == "some" and draw(st.booleans())) else "."
    groups = ("." if mark == "," else ",") if draw(st.integers(0, 5)) == 0 else ""
    size = f"{whole:,}".replace(",", groups) + (f"{mark}{part:0{digits}}" if digits else "")
    return sign * value, lead + size


def _lines(draw: st.DrawFn, names: list[str], heads: Mapping[str, str],
           rows: list[dict[str, str]], about: tuple[str, str]) -> list[list[str]]:  # fmt: skip
    """Return the rows of cells: titles in one row or two, blank rows, repeats, sums."""
    unit, told = about
    units = {"x": "ft", "y": "ft", "value": unit if told in ("title", "second row") else ""}
    if told == "second row":
        titles = [[heads[n] for n in names], [f"({units.get(n)})" if units.get(n) else ""
                                              for n in names]]  # fmt: skip
    else:
        titles = [[f"{heads[n]} ({units[n]})" if units.get(n) else heads[n] for n in names]]
    lines = [["An invented house, 12 Example Lane"]] if draw(st.booleans()) else []
    lines += titles
    once = draw(st.booleans())
    last = ""
    for i, row in enumerate(rows):
        finish = row["finish"]
        if once and finish == last:
            row = row | {"finish": draw(st.sampled_from(("", "ditto")))}
        last = finish
        lines.append([row[name] for name in names])
        if draw(st.integers(0, 4)) == 0:
            lines += [[""] * len(names)] * draw(st.integers(1, 2))
        if i == 1 and draw(st.integers(0, 4)) == 0:
            lines += titles if len(titles) == 1 else []
    if draw(st.integers(0, 4)) == 0:
        total = {"station": "Mean", "value": "0.5"}
        lines.append([total.get(name, "") for name in names])
    return lines


def _text(draw: st.DrawFn, lines: list[list[str]], comma: str) -> bytes:
    """Return rows as text of some separator, quoting, end of line and encoding."""
    separator = draw(st.sampled_from((";", "\t") if comma != "no" else (",", ";", "\t", "|")))
    always = draw(st.booleans())

    def written(cell: str) -> str:
        if always or separator in cell or '"' in cell or "\n" in cell:
            return '"' + cell.replace('"', '""') + '"'
        return cell

    end = draw(st.sampled_from(("\n", "\r\n")))
    encoding = draw(st.sampled_from(("utf-8", "utf-8-sig", "utf-16")))
    text = end.join(separator.join(map(written, line)) for line in lines) + end
    return text.encode(encoding)


def _sheet(draw: st.DrawFn, lines: list[list[str]], comma: str) -> bytes:
    """Return rows as a spreadsheet: plain decimals as numbers, or all as text."""
    out = io.BytesIO()
    options: dict[str, Any] = {"in_memory": True, "strings_to_formulas": False}
    with xlsxwriter.Workbook(out, options) as book:
        page = book.add_worksheet()
        numbers = comma == "no" and draw(st.booleans())
        for i, line in enumerate(lines):
            for j, cell in enumerate(line):
                plain = cell.strip().removeprefix("-").replace(".", "", 1)
                if numbers and plain.isdecimal() and plain.isascii():
                    page.write_number(i, j, float(cell))
                elif cell:
                    page.write_string(i, j, cell)
    return out.getvalue()
