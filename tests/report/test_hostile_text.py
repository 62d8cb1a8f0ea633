"""Whatever is written in whichever field stays text: on paper, on the page, in the tables."""

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import replace
from itertools import cycle
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from test_page import Reader
from test_pdf import check_layout, words_of

from levelbook.book.model import Book
from levelbook.demo import house
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.report import build

Document = dict[str, Any]
HOSTILE = {
    "tags": "</script></style><script>alert(1)</script><img src=x onerror=alert(1)>&amp;<!--",
    "typst": '#{panic("no")} #import "x" *bold* _it_ $x^2$ @ref <label> = head \\ // end',
    "quotes": "\"'><svg onload=alert(1)> ]]> ${x} `y` {0} {label} %s",
    "emoji": "crack 🏠🏚️ by the \U0001f6aa door ⚠️ 家 дом \u0e1a\u0e49\u0e32\u0e19",
    "turned": "\u202eright to left\u202c שלום مرحبا \u2066x\u2069 a\u0301\u0323\u0489",
    "control": "tab\t line\nbreak \u2028 line \u2029 mark \ufeff none \ufffe hyphen\u00ad",
    "formula": '=HYPERLINK("http://x","y")',
    "at": "@SUM(1,2)|cmd",
    "unbroken": "wordwithoutanyspaceatall" * 40,
    "long": "A long remark that goes on and on. " * 28,
}
TEXTS = ("label", "address", "notes", "surveyor", "licence", "firm", "weather", "serial", "name",
         "note", "moved")  # fmt: skip
EVERY = tuple(HOSTILE.values())


def hostile(house: bytes, shift: int, texts: Sequence[str] = EVERY) -> Document:
    """Return the sample house with a hostile text in every field that people write in.

    Fields take the texts in turn, beginning with the one at ``shift``.
    """
    turn = cycle(texts[shift:] + texts[:shift])
    document: Document = json.loads(house)
    for entry in (document["property"], document["visit"], *document["instruments"]):
        entry |= {key: next(turn) for key in TEXTS if key in entry or key == "notes"}
    document["instruments"][0].pop("notes", None)
    document["property"] |= {"address": next(turn)}
    document["visit"] |= {key: next(turn) for key in ("licence", "firm", "weather")}
    for entry in document["finishes"]:
        entry["name"] = next(turn)
    for entry in document["marks"]:
        entry["label"] = next(turn)
    for entry in (*document["stations"], *document["readings"], *document["distress"]):
        entry["note"] = next(turn)
    for entry in document["stations"][::5]:
        entry["moved"] = next(turn)
    changes = [{"key": key, "text": next(turn), "reason": next(turn)[:900]}
               for key in ("title.keep-watching", "summary.shape", "advice.water")]  # fmt: skip
    document["visit"]["extra"] = {"wording": changes}
    document["photos"] = [{"id": "p1", "sha256": "a" * 64, "name": next(turn), "of": "d1"}]
    return document


def ids(text: str) -> Document:
    """Return a small house whose every id is ``text`` with a number, 64 characters long."""
    document = json.loads(house())
    known = {
        entry["id"]: f"{text[:58]}{n}"
        for n, entry in enumerate(
            e for key in ("instruments", "areas", "finishes", "setups", "stations", "readings",
                          "sections", "distress") for e in document[key]
        )
    }  # fmt: skip
    links = ("id", "instrument", "area", "setup", "station", "finish", "instead")

    def rename(value: Any) -> Any:
        if isinstance(value, list):
            return [rename(v) for v in value]
        if isinstance(value, dict):
            return {
                k: known[v] if k in links and v in known else rename(v) for k, v in value.items()
            }
        return value

    renamed: Document = rename(document)
    return renamed


def assessed(document: Document) -> Assessment:
    """Return everything computed, past the reader's own checks of length and characters."""
    return assess(Book.model_validate_json(json.dumps(document)))


def notes_of(document: Document) -> set[str]:
    """Return the notes of all stations and readings."""
    return {e["note"] for key in ("stations", "readings") for e in document[key]}


@pytest.mark.parametrize("shift", range(0, len(EVERY), 3))
def test_stays_text_on_paper(house_a: bytes, shift: int, tmp_path: Path) -> None:
    """The PDF is set, keeps its layout, and carries the texts unchanged in the record."""
    document = hostile(house_a, shift)
    pdf = build(assessed(document), formats=("pdf",)).parts[".pdf"]
    check_layout(pdf, tmp_path)
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        record = json.loads(opened.attachments["level-book.json"].get_file().read_bytes())
    assert record == document
    told = words_of(pdf, tmp_path)
    for kind in ("typst", "quotes", "tags", "formula", "at", "long"):
        assert " ".join(HOSTILE[kind].split()) in told
    assert "characters of what was written cannot be shown in this typeface" in told


@pytest.mark.parametrize("shift", range(0, len(EVERY), 3))
def test_stays_text_on_the_page(house_a: bytes, shift: int) -> None:
    """The page has the same elements whatever is written, and shows it to the letter."""
    texts = hostile(house_a, shift)
    page = Reader(build(assessed(texts), formats=("html",)).parts[".html"])
    plain = hostile(house_a, 0, ("plain",))
    other = Reader(build(assessed(plain), formats=("html",)).parts[".html"])
    drawn = ("g", "text", "path", "circle", "line", "title", "rect", "s")
    count = [[t for t, _ in p.elements if t not in drawn] for p in (page, other)]
    assert count[0] == count[1]
    assert page.open == []
    assert not any(name.startswith("on") for _, attrs in page.elements for name in attrs)
    told = json.loads(page.inside["script"][0])["stations"]
    assert {s["notes"][-1] for s in told.values()} == {s["note"] for s in texts["stations"]}
    for text in EVERY:
        assert " ".join(text.split()) in page.text


def test_stays_text_in_tables(house_a: bytes) -> None:
    """No cell of the tables begins like a formula, and the text is otherwise as written."""
    document = hostile(house_a, 0)
    parts = build(assessed(document), formats=("csv",)).parts
    for name, key in (("-readings.csv", "readings"), ("-levels.csv", "stations")):
        rows = list(csv.DictReader(io.StringIO(parts[name].decode("utf-8-sig"), newline="")))
        for row, entry in zip(rows, document[key], strict=True):
            assert row["note"].removeprefix("'") == entry["note"]
            assert not row["note"].startswith(("=", "+", "-", "@"))


@pytest.mark.parametrize("text", ["W" * 64, "<b>&\"'#*_$@=\\" * 5, "家" * 64])
def test_long_strange_ids(text: str, tmp_path: Path) -> None:
    """Ids of 64 wide or strange characters break no table, no page and no choice."""
    assessment = assessed(ids(text))
    report = build(assessment, formats=("pdf", "html"))
    check_layout(report.parts[".pdf"], tmp_path)
    page = Reader(report.parts[".html"])
    assert page.open == []
    told = json.loads(page.inside["script"][0])["stations"]
    assert set(told) == {s.id for s in assessment.book.stations}


def test_ten_thousand_characters(sample: Assessment, tmp_path: Path) -> None:
    """Words of 10 000 characters, with and without spaces, run over pages and stop nothing."""
    long, run = "Wide and deep. " * 700, "y" * 10_000
    words = replace(sample.words, summary=(long, run), meaning=(run,), advice=(long, run, long))
    warned = replace(sample, words=words, warnings=(run, "bell\x07 null\x00 esc\x1b[31m \ud83c"))
    report = build(warned, formats=("pdf", "html"))
    check_layout(report.parts[".pdf"], tmp_path)
    assert "\x07" not in Reader(report.parts[".html"]).text
