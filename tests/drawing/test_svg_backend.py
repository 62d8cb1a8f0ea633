"""SVG: well formed, escaped, small, the same for every reader, and told to those who tap."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from drawing_houses import L_SHAPE, Plot, area, full_house, house
from hypothesis import given
from hypothesis import strategies as st

from levelbook.drawing import plan, to_svg
from levelbook.drawing.backend import Collector, draw
from levelbook.drawing.records import (
    Circle,
    Drawing,
    Fill,
    Group,
    Line,
    Path,
    Pen,
    Polygon,
    Text,
    flatten,
)

SVG = "{http://www.w3.org/2000/svg}"
PEN = Pen("#112233", 0.2)


def parsed(svg: str) -> ElementTree.Element:
    """Return the root of an SVG, which thereby is well-formed XML."""
    return ElementTree.fromstring(svg)


def small(*items: object) -> Drawing:
    """Return a drawing of the given records."""
    return Drawing(50.0, 40.0, items, "A title", "In words.")  # type: ignore[arg-type]


def test_root_tells_size_role_title_and_words():
    """The root has millimetres, a role, a title and a description."""
    root = parsed(to_svg(small(Line((1, 2), (3, 4), PEN)), title="Mine", desc="Told <so>"))
    assert root.attrib["width"] == "50mm"
    assert root.attrib["viewBox"] == "0 0 50 40"
    assert root.attrib["role"] == "img"
    assert root.findtext(f"{SVG}title") == "Mine"
    assert root.findtext(f"{SVG}desc") == "Told <so>"


def test_every_shape_is_written():
    """Each kind of record becomes its element with its own numbers."""
    run = np.array([[0.0, 0.0], [1.5, 0.25], [2.0, 2.0]])
    drawing = small(
        Line((1, 2), (3, 4.5), PEN, "a"),
        Path((run,), Pen("#000000", 0.1, (1.0, 0.5), "round", 0.5)),
        Polygon((run, run + 5), Fill("#ff0000", 0.5), PEN),
        Circle((5, 5), 1.25, None, PEN),
        Text((7, 8), "hello", 2.5, "#000000", 600, "middle", 30.0),
    )
    body = to_svg(drawing)
    assert '<line x1="1" y1="2" x2="3" y2="4.5" class="a"' in body
    assert 'd="M0 0l1.5 0.25 0.5 1.75"' in body
    assert 'stroke-dasharray="1 0.5" stroke-linecap="round"' in body
    assert 'd="M0 0l1.5 0.25 0.5 1.75zM5 5l1.5 0.25 0.5 1.75z" fill-rule="evenodd"' in body
    assert '<circle cx="5" cy="5" r="1.25" fill="none"' in body
    assert 'transform="rotate(30 7 8)"' in body
    assert parsed(body) is not None


def test_neighbours_drawn_alike_share_a_group():
    """Style is written once for a run of shapes drawn alike."""
    body = to_svg(small(*(Circle((k, k), 0.5, Fill("#123456")) for k in range(20))))
    assert body.count("#123456") == 1
    assert body.count("<circle") == 20


@given(st.text(max_size=60))
def test_any_text_stays_text(words):
    """Whatever a text says, it comes out as text and never as markup."""
    body = to_svg(small(Text((1, 1), words, 2.5, "#000000")), title=words, desc=words)
    root = parsed(body)
    assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {"svg", "title", "desc", "text"}


def test_markup_in_names_is_escaped():
    """Script in every place a person can write stays a string of letters."""
    words = '<script>alert("1")</script>&'
    parts = full_house(
        marks=[{"kind": "other", "at": (10, 20), "label": words}],
        sections=[{"id": words, "line": ((1, 30), (53, 30))}],
        label=words,
    )
    body = to_svg(plan(parts, width_mm=190, height_mm=240), interactive=True)
    assert "<script" not in body
    assert not [e for e in parsed(body).iter() if "script" in e.tag]
    assert any(words in (e.text or "") for e in parsed(body).iter())


def test_nothing_that_readers_treat_differently():
    """No style sheet, foreign object, clipping, baseline trick or link outside."""
    body = to_svg(plan(full_house(), width_mm=190, height_mm=240), interactive=True)
    for word in ("<style", "style=", "foreignObject", "clip-path", "baseline", "href", "url("):
        assert word not in body


def test_no_text_uses_a_character_the_typeface_lacks():
    """Our own words are written in the typeface; symbols are shapes."""
    from levelbook.drawing.metrics import missing

    for kind in ("levels", "error", "deflection"):
        for text in flatten(plan(full_house(), kind=kind, width_mm=190).items):
            if isinstance(text, Text):
                assert missing(text.text) == frozenset(), text.text


def test_numbers_have_two_decimals_at_most():
    """Coordinates are written to a hundredth of a millimetre."""
    body = to_svg(plan(full_house(), width_mm=190, height_mm=240))
    assert re.search(r"[\d]\.\d{3}", re.sub(r"<(title|desc)>.*?</\1>|>[^<]*<", "><", body)) is None


@pytest.mark.parametrize("kind", ["levels", "error", "deflection"])
def test_a_large_house_stays_small(kind):
    """A plan of 150 stations is written in 150 kB or less, tap targets included."""
    parts = house([Plot(area("house", L_SHAPE))], [150])
    drawing = plan(parts, kind=kind, width_mm=190, height_mm=240)
    assert len(to_svg(drawing, interactive=True).encode()) <= 150_000


def test_stations_answer_a_tap():
    """Interactive drawings give every station its id, values, a place in the tab order."""
    parts = full_house()
    root = parsed(to_svg(plan(parts, width_mm=190, height_mm=240), interactive=True))
    groups = [e for e in root.iter(f"{SVG}g") if e.get("class") == "station"]
    assert [g.get("data-id") for g in groups] == [s.id for s in parts.book.stations]
    for group in groups:
        assert group.get("tabindex") == "0"
        assert group.get("aria-label", "").startswith(f"Station {group.get('data-id')}")
        assert any(e.get("class") == "hit" for e in group)
        level = parts.levels.stations.get(group.get("data-id", ""))
        if level is not None:
            assert float(group.get("data-level", "nan")) == pytest.approx(level.level, abs=0.006)


def test_print_has_no_tap_targets():
    """Without interaction there are no groups of stations and no hidden circles."""
    body = to_svg(plan(full_house(), width_mm=190, height_mm=240))
    assert "tabindex" not in body
    assert 'class="hit"' not in body


def test_printable_replaces_what_the_typeface_lacks():
    """For print a character without a glyph becomes a question mark, elsewhere it stays."""
    drawing = small(Text((1, 1), "oak 🌳", 2.5, "#000000"))
    assert "oak ?" in to_svg(drawing, printable=True)
    assert "oak 🌳" in to_svg(drawing)


def test_fitted_text_keeps_its_width():
    """Where another typeface may stand in, each text is held to the width it was given."""
    text = Text((1, 1), "−0.85", 2.3, "#000000")
    found = re.search(r'textLength="([\d.]+)"', to_svg(small(text), fitted=True))
    assert found is not None
    assert float(found[1]) == pytest.approx(text.width, abs=0.006)
    assert "textLength" not in to_svg(small(text))


def test_full_words_of_a_cut_label_can_be_read():
    """A label that was cut keeps its full words in the title of an interactive drawing."""
    words = "the place where the old patio door used to be before the extension"
    parts = full_house(marks=[{"kind": "other", "at": (10, 20), "label": words}])
    body = to_svg(plan(parts, width_mm=190, height_mm=240), interactive=True)
    assert f"<title>{words}</title>" in body


def test_collector_sees_what_svg_writes():
    """The collecting backend is handed the same shapes and groups."""
    inner = Circle((1, 1), 1.0, role="x")
    items = (Line((0, 0), (1, 1), PEN), Group((inner, Text((0, 0), "t", 2, "#000000")), "station"))
    seen = Collector()
    draw(items, seen)
    assert [type(s).__name__ for s in seen.shapes] == ["Line", "Circle", "Text"]
    assert seen.by_role("x") == [inner]
    assert [t.text for t in seen.texts()] == ["t"]
    assert len(seen.groups) == 1
