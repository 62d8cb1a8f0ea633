"""The return sheet: complete, legible, without the earlier readings, on few pages."""

import io
import json
import re
import shutil
import subprocess
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from PIL import Image
from shapely import box

from levelbook.book import read_book
from levelbook.book.model import Book
from levelbook.demo import house
from levelbook.drawing.records import Circle, Group, Text, flatten
from levelbook.drawing.return_sheet import numbers, return_plan
from levelbook.drawing.tape import tape
from levelbook.report.labels import load_labels
from levelbook.report.return_sheet import lines, pictures, remarks, return_sheet

DEMO = read_book(house())
LABEL = load_labels()
PLACED = ("number", "corner", "base")


def words(pdf: bytes, tmp_path: Path, *options: str) -> str:
    """Return the text of a PDF."""
    path = shutil.which("pdftotext")
    if path is None:
        pytest.skip("pdftotext is not installed")
    (tmp_path / "sheet.pdf").write_bytes(pdf)
    done = subprocess.run(
        [path, *options, str(tmp_path / "sheet.pdf"), "-"], check=True, capture_output=True
    )
    return done.stdout.decode().replace("\u200b", "").replace("\u00a0", " ")


def pages(pdf: bytes) -> int:
    """Return how many pages a PDF has."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        return len(opened.pages)


@pytest.mark.parametrize("units", [("in", "ft"), ("mm", "m")])
@pytest.mark.parametrize("count", [12, 30, 80, 150])
def test_two_pages(count: int, units: tuple[str, str], invent: Callable[..., Any]) -> None:
    """Up to 150 stations the sheet is one leaf, front and back."""
    book = read_book(json.dumps(invent(count, units=units)))
    assert pages(return_sheet(book)) == 2


def test_more_stations_take_more_pages(invent: Callable[..., Any], tmp_path: Path) -> None:
    """A very large house loses no station; its table goes on."""
    book = read_book(json.dumps(invent(400)))
    pdf = return_sheet(book)
    assert 3 <= pages(pdf) <= 5
    told = words(pdf, tmp_path)
    assert all(re.search(rf"\b{s.id}\b", told) for s in book.stations)


def test_every_station_with_its_distances(tmp_path: Path) -> None:
    """Each line of the table stands in the file with number, distances and finish."""
    told = re.sub(r"\s+", " ", words(return_sheet(DEMO), tmp_path, "-raw"))
    for line in lines(DEMO, tape(DEMO), LABEL):
        first, second = (corner.replace("\u00a0", " ") for corner in line.corners)
        assert f"{line.number} {first} {second} {line.finish}" in told


def test_a_station_on_two_finishes_has_two_lines() -> None:
    """Every station is there once for each finish that it was read on."""
    read = {(r.station, r.finish) for r in DEMO.readings if not r.struck}
    assert len(list(lines(DEMO, tape(DEMO), LABEL))) == len(read)


def test_it_says_where_the_zero_was(tmp_path: Path) -> None:
    """Zero, instrument and day of the earlier visit stand on the first page."""
    told = words(return_sheet(DEMO), tmp_path, "-l", "1")
    assert "station c, on Ceramic tile" in told
    assert "demo-1" in told
    assert DEMO.visit.date in told


def test_the_earlier_readings_are_left_out(invent: Callable[..., Any], tmp_path: Path) -> None:
    """Who reads should not know what was read: no value is on the sheet."""
    document = invent(30)
    for number, reading in enumerate(document["readings"]):
        reading["value"] = f"{number}.9731"
    told = words(return_sheet(read_book(json.dumps(document))), tmp_path)
    assert ".9731" not in told


def noted() -> Book:
    """Return the demo house with a note, a photograph and a long id."""
    document = json.loads(house())
    document["stations"][3] |= {"note": "behind the door, [not] #bold"}
    document["photos"] = [{"id": "f", "sha256": "0" * 64, "name": "p.jpg", "of": "7"}]
    return read_book(json.dumps(document))


def test_remarks_tell_of_single_stations(tmp_path: Path) -> None:
    """Ties, closing checks, places and photographs are told below the table."""
    book = noted()
    told = list(remarks(book, LABEL))
    assert any("setups A, B" in each for each in told)
    assert any("to close" in each for each in told)
    assert "7: photograph p.jpg" in told
    assert "7: not where it should be (bed)" in told
    page = re.sub(r"\s+", " ", words(return_sheet(book), tmp_path))
    assert all(each in page for each in told)
    assert "behind the door, [not] #bold" in page


def picture(colour: str) -> bytes:
    """Return a small PNG file."""
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "PNG")
    return out.getvalue()


def test_photographs_of_stations_are_shown() -> None:
    """A station's own photograph is on the sheet; one altered, damaged or of no station is not."""
    good, other, broken = picture("red"), picture("blue"), picture("green")[:60]
    document = json.loads(house())
    document["photos"] = [
        {"id": f"f{n}", "sha256": sha256(content).hexdigest(), "name": f"{n}.png", "of": of}
        for n, (content, of) in enumerate([(good, "7"), (other, "8"), (broken, "9"), (other, "x")])
    ]
    book = read_book(json.dumps(document))
    given = {sha256(content).hexdigest(): content for content in (good, broken)}
    given[sha256(other).hexdigest()] = picture("yellow")
    assert [told for told, _ in pictures(book, given)] == ["7"]
    pdf = return_sheet(book, photos=given)
    assert pages(pdf) == pages(return_sheet(book)) + 1


