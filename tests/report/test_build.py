"""Reports of unusual houses, of houses with photographs, and in the formats asked for."""

import io
import json
import re
import struct
import zlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from test_page import Reader
from test_pdf import check_layout, words_of

from levelbook.book.model import Distress
from levelbook.errors import UsageError
from levelbook.findings.model import Assessment
from levelbook.floor.model import TooFew
from levelbook.report import FORMATS, Report, build
from levelbook.report.blocks import Table
from levelbook.report.labels import load_labels
from levelbook.report.sections.distress import category
from levelbook.report.sections.readings import stations_section
from levelbook.report.sections.source import Source

Document = dict[str, Any]
Invent = Callable[..., Document]
Judge = Callable[[Document], Assessment]


def both(assessment: Assessment, tmp_path: Path, **more: Any) -> tuple[str, str]:
    """Return the words of the PDF, whose layout is checked, and of the page."""
    report = build(assessment, formats=("pdf", "html"), **more)
    check_layout(report.parts[".pdf"], tmp_path)
    told = words_of(report.parts[".pdf"], tmp_path).replace("\u00a0", " ")
    return told, Reader(report.parts[".html"]).text


def test_formats_asked_for(sample: Assessment, report: Report) -> None:
    """Only the formats asked for are made; by default all are, under the endings told."""
    assert set(report.parts) == {".pdf", ".html", "-readings.csv", "-levels.csv", ".json"}
    assert set(build(sample, formats=("csv",)).parts) == {"-readings.csv", "-levels.csv"}
    assert set(build(sample, formats=("json",)).parts) == {".json"}
    assert FORMATS == ("pdf", "html", "csv", "json")
    with pytest.raises(UsageError, match="docx"):
        build(sample, formats=("docx",))  # type: ignore[arg-type]


def test_results_that_were_joined_are_carried(sample: Assessment) -> None:
    """A result document given, with parts worked out elsewhere, goes into the files."""
    parts = build(sample, formats=("json", "pdf"), results={"garage": {"fall": 1.5}}).parts
    assert json.loads(parts[".json"]) == {"garage": {"fall": 1.5}}
    with pikepdf.open(io.BytesIO(parts[".pdf"])) as pdf:
        kept = pdf.attachments["assessment.json"].get_file().read_bytes()
    assert json.loads(kept) == {"garage": {"fall": 1.5}}


@pytest.mark.parametrize(
    ("width", "number"),
    [
        ("0", 0),
        ("0.09", 0),
        ("0.1", 1),
        ("1", 1),
        ("1.1", 2),
        ("5", 2),
        ("15", 3),
        ("25", 4),
        ("26", 5),
    ],
)
def test_the_category_of_a_crack_at_its_steps(width: str, number: int) -> None:
    """BRE Digest 251 (1995): under 0.1 mm, to 1, to 5, to 15, to 25, over 25 mm."""
    written = {"id": "d", "kind": "crack", "element": "slab", "at": (0, 0), "width": width}
    assert category(Distress.model_validate(written), "mm") == number


def test_too_few_stations(invent: Invent, judge: Judge, tmp_path: Path) -> None:
    """A house with three stations gets a report that says they are too few, and no shape."""
    document = invent(12)
    kept = {s["id"] for s in document["stations"][:3]}
    document["stations"] = document["stations"][:3]
    document["readings"] = [r for r in document["readings"] if r["station"] in kept]
    assessment = judge(document)
    assert isinstance(assessment.floor.areas["house"], TooFew)
    for told in both(assessment, tmp_path):
        assert "Only 3 of the 5 stations" in told
        assert "Largest deflection" not in told


def test_one_of_anything_is_not_told_as_several(
    invent: Invent, judge: Judge, tmp_path: Path
) -> None:
    """A house with a single station, read twice, is told of without "1 stations"."""
    document = invent(12)
    document["stations"] = document["stations"][:1]
    first = next(r for r in document["readings"] if r["station"] == "s1")
    document["readings"] = [first, {**first, "id": "again"}]
    for told in both(judge(document), tmp_path):
        assert "Stations: 1; readings: 2" in told
        assert "2, with 1 to be found: 1 to spare" in told
        assert not re.search(r"\b1 (stations|readings|unknowns|places)\b", told)


def test_bare_house(invent: Invent, judge: Judge, tmp_path: Path) -> None:
    """No garage, no distress, no doubt, no closing check: each absence is said, not left out."""
    document = invent(12)
    document["readings"] = document["readings"][:-4]
    document["finishes"] = document["finishes"][:1]
    for reading in document["readings"]:
        reading["finish"] = "tile"
    for told in both(judge(document), tmp_path):
        assert "None was written down." in told
        assert "no reading checks another" in told
        assert "No station was read again by the same setup" in told


