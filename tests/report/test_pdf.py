"""The PDF is what it claims to be, holds the record, and is laid out without a fault.

Conformity is shown by the typesetter's own refusals (it will not write a file that breaks the
standards it is asked for), by the claims in the metadata, by ``qpdf --check`` where it is
present, and by what is looked at here. That is no certification.
"""

import io
import json
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from levelbook.book import write_book
from levelbook.demo import house
from levelbook.findings import assess_document
from levelbook.findings.model import Assessment
from levelbook.report import Report, build
from levelbook.report.figures import Figures

POINT = 25.4 / 72
MARGIN = 19.0


@pytest.fixture(scope="module")
def pdf(report: Report) -> Iterator[pikepdf.Pdf]:
    """Return the sample house's PDF, kept open while its objects are in use."""
    with pikepdf.open(io.BytesIO(report.parts[".pdf"])) as opened:
        yield opened


@pytest.fixture(scope="module")
def demo_pdf(demo_report: Report) -> Iterator[pikepdf.Pdf]:
    """Return the demo house's PDF, kept open."""
    with pikepdf.open(io.BytesIO(demo_report.parts[".pdf"])) as opened:
        yield opened


def tool(name: str) -> str:
    """Return the path of a command, or leave the test out where it is not installed."""
    path = shutil.which(name)
    if path is None:
        pytest.skip(f"{name} is not installed")
    return path


def words_of(pdf: bytes, tmp_path: Path) -> str:
    """Return the text of a PDF in reading order, white space made single."""
    (tmp_path / "report.pdf").write_bytes(pdf)
    done = subprocess.run(
        [tool("pdftotext"), str(tmp_path / "report.pdf"), "-"], check=True, capture_output=True
    )
    return re.sub(r"\s+", " ", done.stdout.decode().replace("\u200b", ""))


def boxes(pdf: bytes, tmp_path: Path) -> Iterator[list[tuple[float, float, float, float, str]]]:
    """Yield the words of each page with their places in points, the page's size first."""
    (tmp_path / "report.pdf").write_bytes(pdf)
    told = subprocess.run(
        [tool("pdftotext"), "-bbox", str(tmp_path / "report.pdf"), "-"],
        check=True,
        capture_output=True,
    ).stdout.decode()
    number = r'"(-?[\d.]+)"'
    for page in told.split("<page ")[1:]:
        size = re.match(f"width={number} height={number}", page)
        assert size is not None
        found = [(0.0, 0.0, float(size[1]), float(size[2]), "")]
        pattern = f"<word xMin={number} yMin={number} xMax={number} yMax={number}>(.*?)</word>"
        for left, top, right, low, word in re.findall(pattern, page):
            found.append((float(left), float(top), float(right), float(low), word))
        yield found


def test_claims_both_standards(pdf: pikepdf.Pdf) -> None:
    """The metadata claim PDF/A-3 level A and PDF/UA-1."""
    with pdf.open_metadata() as meta:
        assert meta["pdfaid:part"] == "3"
        assert meta["pdfaid:conformance"] == "A"
        assert meta["pdfuaid:part"] == "1"
        assert meta["dc:title"]


def test_is_tagged_with_language_and_title(pdf: pikepdf.Pdf) -> None:
    """The file is marked as tagged, names its language and shows its title."""
    root = pdf.Root
    assert bool(root.MarkInfo.Marked)
    assert str(root.Lang) == "en"
    assert "/StructTreeRoot" in root
    assert bool(root.ViewerPreferences.DisplayDocTitle)


def elements(node: Any) -> Iterator[Any]:
    """Yield every structure element below a node of the tag tree."""
    children = node.get("/K", [])
    for child in children if isinstance(children, pikepdf.Array) else [children]:
        if isinstance(child, pikepdf.Dictionary) and "/S" in child:
            yield child
            yield from elements(child)


