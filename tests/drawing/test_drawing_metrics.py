"""Widths of text against the typeface, as another reader of it measures them."""

from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont

from levelbook.drawing import metrics

NAMES = {400: "Regular", 500: "Medium", 600: "SemiBold"}


def measured(text: str, weight: int) -> float:
    """Return the width in em that FreeType finds, glyph by glyph, so without kerning."""
    path = files("fontpkg_fira_sans") / "files" / f"FiraSans-{NAMES[weight]}.ttf"
    font = ImageFont.truetype(str(path), 1000, layout_engine=ImageFont.Layout.BASIC)
    return sum(font.getlength(char) for char in text) / 1000


@pytest.mark.parametrize("weight", NAMES)
@pytest.mark.parametrize("text", ["−0.85", "0.31 ± 0.10 ?", "Rear wall, 12 ft", "Größe ½ · °"])
def test_widths_are_those_of_the_typeface(text, weight):
    """Our reading of the tables gives the widths that FreeType gives."""
    assert metrics.em_width(text, weight) == pytest.approx(measured(text, weight), abs=0.002)


def test_missing_characters_are_known():
    """The typeface lacks these, and has the ones that levels are written with."""
    assert metrics.missing("′″▲△▼●○□✓↘") == frozenset("′″▲△▼●○□✓↘")
    assert metrics.missing("−+±0123456789.–…·°’%") == frozenset()


def test_strange_characters_are_taken_wide():
    """Characters that another typeface will draw get more room than ours would."""
    assert metrics.em_width("🏠") > metrics.em_width("W")
    assert metrics.em_width("漢") > metrics.em_width("W")
    assert metrics.em_width("م") > metrics.em_width("n")


@given(st.text(max_size=60), st.floats(3, 60))
def test_shortened_text_fits(text, limit):
    """A shortened text is no wider than asked, or is the ellipsis alone."""
    said = metrics.shorten(metrics.clean(text), 2.5, limit)
    assert metrics.width(said, 2.5) <= limit + 1e-9 or said == "…"


@given(st.text(alphabet="abc XYZ9−", max_size=80), st.floats(8, 60))
def test_wrapped_text_keeps_its_words(text, limit):
    """Lines are no wider than asked, and the words come in order; long ones may be cut."""
    lines = metrics.wrap(metrics.clean(text), 2.5, limit)
    assert all(metrics.width(line, 2.5) <= limit + 1e-9 for line in lines)
    if not any("…" in line for line in lines):
        assert " ".join(lines).split() == text.split()


def test_no_break_spaces_hold():
    """What a no-break space joins stays on one line."""
    assert (
        "1\u00a0in\u00a0360" in metrics.wrap("deflection ratio 1\u00a0in\u00a0360", 2.5, 20.0)[-1]
    )


@given(st.text(max_size=80))
def test_clean_text_is_one_line_that_xml_allows(text):
    """Cleaning leaves one line without anything XML forbids, and is settled after once."""
    said = metrics.clean(text)
    assert said == metrics.clean(said)
    assert not any(ord(c) < 32 or 0xD800 <= ord(c) <= 0xDFFF or c in "\ufffe\uffff" for c in said)


def test_digits_take_less_room_than_letters():
    """Figures have no descenders, so their room is lower."""
    assert sum(metrics.extent("−0.85")) < sum(metrics.extent("gap"))
