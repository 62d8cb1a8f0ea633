"""The firm's name and logo on the first page, with words for who does not see it."""

import io
from collections.abc import Callable
from hashlib import sha256
from typing import Any

import pikepdf
import pytest
from PIL import Image

from levelbook.findings.model import Assessment
from levelbook.report import FirmMark, build

Invent = Callable[..., dict[str, Any]]
Judge = Callable[[dict[str, Any]], Assessment]
NAME = '<b>Marl & "Sons"</b>'


def picture(kind: str, mode: str = "RGBA") -> bytes:
    """Return a small logo."""
    data = io.BytesIO()
    Image.new(mode, (60, 20), (20, 90, 120, 0)[: len(mode)]).save(data, kind)
    return data.getvalue()


def images(pdf: bytes) -> list[tuple[int, int]]:
    """Return the sizes of the pictures in a PDF, their masks left out."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        streams = [o for o in opened.objects if isinstance(o, pikepdf.Stream)]
        found = [o for o in streams if o.get("/Subtype") == "/Image"]
        masks = [o.SMask.objgen for o in found if "/SMask" in o]
        return [(int(o.Width), int(o.Height)) for o in found if o.objgen not in masks]


def alts(pdf: bytes) -> list[str]:
    """Return the words that stand for pictures in a PDF."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        told = [o.get("/Alt") for o in opened.objects if isinstance(o, pikepdf.Dictionary)]
        return [str(alt) for alt in told if alt is not None]


@pytest.mark.parametrize(("kind", "mode"), [("PNG", "RGBA"), ("JPEG", "RGB")])
def test_the_book_names_its_firm_and_logo(
    invent: Invent, judge: Judge, kind: str, mode: str
) -> None:
    """A logo of the book stands once, on the first page, and not among the photographs."""
    logo = picture(kind, mode)
    document = invent(12)
    document["visit"]["firm"] = NAME
    digest = sha256(logo).hexdigest()
    document["photos"] = [{"id": "logo1", "sha256": digest, "name": "l", "of": "logo"}]
    report = build(judge(document), photos={digest: logo}, formats=("pdf", "html"))
    assert images(report.parts[".pdf"]) == [(60, 20)]
    assert f"Logo of {NAME}" in alts(report.parts[".pdf"])
    page = report.parts[".html"].decode()
    assert page.count("<img ") == 1
    assert 'alt="Logo of &lt;b&gt;Marl &amp; &quot;Sons&quot;&lt;/b&gt;"' in page
    assert "N. Obody, &lt;b&gt;Marl" in page
    assert 'id="photos"' not in page


def test_a_mark_that_is_given_comes_before_the_books(invent: Invent, judge: Judge) -> None:
    """Who hands the report over may be told beside the book."""
    assessment = judge(invent(12))
    mark = FirmMark("Marl and Sons", picture("PNG"))
    report = build(assessment, firm=mark, formats=("pdf", "html"))
    assert "Logo of Marl and Sons" in alts(report.parts[".pdf"])
    assert "N. Obody, Marl and Sons" in report.parts[".html"].decode()
    again = build(assessment, firm=mark, formats=("pdf",))
    assert again.parts[".pdf"] == report.parts[".pdf"]


@pytest.mark.parametrize(
    "logo", [picture("PNG")[:60], b"<svg onload='x'/>", b""], ids=["damaged", "svg", "none"]
)
def test_a_logo_that_cannot_be_shown_is_left_out(invent: Invent, judge: Judge, logo: bytes) -> None:
    """A damaged logo, or one of another kind, does not keep the report from being made."""
    report = build(judge(invent(12)), firm=FirmMark("Marl", logo), formats=("pdf",))
    assert images(report.parts[".pdf"]) == []


def test_a_logo_that_was_altered_is_not_shown(invent: Invent, judge: Judge) -> None:
    """Only the picture that the book names by its digest is the logo."""
    document = invent(12)
    digest = sha256(b"as it was").hexdigest()
    document["photos"] = [{"id": "logo1", "sha256": digest, "name": "l", "of": "logo"}]
    report = build(judge(document), photos={digest: picture("PNG")}, formats=("pdf",))
    assert images(report.parts[".pdf"]) == []