def test_metric_house(invent: Invent, judge: Judge, tmp_path: Path) -> None:
    """A metric book is told in millimetres and metres, and never in inches or feet."""
    for told in both(judge(invent(30, units=("mm", "m"))), tmp_path):
        assert "mm per m" in told
        assert "in millimetres" in told
        for word in (" ft ", "in per 20 ft"):
            shape = told[told.index("The shape of the floor") : told.index("Lines over the floor")]
            assert word not in shape


def test_many_groups(invent: Invent, judge: Judge, tmp_path: Path) -> None:
    """Setups that nothing ties together are groups of their own, each with its zero."""
    document = invent(24)
    document["setups"] = [{"id": f"S{n}", "instrument": "L1"} for n in range(6)]
    ids = [s["id"] for s in document["stations"]]
    document["readings"] = [
        {"id": f"q{n}", "setup": f"S{n % 6}", "station": id_, "finish": "tile", "value": "0.1"}
        for n, id_ in enumerate(ids)
    ]
    assessment = judge(document)
    assert len(assessment.levels.groups) == 6
    for told in both(assessment, tmp_path):
        assert "The readings do not connect these groups." in told


def test_overruled_words_are_told_with_their_reason(
    invent: Invent, judge: Judge, tmp_path: Path
) -> None:
    """A sentence that the inspector replaced is shown in place, its original and reason kept."""
    document = invent(30)
    plain = judge(document).words.sentences["advice.water"]
    change = {"key": "advice.water", "text": "Clear the gutters.", "reason": "They overflow."}
    document["visit"]["extra"] = {"wording": [change]}
    for told in both(judge(document), tmp_path):
        assert "Clear the gutters." in told
        assert "They overflow." in told
        assert " ".join(plain.split()) in told


def test_a_count_of_what_cannot_be_shown(invent: Invent, judge: Judge, tmp_path: Path) -> None:
    """The PDF says how many characters it could not show; the page shows them all."""
    document = invent(12)
    document["property"]["notes"] = "家"
    paper, screen = both(judge(document), tmp_path)
    assert "One character of what was written cannot be shown" in paper
    assert "家" in screen


def png(width: int = 8, height: int = 6) -> bytes:
    """Return a small grey photograph as PNG."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = b"".join(b"\0" + bytes(range(40, 40 + width)) for _ in range(height))
    parts = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def test_photographs(invent: Invent, judge: Judge, tmp_path: Path) -> None:
    """Photographs given are shown; missing, altered, foreign and damaged ones are said to be."""
    good, other, foreign = png(), png(9), b"GIF89a and more"
    broken = png()[:40]
    given = {sha256(c).hexdigest(): c for c in (good, foreign, broken)}
    altered = sha256(b"as it was").hexdigest()
    given[altered] = other
    names = [*given, "0" * 64]
    document = invent(12)
    document["photos"] = [
        {"id": f"p{n}", "sha256": digest, "name": f"IMG_{n}.jpg", "of": "kitchen"}
        for n, digest in enumerate(names)
    ]
    for told in both(judge(document), tmp_path, photos=given):
        assert "p0: IMG_0.jpg (kitchen)" in told
        assert "is not a JPEG or PNG file" in told
        assert "is not the one that was recorded" in told
        assert "was not given to the report" in told
        assert "is damaged, or of a kind that this file cannot hold" in told
    report = build(judge(document), photos=given, formats=("pdf", "html"))
    sources = [i["src"] for i in Reader(report.parts[".html"]).all("img")]
    assert len(sources) == 1
    assert all(s.startswith("data:image/png;base64,") for s in sources)
    with pikepdf.open(io.BytesIO(report.parts[".pdf"])) as pdf:
        images = [
            o for o in pdf.objects
            if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Image"
        ]  # fmt: skip
        assert [(int(o.Width), int(o.Height)) for o in images] == [(8, 6)]


def test_one_typesetter_serves_many_threads(sample: Assessment, report: Report) -> None:
    """Reports set at the same time in several threads are each the same as one set alone."""
    with ThreadPoolExecutor(3) as pool:
        made = list(pool.map(lambda _: build(sample, formats=("pdf",)).parts[".pdf"], range(4)))
    assert set(made) == {report.parts[".pdf"]}


def test_every_station_has_its_place_and_level(invent: Invent, judge: Judge) -> None:
    """The list of stations gives place, level and zero; a station not read has no level."""
    document = invent(12, units=("mm", "m"))
    document["stations"][0]["at"] = [0.123, 1.0]
    document["stations"].append({"id": "new", "at": [1.0, 1.0], "area": "house"})
    source = Source(judge(document), load_labels("en"), {})
    (table,) = (b for b in stations_section(source).blocks if isinstance(b, Table))
    assert [row.cells[0] for row in table.rows] == [s["id"] for s in document["stations"]]
    assert table.rows[0].cells[2:4] == ("0.12", "1.00")
    assert table.rows[0].cells[4:7] == ("0.0", "0.0", "s1")
    assert set(table.rows[-1].cells[4:]) == {"–"}