def test_drawings_have_words_and_tables_have_headers(demo_pdf: pikepdf.Pdf) -> None:
    """Every figure has alternative text, every table header cells, headings begin at 1."""
    found = list(elements(demo_pdf.Root.StructTreeRoot))
    kinds = [str(e.S) for e in found]
    pictures = [e for e in found if str(e.S) == "/Figure"]
    assert len(pictures) >= 5
    assert all(len(str(e.Alt)) > 20 for e in pictures)
    assert kinds.count("/TH") >= 40
    assert "/H1" in kinds
    assert kinds.count("/H2") > 8


def test_fonts_are_inside(pdf: pikepdf.Pdf) -> None:
    """Every typeface is embedded, so that the report looks the same in thirty years."""
    described = [
        o for o in pdf.objects
        if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/FontDescriptor"
    ]  # fmt: skip
    assert described
    assert all("/FontFile2" in o or "/FontFile3" in o for o in described)
    assert all("FiraSans" in str(o.FontName) for o in described)


def test_nothing_active_is_inside(pdf: pikepdf.Pdf) -> None:
    """The file runs nothing and opens no address."""
    raw = b"".join(
        bytes(str(o), "utf-8", "replace") for o in pdf.objects if isinstance(o, pikepdf.Dictionary)
    )
    for name in (b"/JavaScript", b"/JS ", b"/Launch", b"/URI "):
        assert name not in raw


def test_the_record_reads_back_byte_for_byte(pdf: pikepdf.Pdf, sample: Assessment) -> None:
    """The attached level-book document is the written document, to the byte."""
    kept = pdf.attachments
    assert set(kept) == {"level-book.json", "assessment.json"}
    assert kept["level-book.json"].get_file().read_bytes() == write_book(sample.book).encode()
    results = json.loads(kept["assessment.json"].get_file().read_bytes())
    assert results == json.loads(json.dumps(assess_document(sample)))
    assert results["sha256"] == sample.digest


def test_attachments_tell_what_they_are(pdf: pikepdf.Pdf) -> None:
    """Each attachment has its relation, its kind and a description, as PDF/A-3 asks."""
    for name, relation in (("level-book.json", "/Source"), ("assessment.json", "/Data")):
        spec = pdf.attachments[name].obj
        assert str(spec.AFRelationship) == relation
        assert len(str(spec.Desc)) > 20
        assert str(spec.EF.F.Subtype) == "/application/json"
    assert len(pdf.Root.AF) == 2


def test_same_book_same_bytes(report: Report, sample: Assessment) -> None:
    """The same book gives the same files, to the byte."""
    assert dict(build(sample).parts) == dict(report.parts)


@pytest.mark.parametrize(
    ("units", "size"), [(("in", "ft"), (612, 792)), (("mm", "m"), (595.28, 841.89))]
)
def test_paper_by_units(
    units: tuple[str, str],
    size: tuple[float, float],
    invent: Callable[..., dict[str, Any]],
    judge: Callable[[dict[str, Any]], Assessment],
) -> None:
    """Feet print on Letter, metres on A4."""
    report = build(judge(invent(12, units=units)), formats=("pdf",))
    with pikepdf.open(io.BytesIO(report.parts[".pdf"])) as pdf:
        for page in pdf.pages:
            assert [float(v) for v in page.mediabox][2:] == pytest.approx(size, abs=0.5)


