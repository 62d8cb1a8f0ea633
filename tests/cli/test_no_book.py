"""A file that is no book but could become one leads to the import."""

import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter

Run = Callable[..., tuple[int, str, str]]
TABLE = b"station,x (ft),y (ft),reading (in)\n1,0,0,0.5\n"


def spreadsheet() -> bytes:
    """Return a small spreadsheet."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        book.add_worksheet().write_row(0, 0, ["station", "reading"])
    return out.getvalue()


@pytest.mark.parametrize("command", ["check", "levels", "assess", "report"])
@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("x.csv", TABLE),
        ("x.tsv", TABLE.replace(b",", b"\t")),
        ("höhen.csv", "Punkt;Höhe\n1;0,5\n".encode("cp1252")),
        ("x.txt", TABLE.decode().encode("utf-16")),
        ("x.xlsx", spreadsheet()),
    ],
)
def test_a_table_leads_to_the_import(
    run: Run, tmp_path: Path, command: str, name: str, data: bytes
) -> None:
    """The one line told names the command that makes a book of it."""
    file = tmp_path / name
    file.write_bytes(data)
    code, _, err = run(command, file)
    assert code == 2
    assert f"levelbook import {file}" in err.replace("'", "")


def test_an_outline_leads_to_the_import_into_a_book(run: Run, tmp_path: Path) -> None:
    """A drawing is added to a book that is there."""
    file = tmp_path / "my plan.svg"
    file.write_text("<svg xmlns='http://www.w3.org/2000/svg'/>", "utf-8")
    code, _, err = run("check", file)
    assert code == 2
    assert f"levelbook import '{file}' --into BOOK" in err


@pytest.mark.parametrize("text", ['{"format": "levelbook/1",', "[1, 2", "hello", "%"])
def test_a_damaged_book_does_not(run: Run, tmp_path: Path, text: str) -> None:
    """What begins as a book, or is no table, is told as before."""
    file = tmp_path / "x.json"
    file.write_text(text, "utf-8")
    code, out, err = run("check", file, "--json")
    assert code == 2
    assert "levelbook import" not in out + err
    assert json.loads(out)["faults"][0]["code"] == "not-json"
