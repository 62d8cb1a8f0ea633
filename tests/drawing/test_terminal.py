"""The plan and a profile as text."""

import pytest
from drawing_houses import (
    L_SHAPE,
    LONG_THIN,
    RECTANGLE,
    Plot,
    area,
    dish,
    dome,
    full_house,
    house,
    line_profile,
    tilted,
)

from levelbook.book.model import Units
from levelbook.drawing import text_plan, text_profile
from levelbook.drawing.terminal import SHADES

UNITS = Units(level="in", plan="ft")


@pytest.mark.parametrize("width", [40, 78, 120])
@pytest.mark.parametrize("unicode", [True, False])
@pytest.mark.parametrize("outline", [RECTANGLE, L_SHAPE, LONG_THIN])
def test_lines_are_no_wider_than_asked(outline, unicode, width):
    """Every line fits, the legend's as well, and ASCII is ASCII where asked."""
    said = text_plan(house([Plot(area("house", outline))], [40]), width, unicode=unicode)
    plan_part = said.split("\n\n")[0]
    assert max(map(len, plan_part.splitlines())) <= width
    assert unicode or said.isascii()


def test_shades_go_from_low_to_high():
    """A floor that falls up the sheet has fuller shades at the top."""
    said = text_plan(house([Plot(area("house", RECTANGLE), tilted)], [12]), 60)
    rows = said.split("\n\n")[0].splitlines()
    rank = {shade: k for k, shade in enumerate(SHADES[0])}
    first = [rank[c] for c in rows[1] if c in rank]
    last = [rank[c] for c in rows[-2] if c in rank]
    assert sum(first) / len(first) < sum(last) / len(last)


def test_high_low_and_zero_are_shown_and_told():
    """The signs stand on the plan and the figures below it with their uncertainty."""
    parts = house([Plot(area("house", RECTANGLE), dish)], [40])
    shape = parts.floor.areas["house"]
    said = text_plan(parts)
    drawn = said.split("\n\n")[0]
    assert drawn.count("L") == 1
    assert drawn.count("H") == 1
    assert drawn.count("0") == 1
    assert f"Highest in house: station {shape.range.high}, " in said
    assert "±" in said.splitlines()[-1]


def test_an_own_zero_has_letters_of_its_own():
    """A floor that hangs on another zero is shown in letters and said not to compare."""
    said = text_plan(full_house())
    assert "of garage, own zero, not to be compared" in said
    letters = set("abcdef") & set(said.split("\n\n")[0])
    assert letters


@pytest.mark.parametrize("height", [dome, dish, tilted])
@pytest.mark.parametrize("unicode", [True, False])
def test_profile_fits_and_shows_the_floor(height, unicode):
    """The floor has a mark in every column, and every line fits."""
    line = line_profile(Plot(area("house", RECTANGLE), height), ((1, 15), (47, 15)))
    said = text_profile(line, UNITS, 60, unicode=unicode)
    dot, edge = ("●", "│") if unicode else ("o", "|")
    rows = [row.split(edge)[1] for row in said.splitlines()[:-1]]
    columns = {k for row in rows for k, char in enumerate(row) if char == dot}
    assert max(map(len, said.splitlines())) <= 60
    assert columns == set(range(max(columns) + 1))
    assert unicode or said.isascii()


def test_a_hog_rises_above_its_chord():
    """In the middle the floor stands above the chord for a hog, below for a sag."""
    for height, above in ((dome, True), (dish, False)):
        line = line_profile(Plot(area("house", RECTANGLE), height), ((1, 15), (47, 15)))
        rows = text_profile(line, UNITS, 60).splitlines()
        middle = [row[32] if len(row) > 32 else " " for row in rows[:-1]]
        assert (middle.index("●") < middle.index("-")) == above
