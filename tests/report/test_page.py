"""The HTML file stands alone, says what the PDF says, and takes no text for markup."""

import json
import re
from base64 import b64decode, b64encode
from hashlib import sha256
from html.parser import HTMLParser
from itertools import pairwise

from levelbook.book import write_book
from levelbook.findings.model import Assessment
from levelbook.report import Report
from levelbook.report.figures import Figures

VOID = {"meta", "br", "img", "link", "input", "hr"}


class Reader(HTMLParser):
    """Reads a page: its elements, its text, what stands in scripts, and what is not closed."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.inside: dict[str, list[str]] = {"script": [], "style": []}
        self.feed(page.decode())
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {k: v or "" for k, v in attrs}))
        if tag not in VOID:
            self.open.append(tag)
            if tag in self.inside:
                self.inside[tag].append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {k: v or "" for k, v in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, f"</{tag}> closes another element"

    def handle_data(self, data: str) -> None:
        last = self.open[-1] if self.open else ""
        if last in self.inside:
            self.inside[last][-1] += data
        else:
            self.words.append(data)

    @property
    def text(self) -> str:
        """All text that is shown, white space made single."""
        return re.sub(r"\s+", " ", " ".join(self.words).replace("\u00a0", " "))

    def all(self, tag: str) -> list[dict[str, str]]:
        """Return the attributes of every element of one kind."""
        return [attrs for name, attrs in self.elements if name == tag]


def test_is_well_formed(demo_report: Report) -> None:
    """Every element is closed, in order."""
    assert Reader(demo_report.parts[".html"]).open == []


def test_names_nothing_outside(demo_report: Report) -> None:
    """No element loads, links or posts to anything outside the file."""
    page = Reader(demo_report.parts[".html"])
    for tag, attrs in page.elements:
        assert tag not in ("link", "iframe", "object", "embed", "base", "form", "use"), tag
        for name, value in attrs.items():
            assert not name.startswith("on"), (tag, name)
            assert name != "style", (tag, value)
            if name in ("src", "href", "xlink:href", "action", "data"):
                assert value.startswith(("#", "data:")), value
    assert not re.search(r"url\(|@import", page.inside["style"][0])
    assert not re.search(r"fetch\(|XMLHttp|import\(|eval\(|innerHTML", page.inside["script"][-1])


def test_policy_allows_the_page_itself_and_nothing_else(demo_report: Report) -> None:
    """The policy names the hash of the page's style and script, and no source outside."""
    page = Reader(demo_report.parts[".html"])
    (policy,) = (m["content"] for m in page.all("meta") if "http-equiv" in m)
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe" not in policy
    assert "http" not in policy
    for kind in ("style", "script"):
        digest = b64encode(sha256(page.inside[kind][-1].encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy
    assert len(page.inside["style"]) == 1
    assert [s.get("type") for s in page.all("script")] == ["application/json", None]


def test_says_what_the_assessment_says(demo_report: Report, demo: Assessment) -> None:
    """Every sentence, state, level and reading as written is on the page."""
    told = Reader(demo_report.parts[".html"]).text
    assert demo.words.title in told
    words, figures = demo.words, Figures(demo.book.units, 2)
    for sentence in (*words.summary, *words.alerts, *words.meaning, *words.advice, *words.limits):
        assert re.sub(r"\s+", " ", sentence) in told
    for station in demo.levels.stations.values():
        assert figures.level(station.level) in told
    for finding in demo.findings:
        assert finding.title in told
        assert finding.state in told


def test_can_be_read_without_eyes(demo_report: Report) -> None:
    """Language, landmarks, one first heading, named tables with scopes, named drawings."""
    page = Reader(demo_report.parts[".html"])
    tags = [tag for tag, _ in page.elements]
    assert page.all("html")[0]["lang"] == "en"
    assert [tags.count(t) for t in ("h1", "main", "nav", "header", "footer")] == [1, 1, 1, 1, 1]
    assert page.all("a")[0] == {"class": "skip", "href": "#report"}
    ids = [a["id"] for _, a in page.elements if "id" in a]
    assert len(ids) == len(set(ids))
    for section in page.all("section"):
        assert section["aria-labelledby"] in ids
    assert tags.count("caption") == tags.count("table") > 5
    assert all("scope" in th for th in page.all("th"))
    assert tags.count("title") >= 1 + 2 * 5
    (panel,) = (a for a in page.all("aside"))
    assert panel["aria-live"] == "polite"
    levels = [int(t[1]) for t in tags if re.fullmatch(r"h[1-6]", t)]
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_every_station_can_be_chosen(demo_report: Report, demo: Assessment) -> None:
    """The plan has every station twice (desk and phone), and the data tells each of them."""
    page = Reader(demo_report.parts[".html"])
    chosen = [a["data-id"] for t, a in page.elements if t == "g" and a.get("class") == "station"]
    told = json.loads(page.inside["script"][0])["stations"]
    assert sorted(chosen) == sorted([s.id for s in demo.book.stations] * 2)
    assert set(told) == {s.id for s in demo.book.stations}
    written = {r["steps"][0][1] for s in told.values() for r in s["readings"]}
    assert written == {r.value for r in demo.book.readings}
    struck = [r for s in told.values() for r in s["readings"] if r["struck"]]
    assert len(struck) == sum(r.struck for r in demo.book.readings) > 0


def test_the_record_can_be_saved_from_the_page(demo_report: Report, demo: Assessment) -> None:
    """The page carries the level-book document byte for byte."""
    links = {
        a["download"]: a["href"]
        for a in Reader(demo_report.parts[".html"]).all("a")[1:]
        if "download" in a
    }
    kept = b64decode(links["level-book.json"].removeprefix("data:application/json;base64,"))
    assert kept == write_book(demo.book).encode()
    assert json.loads(b64decode(links["assessment.json"].partition(",")[2])) == json.loads(
        demo_report.parts[".json"]
    )
