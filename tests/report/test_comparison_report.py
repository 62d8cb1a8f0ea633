"""The comparison's files: the report, the builder's one page, the web page, the result."""

import io
import json
from dataclasses import replace
from functools import cache

import pikepdf
import pypdfium2
import pytest

from levelbook.book import digest, read_book
from levelbook.book.model import Book, Section
from levelbook.demo import house
from levelbook.errors import UsageError
from levelbook.findings.compared import compare_document
from levelbook.findings.comparison import comparison_words
from levelbook.levels import reduce
from levelbook.movement import Visit, compare
from levelbook.movement.series import follow
from levelbook.report.comparison import ComparisonSource, build_comparison


def again(book: Book, day: str, drop: float) -> Book:
    """Return the demo house read again with its first station's corner lower by ``drop``."""
    corner = book.stations[0].at
    near = {s.id for s in book.stations if abs(s.at[0] - corner[0]) + abs(s.at[1] - corner[1]) < 9}
    readings = tuple(
        r.model_copy(update={"value": f"{float(r.value) - drop:.2f}"})
        if r.station in near and "/" not in r.value
        else r
        for r in book.readings
    )
    visit = book.visit.model_copy(update={"date": day, "purpose": "repeat"})
    return book.model_copy(update={"readings": readings, "visit": visit})


@cache
def source(visits: int = 2) -> ComparisonSource:
    """Return a comparison of the demo house with itself some months later."""
    book = read_book(house())
    section = Section(id="A", line=((0.0, 6.0), (30.0, 6.0)))
    book = book.model_copy(update={"sections": (section,)})
    year = int(book.visit.date[:4])
    days = [f"{year + 1}-03-01", f"{year + 1}-09-01", f"{year + 2}-03-01", f"{year + 2}-09-01"]
    books = [book, *(again(book, days[k], 0.6) for k in range(visits - 1))]
    seen = [Visit(b, reduce(b)) for b in books]
    series = follow(seen) if visits > 2 else None
    found = series.whole if series else compare(seen[0], seen[1])
    words = comparison_words(found)
    return ComparisonSource(
        found, words, compare_document(found, words.caveats, series=series), series
    )


@cache
def files(visits: int = 2) -> dict[str, bytes]:
    """Return the files of the comparison's report."""
    return build_comparison(source(visits))


def pages(data: bytes) -> list[str]:
    """Return the text of every page, line breaks as spaces."""
    document = pypdfium2.PdfDocument(data)
    texts = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    document.close()
    return texts


def test_statement_and_limits_stand_on_the_first_page() -> None:
    """The first page says what changed and what cannot be told, word for word."""
    first = pages(files()[".pdf"])[0]
    words = source().words
    assert all(" ".join(sentence.split()) in first for sentence in words.statement)
    assert all(" ".join(sentence.split()) in first for sentence in words.caveats)


def test_every_place_stands_in_the_report() -> None:
    """The table holds every place read on both visits."""
    every = " ".join(pages(files()[".pdf"]))
    assert all(station in every for station in source().comparison.movements.stations)


@pytest.mark.parametrize("visits", [2, 5])
def test_builders_page_is_one_page_with_all_it_needs(visits: int) -> None:
    """Facts with errors, method, limits, terms and both fingerprints, on a single page."""
    told = pages(files(visits)["-builder.pdf"])
    assert len(told) == 1
    found = source(visits).comparison
    for visit in (found.earlier, found.later):
        assert " ".join(digest(visit.book)[i : i + 4] for i in range(0, 24, 4)) in told[0]
    assert "terms of the warranty" in told[0]
    assert "No bench mark outside the house" in told[0]
    assert "±" in told[0]


def test_builders_page_stays_one_page_when_much_is_to_be_said() -> None:
    """With every kind of caveat at once the text is smaller, and the page is still one."""
    full = source()
    many = tuple(f"{sentence} Said again: {sentence}" for sentence in full.words.caveats)
    told = pages(
        build_comparison(replace(full, words=replace(full.words, caveats=many)))["-builder.pdf"]
    )
    assert len(told) == 1
    assert "Said again" in told[0]


def test_records_inside_read_back_byte_for_byte() -> None:
    """Both books and the result lie inside the PDF, as they were."""
    found = source().comparison
    with pikepdf.open(io.BytesIO(files()[".pdf"])) as pdf:
        inside = {name: pdf.attachments[name].get_file().read_bytes() for name in pdf.attachments}
    assert digest(read_book(inside["level-book-earlier.json"])) == digest(found.earlier.book)
    assert digest(read_book(inside["level-book-later.json"])) == digest(found.later.book)
    assert inside["comparison.json"] == files()[".json"]


def test_a_seal_of_another_book_is_refused() -> None:
    """A comparison carries a seal beside the book that it is of, and no other."""
    wrong = replace(source(), seals=(None, {"digest": "0" * 64}))
    with pytest.raises(UsageError, match="seal later: the seal is of another book"):
        build_comparison(wrong)


def test_same_comparison_gives_the_same_bytes() -> None:
    """Nothing of the day or the machine enters a file."""
    assert build_comparison(source()) == files()


def test_page_names_no_address_and_tells_the_same() -> None:
    """The web page has no script, no address, and the sentences of the PDF."""
    html = files()[".html"].decode()
    assert "<script" not in html
    assert "http" not in html.replace("http-equiv", "").replace("http://www.w3.org/2000/svg", "")
    from_words = source().words.statement[0].split(",")[0]
    assert from_words.replace("’", "&#x27;") in html or from_words in html


def test_result_names_program_format_and_both_records() -> None:
    """The JSON carries what every result carries, and the keys of a comparison."""
    told = json.loads(files()[".json"])
    found = source().comparison
    assert told["format"] == "levelbook/1"
    assert told["program"].startswith("levelbook ")
    assert told["sha256"] == [digest(found.earlier.book), digest(found.later.book)]
    for key in (
        *("matched", "datum", "congruence", "stations"),
        *("tilt_change", "deflection_change", "range_change", "caveats"),
    ):
        assert told[key] is not None
    assert {"statistic", "rank", "limit", "p", "moved"} <= set(told["congruence"])
    station = next(iter(told["stations"].values()))
    assert {"moved", "sd", "least_detectable", "significant"} <= set(station)
    assert all(
        {"value", "sd", "significant"} <= set(told[f"{k}_change"]) for k in ("tilt", "range")
    )


def test_series_stands_in_report_and_result() -> None:
    """With more visits there are lines with their errors, and no forecast."""
    every = " ".join(pages(files(5)[".pdf"]))
    assert "They are no forecast" in every
    told = json.loads(files(5)[".json"])["series"]
    assert len(told["years"]) == 5
    assert told["tilt"]["x"]["trend"]["rate_sd"] > 0
