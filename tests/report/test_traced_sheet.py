"""The picture that a plan was traced from is kept in the record and left out of the report."""

import io
from collections.abc import Callable
from hashlib import sha256
from typing import Any

import pytest
from PIL import Image

from levelbook.findings.model import Assessment
from levelbook.report import build

Invent = Callable[..., dict[str, Any]]
Judge = Callable[[dict[str, Any]], Assessment]
LIES = {"at": [5, 5], "size": [400, 300], "per": 0.05, "turned": 0}


def picture(shade: int) -> bytes:
    """Return a small picture of one shade."""
    data = io.BytesIO()
    Image.new("L", (40, 30), shade).save(data, "JPEG")
    return data.getvalue()


def page(judge: Judge, document: dict[str, Any], *pictures: bytes) -> str:
    """Return the report's page."""
    photos = {sha256(data).hexdigest(): data for data in pictures}
    return build(judge(document), photos=photos, formats=("html",)).parts[".html"].decode()


def test_a_traced_sheet_is_no_photograph_of_the_house(invent: Invent, judge: Judge) -> None:
    """It is not shown and not listed, while the photograph beside it is; the record keeps both."""
    crack, sheet = picture(90), picture(200)
    document = invent(12)
    document["photos"] = [
        {"id": "p1", "sha256": sha256(crack).hexdigest(), "name": "crack.jpg"},
        {"id": "sheet1", "sha256": sha256(sheet).hexdigest(), "name": "sketch.jpg", "of": "sheet",
         "extra": {"sheet": LIES}},
    ]  # fmt: skip
    found = page(judge, document, crack, sheet)
    assert found.count('src="data:image/jpeg') == 1
    assert "crack.jpg" in found
    assert "sketch.jpg" not in found
    assert [photo.id for photo in judge(document).book.photos] == ["p1", "sheet1"]


def test_a_sheet_alone_makes_no_section(invent: Invent, judge: Judge) -> None:
    """Without other photographs the report has none."""
    sheet = picture(200)
    document = invent(12)
    digest = sha256(sheet).hexdigest()
    document["photos"] = [
        {"id": "s", "sha256": digest, "name": "s.jpg", "of": "sheet", "extra": {"sheet": LIES}}
    ]
    assert 'id="photos"' not in page(judge, document, sheet)


@pytest.mark.parametrize("more", [{}, {"extra": {"mine": 1}}, {"extra": None}])
def test_what_only_sounds_like_a_sheet_is_shown(
    invent: Invent, judge: Judge, more: dict[str, Any]
) -> None:
    """A photograph of something called ``sheet`` stands in the report as any other."""
    shot = picture(120)
    document = invent(12)
    digest = sha256(shot).hexdigest()
    document["photos"] = [{"id": "p", "sha256": digest, "name": "p.jpg", "of": "sheet", **more}]
    assert 'id="photos"' in page(judge, document, shot)
