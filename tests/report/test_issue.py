"""An issue of a report: its name on every page, its notes in a section, nothing without one."""

import io

import pikepdf
import pypdfium2
import pytest

from levelbook.findings.model import Assessment
from levelbook.report import Issue, Report, build

NOTES = ("The level was due for a check on 2026-01-05.", "It replaces issue 1: <b>typing</b>.")
ISSUE = Issue("2026-0014, issue 2", NOTES)


@pytest.fixture(scope="module")
def issued(sample: Assessment) -> Report:
    """Give the sample's report as the second issue of a number."""
    return build(sample, formats=("pdf", "html"), issue=ISSUE)


def texts(pdf: bytes) -> list[str]:
    """Return the text of every page."""
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_bounded() for page in document]


def test_the_issue_stands_on_every_page(issued: Report) -> None:
    """A page that was taken out of its report still tells which issue it is from."""
    pages = texts(issued.parts[".pdf"])
    assert len(pages) == len(pikepdf.open(io.BytesIO(issued.parts[".pdf"])).pages) > 2
    assert [n for n, page in enumerate(pages) if ISSUE.name not in page] == []


def test_the_notes_are_told_as_text(issued: Report) -> None:
    """Each note is in both files as it was given, and none as markup."""
    whole = " ".join(" ".join(texts(issued.parts[".pdf"])).split())
    html = issued.parts[".html"].decode()
    for note in NOTES:
        assert note in whole
    assert "It replaces issue 1: &lt;b&gt;typing&lt;/b&gt;." in html
    assert html.count('id="issue"') == 1


def test_without_an_issue_nothing_is_said_of_one(sample: Assessment) -> None:
    """A report that is no issue has neither the section nor a name on its pages."""
    html = build(sample, formats=("html",)).parts[".html"].decode()
    assert 'id="issue"' not in html
    assert "issue 2" not in html