def test_qpdf_finds_nothing(demo_report: Report, tmp_path: Path) -> None:
    """An independent program finds no fault in the file's structure."""
    path = tmp_path / "report.pdf"
    path.write_bytes(demo_report.parts[".pdf"])
    done = subprocess.run([tool("qpdf"), "--check", str(path)], capture_output=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_words_and_levels_can_be_found(
    demo_report: Report, demo: Assessment, tmp_path: Path
) -> None:
    """All sentences, every station's level and every reading as written are text."""
    told = words_of(demo_report.parts[".pdf"], tmp_path)
    words = demo.words
    sentences = (words.title, *words.summary, *words.meaning, *words.advice)
    for sentence in (*sentences, *words.limits, *words.cautions, *demo.screening.reasons):
        assert re.sub(r"\s+", " ", sentence) in told
    figures = Figures(demo.book.units, 2)
    for station in demo.levels.stations.values():
        assert figures.level(station.level) in told
    for finding in demo.findings:
        assert finding.state in told
    for suspect in demo.floor.suspects:
        assert suspect.why in told


def test_page_one_holds_what_a_buyer_needs(
    demo_pdf: pikepdf.Pdf, demo: Assessment, tmp_path: Path
) -> None:
    """Outcome, sentences, alerts, meaning and advice all stand on the first page."""
    assert demo.words.alerts
    check_first_page(demo_pdf, demo, tmp_path)


def check_first_page(pdf: pikepdf.Pdf, shown: Assessment, tmp_path: Path) -> None:
    """Find all that a buyer needs on the first page."""
    first = io.BytesIO()
    with pikepdf.new() as alone:
        alone.pages.append(pdf.pages[0])
        alone.save(first)
    told = words_of(first.getvalue(), tmp_path)
    words = shown.words
    for sentence in (
        words.title,
        *words.summary,
        *words.alerts,
        *words.meaning,
        *words.advice,
    ):
        assert re.sub(r"\s+", " ", sentence) in told


def test_page_one_holds_every_alert_too(
    judge: Callable[[dict[str, Any]], Assessment], tmp_path: Path
) -> None:
    """With a slip, a garage that sheds no water and ground to the house, it is still one page."""
    demo_document = json.loads(house())
    garage = {s["id"] for s in demo_document["stations"] if s["area"] == "garage"}
    for reading in demo_document["readings"]:
        if reading["station"] in garage:
            reading["value"] = f"{-float(reading['value']):.2f}"
    for pair in demo_document["grades"]:
        pair["near"], pair["far"] = pair["far"], pair["near"]
    shown = judge(demo_document)
    assert len(shown.words.alerts) == 2
    assert "look like slips" in shown.words.summary[1]
    made = build(shown, formats=("pdf",)).parts[".pdf"]
    with pikepdf.open(io.BytesIO(made)) as opened:
        check_first_page(opened, shown, tmp_path)
    check_layout(made, tmp_path)


@pytest.mark.parametrize("count", [12, 80, 400])
def test_no_text_leaves_its_page_or_meets_other_text(
    count: int,
    invent: Callable[..., dict[str, Any]],
    judge: Callable[[dict[str, Any]], Assessment],
    tmp_path: Path,
) -> None:
    """Small and large houses: every word lies within the margins and on no other word."""
    report = build(judge(invent(count)), formats=("pdf",))
    check_layout(report.parts[".pdf"], tmp_path)


def test_layout_of_the_demo(demo_report: Report, tmp_path: Path) -> None:
    """The demo's pages keep their margins, and no two words overlap."""
    check_layout(demo_report.parts[".pdf"], tmp_path)


def check_layout(pdf: bytes, tmp_path: Path) -> None:
    """Assert that words keep the side margins and do not lie on each other."""
    for page in boxes(pdf, tmp_path):
        (_, _, width, height, _), *words = page
        assert words, "an empty page"
        edge = MARGIN / POINT - 1.5
        for left, top, right, low, word in words:
            assert left >= edge, word
            assert right <= width - edge, word
            assert top >= 0, word
            assert low <= height, word
        crossing = list(overlaps(words))
        assert not crossing


def overlaps(words: list[tuple[float, float, float, float, str]]) -> Iterator[tuple[str, str]]:
    """Yield pairs of words whose boxes share more than a little of their area."""
    ordered = sorted(words, key=lambda w: w[1])
    for i, (l1, t1, r1, b1, one) in enumerate(ordered):
        for l2, t2, r2, b2, two in ordered[i + 1 :]:
            if t2 > b1:
                break
            wide, tall = min(r1, r2) - max(l1, l2), min(b1, b2) - max(t1, t2)
            least = min((r1 - l1) * (b1 - t1), (r2 - l2) * (b2 - t2))
            if wide > 0 and tall > 0 and wide * tall > 0.25 * least:
                yield one, two
