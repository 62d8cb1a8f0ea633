"""The workbook's formulas give the program's levels, worked out by two others than the program."""

import io
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest
from exchange_books import book_of, books, groups_that_share
from hypothesis import given, settings
from sheets import Sheets

from levelbook.book.model import Book
from levelbook.exchange.steps import steps
from levelbook.exchange.workbook import workbook
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.levels import reduce

SOFFICE = shutil.which("soffice")


def levels_in(sheets: Sheets) -> dict[str, float]:
    """Return the levels that the sheet of stations works out, by station."""
    names, found = sheets.column("Stations", "station"), sheets.column("Stations", "level")
    return {n: x for n, x in zip(names, found, strict=True) if x is not None}


def due(assessment: Assessment) -> dict[str, float]:
    """Return the program's own levels."""
    return {name: found.level for name, found in assessment.levels.stations.items()}


@settings(max_examples=60)
@given(books())
def test_every_reading_adds_up(book: Book) -> None:
    """Corrections of each standing reading give its station's level plus its residual."""
    levels = reduce(book)
    for step in steps(book, levels):
        if not step.reading.struck:
            level = levels.stations[step.reading.station].level
            residual = levels.residuals[step.reading.id].residual
            assert step.gives == pytest.approx(level + residual, abs=1e-9)


@settings(max_examples=15)
@given(books())
def test_formulas_give_the_levels(book: Book) -> None:
    """Worked out from nothing but its formulas, the workbook has the program's levels."""
    assessment = assess(book)
    found = levels_in(Sheets(workbook(assessment)))
    assert found == pytest.approx(due(assessment), abs=1e-9)


def test_groups_that_share_a_finish_and_a_setup() -> None:
    """Where a finish serves two groups, its height is of the first: the sums still stand."""
    assessment = assess(groups_that_share())
    assert len(assessment.levels.groups) == 3
    assert any(step.together for step in steps(assessment.book, assessment.levels))
    found = levels_in(Sheets(workbook(assessment)))
    assert found == pytest.approx(due(assessment), abs=1e-9)
    assert found["x"] - found["w"] == pytest.approx(0.25 / 2 + 0.375 / 2, abs=1e-9)


def test_what_is_changed_is_followed(house: Assessment) -> None:
    """Another height of the oak lowers every station read on oak alone by as much."""
    sheets = Sheets(workbook(house))
    before = levels_in(sheets)
    row = sheets.column("Finishes", "finish").index("oak") + 2
    sheets.set("Finishes", row, 3, sheets.cell("Finishes", row, 3) + 0.1)
    after = levels_in(sheets)
    on = {s.id: {r.finish for r in house.book.readings if r.station == s.id} for s in
          house.book.stations}  # fmt: skip
    alone = [name for name in before if on[name] == {"oak"}]
    never = [name for name in before if "oak" not in on[name]]
    assert alone
    assert never
    assert [after[n] for n in alone] == pytest.approx([before[n] - 0.1 for n in alone])
    assert [after[n] for n in never] == pytest.approx([before[n] for n in never])


def test_a_reading_struck_in_the_workbook_has_no_weight(house: Assessment) -> None:
    """The mark of a struck reading can be set by hand, and its station's level follows."""
    sheets = Sheets(workbook(house))
    twice = next(s for s in house.levels.stations.values() if len(s.readings) == 2)
    first, second = (r for r in house.book.readings if r.id in twice.readings)
    rows = sheets.column("Readings", "reading")
    sheets.set("Readings", rows.index(first.id) + 2, 7, 1)
    alone = next(s for s in steps(house.book, house.levels) if s.reading.id == second.id)
    assert levels_in(sheets)[first.station] == pytest.approx(alone.gives, abs=1e-12)


@settings(max_examples=15)
@given(books())
def test_no_text_becomes_a_formula(book: Book) -> None:
    """Names and notes that begin like a formula are texts; formulas stand in our columns alone."""
    made = openpyxl.load_workbook(io.BytesIO(workbook(assess(book))))
    places = {
        (sheet.title, sheet.cell(1, cell.column).value)
        for sheet in made
        for row in sheet.iter_rows(min_row=2)
        for cell in row
        if cell.data_type == "f"
    }
    own = ("sense", "signed", "finish height", "setup constant", "drift", "gives", "weight")
    assert places <= {("Readings", name) for name in own} | {("Stations", "level")}


def test_the_same_book_gives_the_same_workbook(house: Assessment) -> None:
    """Byte for byte, with no clock inside."""
    assert workbook(house) == workbook(house)
    with zipfile.ZipFile(io.BytesIO(workbook(house))) as file:
        assert b"2026-03-02" in file.read("docProps/core.xml")


def without_results(data: bytes) -> bytes:
    """Return a workbook with bare formulas: who shows a number has worked it out."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name.startswith("xl/worksheets/"):
                assert b"</f><v>" in part or b"<f>" not in part
                part = re.sub(rb"</f><v>[^<]*</v>", b"</f>", part)
            new.writestr(name, part)
    return out.getvalue()


@pytest.mark.slow
@pytest.mark.skipif(SOFFICE is None, reason="LibreOffice (libreoffice-calc-nogui) is not here")
def test_a_spreadsheet_program_gives_the_levels(
    tmp_path: Path, demo: Assessment, house: Assessment
) -> None:
    """LibreOffice works the formulas out anew, and has the program's levels to 1e-9."""
    case = [("A", "p", "Tile", "0.2"), ("a", "P", "tile", "1.5"), ("A", "P", "tile", "0.7")]
    alike = [*case, ("A", "p", "tile", "0.9"), ("a", "p*", "Tile", "-0.4")]
    assessments = {"demo": demo, "house": house, "groups": assess(groups_that_share())}
    assessments["case"] = assess(book_of(alike))
    for name, assessment in assessments.items():
        (tmp_path / f"{name}.xlsx").write_bytes(without_results(workbook(assessment)))
    command = [str(SOFFICE), f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"]
    command += ["--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML"]
    command += ["--outdir", str(tmp_path / "out")]
    books_in = [str(tmp_path / f"{name}.xlsx") for name in assessments]
    subprocess.run([*command, *books_in], check=True, capture_output=True, timeout=180)
    for name, assessment in assessments.items():
        path = tmp_path / "out" / f"{name}.xlsx"
        sheet = openpyxl.load_workbook(path, data_only=True)["Stations"]
        rows = list(sheet.iter_rows(min_row=2, values_only=True))
        found = {str(row[0]): row[5] for row in rows if row[5] is not None}
        assert found == pytest.approx(due(assessment), abs=1e-9)