def test_long_ids_become_numbers(tmp_path: Path) -> None:
    """Where ids are too long for a plan, stations are numbered and the table names both."""
    text = house().decode().replace('"g12"', '"garage-far-corner"')
    book = read_book(text)
    assert list(numbers(book).values()) == [str(k) for k in range(1, 81)]
    row = next(line for line in lines(book, tape(book), LABEL) if line.id == "garage-far-corner")
    assert row.number == "80"
    assert pages(return_sheet(book)) <= 3


@pytest.mark.parametrize(
    "text",
    ["#set text(99pt)", "<script>", "漢字 \U0001f600", "\u202eback", "long" * 200, "a\u0301"],
)
def test_any_text_can_be_set(text: str) -> None:
    """What a book says is text on the sheet, whatever it looks like, and never breaks it."""
    document = json.loads(house())
    document["property"]["label"] = text
    document["finishes"][0]["name"] = text
    document["stations"][0]["moved"] = text
    document["stations"][1]["id"] = text[:64]
    for reading in document["readings"]:
        if reading["station"] == "1":
            reading["station"] = text[:64]
    assert pages(return_sheet(read_book(json.dumps(document)))) <= 3


def test_same_book_same_bytes() -> None:
    """The same book gives the same sheet, to the byte."""
    assert return_sheet(DEMO) == return_sheet(DEMO)


def test_it_is_accessible() -> None:
    """The sheet claims PDF/A-3 and PDF/UA, and its table has header cells."""
    with pikepdf.open(io.BytesIO(return_sheet(DEMO))) as pdf:
        with pdf.open_metadata() as meta:
            assert (meta["pdfaid:part"], meta["pdfuaid:part"]) == ("3", "1")
        kinds = [str(o.S) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/S" in o]
    assert kinds.count("/TH") == 15
    assert kinds.count("/Figure") == 1


@pytest.mark.parametrize("count", [30, 80, 150])
def test_numbers_are_apart(count: int, invent: Callable[..., Any]) -> None:
    """Every station has its number, and no number lies on another, a dot or off the sheet."""
    book = read_book(json.dumps(invent(count))) if count != 80 else DEMO
    drawing = return_plan(book, tape(book), width_mm=190.0, height_mm=186.0)
    assert drawing.unnumbered == ()
    groups = {item.id: item for item in drawing.items if isinstance(item, Group) and item.id}
    assert {i for i, g in groups.items() if any(isinstance(s, Text) for s in g.items)} == {
        station.id for station in book.stations
    }
    shapes = list(flatten(drawing.items))
    texts = [t.corners() for t in shapes if isinstance(t, Text) and t.role in PLACED]
    room = [box(*corners.min(axis=0), *corners.max(axis=0)) for corners in texts]
    circles = [s for s in shapes if isinstance(s, Circle) and s.role == "station-dot"]
    dots = [box(x - 0.5, y - 0.5, x + 0.5, y + 0.5) for x, y in (s.at for s in circles)]
    for i, one in enumerate(room):
        assert box(0, 0, drawing.width, drawing.height).covers(one)
        assert not any(one.intersects(other) for other in room[i + 1 :])
        assert not any(one.intersects(dot) for dot in dots)


def test_numbers_keep_off_the_outer_walls(invent: Callable[..., Any]) -> None:
    """At 150 stations no number stands on an outer wall: the type is made smaller first."""
    book = read_book(json.dumps(invent(150)))
    drawing = return_plan(book, tape(book), width_mm=190.0, height_mm=186.0)
    outline = next(s for s in flatten(drawing.items) if getattr(s, "role", "") == "outline")
    low, high = outline.runs[0].min(axis=0), outline.runs[0].max(axis=0)  # type: ignore[union-attr]
    floor = box(*low, *high).exterior
    for text in flatten(drawing.items):
        if isinstance(text, Text) and text.role == "number":
            corners = text.corners()
            assert not box(*corners.min(axis=0), *corners.max(axis=0)).intersects(floor), text.text
